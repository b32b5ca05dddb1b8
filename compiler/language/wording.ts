/** What the language's findings say: what was being read, what stood there, and what usually mends it. */

/** One finding's words: one line, the whole sentence with its mending, and a paragraph of help. */
export interface Wording {
  readonly brief: string;
  readonly full: string;
  readonly help: string;
}

type Facts = Readonly<Record<string, string>>;

const perhaps = (nearest: string | undefined): string =>
  nearest === undefined || nearest === ''
    ? ''
    : ` Did you mean ${nearest
        .split(', ')
        .map((name) => `“${name}”`)
        .join(' or ')}?`;

/** Finding id → its words, from the finding's facts. */
export const languageWording: Readonly<Record<string, (facts: Facts) => Wording>> = {
  strange_character: ({ character, meant }) => ({
    brief: `“${character}” has no meaning here`,
    full: `I met the character “${character}”, which has no meaning in a block's text.${meant ? ` Write “${meant}”.` : ' Remove it.'}`,
    help: 'Texts use plain letters, digits and + - * / \\ ^ < > = ( ) [ ] , ; : ?. Typeset signs such as × or ² come in when text is copied from a document.',
  }),
  open_string: () => ({
    brief: 'words in quotes are not closed',
    full: 'These words begin with a quote, but the line ends before the closing one. Add " where they end.',
    help: 'Words in quotes stand on one line. A quote inside them is written \\".',
  }),
  open_bracket: ({ bracket }) => ({
    brief: `“${bracket}” is never closed`,
    full: `I went looking for the end of the “${bracket}” opened here and came to the next statement. Close it where it should end.`,
    help: 'A statement goes on over several lines while a bracket is open, so a bracket that is never closed swallows what follows.',
  }),
  text_too_long: ({ length, longest }) => ({
    brief: `the text has ${length} characters, more than ${longest}`,
    full: `This text has ${length} characters; I read at most ${longest}. Draw it as a group of smaller blocks.`,
    help: 'A block is a few equations. The bound keeps a text from elsewhere from holding up the editor.',
  }),
  unexpected: ({ wanted, where, found }) => ({
    brief: `expected ${wanted}, found ${found}`,
    full: `I was reading ${where} and expected ${wanted}, but found ${found}.`,
    help: 'The statement is shown as far as it could be read; what stands at the marked place does not continue it.',
  }),
  missing_sign: ({ right }) => ({
    brief: `a sign is missing before “${right}”`,
    full: `The expression was complete when “${right}” came. If a product is meant, write * between the two.`,
    help: 'Only a number and its unit stand side by side, as in 2 m/s. Every other product is written with *.',
  }),
  unknown_unit: ({ unit, nearest }) => ({
    brief: `“${unit}” is not a unit`,
    full: `A unit was expected here, and “${unit}” is not one.${perhaps(nearest)} If it is a quantity, write * before it.`,
    help: 'Units are SI symbols with the usual prefixes, and deg, rev, rpm, min, h, L, bar, eV, percent, count. Factors are parted by a space: N m. A single capital that is no unit stands for a unit that the wires decide.',
  }),
  unknown_mode: ({ name, nearest }) => ({
    brief: `“${name}” is none of this block’s modes`,
    full: `“${name}” is none of this block’s modes.${perhaps(nearest)} A mode is listed after “mode”.`,
    help: 'A block lists its modes in one line, “mode off, on”; the first is the one it starts in.',
  }),
  undeclared_unit_letter: ({ letter }) => ({
    brief: `nothing here has the unit “${letter}”`,
    full: `A number is given in “${letter}”, but no input, output or setting of this block has that unit letter. Declare one with it, or write * before “${letter}” if it is a quantity.`,
    help: 'A unit letter stands for a unit that the wires and the settings decide, so something wired or set must carry it.',
  }),
  bad_unit_power: ({ found, highest }) => ({
    brief: `“${found}” is not a power of a unit`,
    full: `Powers of units are whole numbers from 1 to ${highest}, perhaps with a minus; I found “${found}”. To raise a quantity, put it in brackets: (2 m)^n.`,
    help: 'The ^ after a unit belongs to the unit: 2 m^2 is two square metres.',
  }),
  number_in_unit: ({ number }) => ({
    brief: `the number “${number}” cannot stand in a unit`,
    full: `A unit may begin with 1, as in 1/s, but with no other number; I found “${number}”. Put the number into the equations.`,
    help: 'A declared unit says what is measured, not how large it is.',
  }),
  unit_too_long: ({ longest }) => ({
    brief: `a unit has more than ${longest} factors`,
    full: `I read at most ${longest} factors in one unit. Use the derived units, such as N for kg m/s^2.`,
    help: 'No quantity of mechanics, electricity or heat needs more.',
  }),
  number_out_of_range: ({ number }) => ({
    brief: `“${number}” is too large or too long`,
    full: `The number “${number}” does not fit a double, which ends near 1.8e308, or is written with more digits than I read (120).`,
    help: 'Write unlimited where no bound is meant.',
  }),
  chained_comparison: ({ first, second }) => ({
    brief: `two comparisons in a row, “${first}” and “${second}”`,
    full: `“a ${first} b ${second} c” would compare an answer, true or false, with a number. Write “a ${first} b and b ${second} c”.`,
    help: 'Each comparison stands alone and they are joined by and, so that everyone reads them the same way.',
  }),
  uneven_matrix: ({ first, other }) => ({
    brief: `rows of ${first} and of ${other} in one matrix`,
    full: `The first row of this matrix has ${first} entries and another has ${other}. Every row needs as many. Commas part entries, semicolons part rows.`,
    help: '[a, b; c, d] has two rows; [a, b] alone is a column vector.',
  }),
  too_many_indices: ({ count }) => ({
    brief: `${count} indices; there are rows and columns only`,
    full: `I found ${count} sizes or indices. A vector has one, a matrix two.`,
    help: 'Quantities are scalars, vectors and matrices. Indices count from 1.',
  }),
  is_without_name: () => ({
    brief: '“is” asks the kind of one named input',
    full: '“is” needs the name of one element on its left, as in “t is "-"” inside “[… for t in terms]”.',
    help: 'Open-ended inputs have kinds, given on the sheet. To compare modes or words, write ==.',
  }),
  dotted_name: ({ name }) => ({
    brief: `“${name}” reaches outside the block`,
    full: `A block's equations see its own names only, and “${name}” is a path on a sheet. Add an input, and wire it.`,
    help: 'That is what makes a block the same thing wherever it stands.',
  }),
  bad_name: ({ name }) => ({
    brief: `“${name}” cannot be a name`,
    full: `Names are letters, digits and underscores and begin with a letter; “${name}” is not.`,
    help: 'The same names stand in the C.',
  }),
  reserved_name: ({ name }) => ({
    brief: `“${name}” already means something`,
    full: `“${name}” is a word or a quantity of the language itself. Choose another name, such as “${name}_value”.`,
    help: 'and or not is for in true false dt t tick first pi unlimited keep their meanings in every block.',
  }),
  nested_too_deep: ({ deepest }) => ({
    brief: `brackets nest more than ${deepest} deep`,
    full: `This expression nests more than ${deepest} deep. Give its parts names of their own, an equation each.`,
    help: 'Names make equations readable, and the bound keeps a text from elsewhere harmless.',
  }),
  statement_too_long: ({ longest }) => ({
    brief: `a statement of more than ${longest} parts`,
    full: `This statement has more than ${longest} names, numbers and signs. Give its parts names of their own, or use vectors.`,
    help: 'The bound keeps a text from elsewhere from holding up the editor.',
  }),
  unknown_statement: ({ word, nearest }) => ({
    brief: `no statement begins with “${word}”`,
    full: `A line begins with a word such as in, out, set, let, mem or next, or is an equation “name = …”; this one begins with “${word}”.${perhaps(nearest)}`,
    help: 'The reference of the block language lists every statement with an example.',
  }),
  said_twice: ({ what }) => ({
    brief: `“${what}” is said twice`,
    full: `A text says “${what}” once, and it was said before. Remove one of the two.`,
    help: 'Two sayings of one thing could disagree.',
  }),
  no_block_line: () => ({
    brief: 'the text does not say which block it is',
    full: "A block's text begins with “block NAME”. Add that line at the top.",
    help: 'The name is how sheets, findings and the C refer to the block.',
  }),
  no_purpose: ({ name }) => ({
    brief: `“${name}” does not say what it is for`,
    full: `Add one sentence in quotes under “block ${name}”: what it is for, in plain words.`,
    help: 'The sentence stands on the shelf, in the search and in the C.',
  }),
  bad_tick_count: ({ found }) => ({
    brief: `“${found}” is not a number of ticks`,
    full: `A step of an example lasts a whole number of ticks, up to a million: “for 20 ticks”. I found “${found}”.`,
    help: 'Times belong after “every”, which says how long one tick is.',
  }),
};
