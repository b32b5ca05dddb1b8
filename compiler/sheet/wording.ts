/** The words for findings about a sheet's file and about tables of numbers beside it. */

type Facts = Readonly<Record<string, string>>;

export interface Words {
  /** What is wrong. */
  readonly brief: string;
  /** What is wrong; what would mend it. */
  readonly full: string;
  /** A paragraph for somebody who meets it for the first time. */
  readonly help: string;
}

function words(brief: string, mend: string, help: string): Words {
  return { brief, full: `${brief}; ${mend}`, help };
}

/** A fact by its key; a finding that lacks it is our fault, not the reader's. */
function fact(facts: Facts, key: string): string {
  return facts[key] ?? '?';
}

/** Sentences by finding id. */
export const sheetWording: Readonly<Record<string, (facts: Facts) => Words>> = {
  sheet_empty: () =>
    words(
      'the file is empty',
      'take the last good copy, or start a new sheet',
      'A sheet is a JSON record. A program that stopped while it was saving may leave an empty file behind.',
    ),
  sheet_too_large: (facts) =>
    words(
      `the file has ${fact(facts, 'size')} million characters, and a sheet at most ${fact(facts, 'limit')} million`,
      'keep long tables of numbers in a CSV file beside the sheet',
      'Sheets are bounded so that opening one from somewhere else cannot stall the program. A sheet of 2,000 blocks needs about a fifth of the limit.',
    ),
  sheet_cut_short: (facts) =>
    words(
      `the file stops${facts.in === '' ? '' : ` inside ${fact(facts, 'in')}`}, before its last closing bracket`,
      'take the last good copy; what comes after this place is missing',
      'The text ends in the middle of a record, as it does when a download or a save was interrupted.',
    ),
  sheet_conflict: (facts) =>
    words(
      `two versions of this sheet were merged and this line (${fact(facts, 'mark')}) marks where they disagree`,
      'keep one of the two versions and delete the lines with <<<<<<<, ======= and >>>>>>>',
      'A version control system writes these lines when two people changed the same place. Every block and every wire has a line of its own, so what disagrees can be chosen line by line.',
    ),
  sheet_not_json: (facts) =>
    words(
      `here stands ${fact(facts, 'found')} where ${fact(facts, 'wanted')} belongs`,
      'see the line for a missing comma, quote or bracket just before this place',
      'A sheet is JSON: keys and texts in double quotes, entries separated by commas, none after the last, no comments.',
    ),
  sheet_too_deep: (facts) =>
    words(
      `records are nested more than ${fact(facts, 'limit')} deep`,
      'this is no sheet that this program wrote; take the last good copy',
      'A sheet is never nested more than a few records deep. Nesting is bounded so that a file from elsewhere cannot exhaust the reader.',
    ),
  sheet_not_record: () =>
    words(
      'the file is JSON, but not a record { … }',
      'open the sheet itself, NAME.sheet.json',
      'A sheet starts with { and a key "loopwright" that says which version of the format it is.',
    ),
  sheet_no_version: (facts) =>
    words(
      'the file has no key "loopwright" that says which version of the format it is',
      facts.near ? `call "${facts.near}" "loopwright"` : 'if it is a sheet, add "loopwright": 1',
      'A sheet starts with "loopwright" and the version of the format, so that older files can be brought up to date and newer ones are not misread.',
    ),
  sheet_bad_version: (facts) =>
    words(
      `"loopwright" is ${fact(facts, 'version')}, which is no version`,
      'versions are whole numbers from 1 on',
      'The version of the format counts up by one whenever the format changes.',
    ),
  sheet_newer: (facts) =>
    words(
      `the sheet is of version ${fact(facts, 'version')}, and this program knows versions up to ${fact(facts, 'known')}`,
      'open it with a newer Loopwright',
      'A newer program wrote this file. Reading it here could lose what this program does not know, so it is left alone.',
    ),
  sheet_too_many: (facts) =>
    words(
      `the sheet has ${fact(facts, 'count')} ${fact(facts, 'things')}, and at most ${fact(facts, 'limit')} may be there`,
      'split it into several sheets, and keep tables of numbers in CSV files',
      'Sheets are bounded so that opening one from somewhere else cannot stall the program.',
    ),
  duplicate_key: (facts) =>
    words(
      `"${fact(facts, 'key')}" stands here a second time; the first is in line ${fact(facts, 'line')}`,
      'rename or delete one of the two',
      'Things on a sheet are known by their names, so one name cannot stand for two. Most JSON readers would keep the last and silently lose the first.',
    ),
  reserved_name: (facts) =>
    words(
      `${fact(facts, 'name')} cannot be a name here`,
      'choose another',
      'A few words have a meaning of their own in the language this program is written in. They are refused as names so that no sheet can reach into the program.',
    ),
  bad_name: (facts) =>
    words(
      `${fact(facts, 'name')} is not ${fact(facts, 'wanted')}`,
      'rename it',
      'Names become parts of C names and of dotted paths, so they start with a letter and hold letters, digits and _ only.',
    ),
  unknown_key: (facts) =>
    words(
      `there is no key ${fact(facts, 'key')} here`,
      facts.near ? `"${facts.near}" may be meant` : `known are ${fact(facts, 'known')}`,
      'A key that nothing reads would be lost, or would be a setting that does not act. So every key is either known or an error.',
    ),
  missing_key: (facts) =>
    words(
      `"${fact(facts, 'key')}" is missing here`,
      `it is ${fact(facts, 'wanted')}`,
      'Without it, what this record describes has no meaning. The format is in compiler/sheet/sheet.ts and sheet.schema.json.',
    ),
  wrong_value: (facts) =>
    words(
      `here stands ${fact(facts, 'found')}`,
      `it should be ${fact(facts, 'wanted')}`,
      'The value is of a kind that nothing here can use. The format is in compiler/sheet/sheet.ts and sheet.schema.json.',
    ),
  csv_too_large: (facts) =>
    words(
      `${fact(facts, 'file')} has ${fact(facts, 'size')} million characters, and a table at most ${fact(facts, 'limit')} million`,
      'cut it to the part that is needed, or keep fewer digits',
      'Tables are bounded so that a file from elsewhere cannot stall the program.',
    ),
  csv_empty: (facts) =>
    words(
      `${fact(facts, 'file')} has no rows of numbers`,
      'its first line names the columns, and each line after it is a row',
      'A table is a CSV file: one line with the names of its columns, then a line of numbers a row, separated by commas.',
    ),
  csv_no_column: (facts) =>
    words(
      `${fact(facts, 'file')} has no column ${fact(facts, 'column')}`,
      facts.near ? `"${facts.near}" may be meant` : `it has ${fact(facts, 'known')}`,
      'Columns are known by the names in the first line of the file.',
    ),
  csv_twice: (facts) =>
    words(
      `${fact(facts, 'file')} has two columns called ${fact(facts, 'column')}`,
      'rename one of them',
      'Columns are known by the names in the first line of the file, so each name may stand there once.',
    ),
  csv_ragged: (facts) =>
    words(
      `${fact(facts, 'file')}, line ${fact(facts, 'line')} has ${fact(facts, 'count')} values, and the first line names ${fact(facts, 'wanted')}`,
      'give every row a value for every column',
      'A row that is too short or too long may have lost a value, and the others would then stand in the wrong columns.',
    ),
  csv_not_number: (facts) =>
    words(
      `${fact(facts, 'file')}, line ${fact(facts, 'line')}: ${fact(facts, 'column')} is ${fact(facts, 'found')}, which is no number`,
      'write numbers with a point, such as -0.25 or 1e-3, and nan where there is none',
      'Numbers are written with a decimal point and without units or thousands separators.',
    ),
  csv_backwards: (facts) =>
    words(
      `${fact(facts, 'file')}, line ${fact(facts, 'line')}: ${fact(facts, 'column')} goes back from ${fact(facts, 'before')} to ${fact(facts, 'found')}`,
      'sort the rows by time',
      'A row holds from its time until the next one, so times must not go back.',
    ),
};
