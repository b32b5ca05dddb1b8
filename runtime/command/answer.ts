/** What a verb answers: an exit status, data for other programs, and text for people. */

import { type Finding, placeText } from '../../compiler/findings.ts';
import { sentence } from '../../compiler/wording.ts';

/** 0: fine. 1: the sheet, its numbers or an expectation is wrong. 2: the call is wrong. */
export type Status = 0 | 1 | 2;

export interface Answer {
  readonly status: Status;
  /** What `--json` prints, besides `ok`. */
  readonly data: Readonly<Record<string, unknown>>;
  /** What is printed for people, without its last line end. */
  readonly text?: string;
  /** Lines for standard error. */
  readonly messages?: readonly string[];
}

/** Something about the call, or about a file it names, that cannot be done; `message` says what and what would mend it. */
export class Refusal extends Error {
  readonly status: Status;
  /** The file meant, or `loopwright` for the call itself. */
  readonly about: string;

  constructor(message: string, about = 'loopwright', status: Status = 2) {
    super(message);
    this.about = about;
    this.status = status;
  }
}

/** Findings about a file as lines: `FILE: place: what is wrong; what would mend it`. */
export function messagesOf(file: string, findings: readonly Finding[]): string[] {
  return findings.map((finding) => {
    const level = finding.level === 'error' ? '' : `${finding.level}: `;
    return `${file}: ${placeText(finding.at)}: ${level}${sentence(finding).full}`;
  });
}

/** Findings as data. */
export function findingsData(findings: readonly Finding[]): unknown[] {
  return findings.map((finding) => ({
    level: finding.level,
    id: finding.id,
    at: placeText(finding.at),
    message: sentence(finding).full,
    ...(finding.repair === undefined ? {} : { repair: finding.repair }),
    ...(finding.otherwise === undefined ? {} : { otherwise: finding.otherwise }),
  }));
}

export function hasErrors(findings: readonly Finding[]): boolean {
  return findings.some((finding) => finding.level === 'error');
}

/** The answer when findings are all there is to say. */
export function refusedBy(file: string, findings: readonly Finding[]): Answer {
  return { status: 1, data: { findings: findingsData(findings) }, messages: messagesOf(file, findings) };
}

/** The answer when a call could not be carried out. */
export function refusedCall(refusal: Refusal): Answer {
  const finding = { level: 'error', id: 'call', at: refusal.about, message: refusal.message };
  return {
    status: refusal.status,
    data: { findings: [finding] },
    messages: [`${refusal.about}: ${refusal.message}`],
  };
}

/** An answer as what goes to standard output and standard error. */
export function printed(answer: Answer, json: boolean): { output: string; errors: string } {
  const errors = (answer.messages ?? []).map((line) => `${line}\n`).join('');
  if (json) return { output: `${JSON.stringify({ ok: answer.status === 0, ...answer.data })}\n`, errors };
  return { output: answer.text === undefined || answer.text === '' ? '' : `${answer.text}\n`, errors };
}
