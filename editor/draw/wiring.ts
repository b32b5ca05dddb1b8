/** Wiring by keys and by taps: a line hangs at a port, fitting ports are numbered, and one of them is chosen. */
import { addInput, freshName, groundOf, wire } from '../document/edits.ts';
import { blockOf, type Mark, say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { type Candidate, candidates, factsAt, mayFeed, nameOfEnd, portsOf } from './fitting.ts';
import { goTo } from './going.ts';

/** Hangs a line at the port the mark is on, or at the first output of its block. */
export function startWiring(workbench: Workbench): void {
  const { session } = workbench;
  const { mark } = session.getState();
  const from = mark === undefined ? undefined : portOf(workbench, mark);
  if (from === undefined) {
    say(session, 'There is no port here to wire from.');
    return;
  }
  hang(workbench, from);
}

/** Hangs a line at a port; the fitting ports are numbered on the paper. */
export function hang(workbench: Workbench, from: Mark): void {
  const { session, document } = workbench;
  const count = candidates(document.sheet(), session.getState().scope, from).length;
  if (count === 0) {
    say(session, `Nothing on the paper fits ${from.at} yet.`);
    return;
  }
  session.setState({ mode: { is: 'wiring', from, typed: '' }, mark: from });
  say(
    session,
    `Wiring from ${from.at}: ${count} ${count === 1 ? 'port fits' : 'ports fit'}. Type a number or a name, then Enter.`,
  );
}

function portOf(workbench: Workbench, mark: Mark): Mark | undefined {
  if (mark.on === 'output' || mark.on === 'input') return mark;
  const scene = workbench.scene();
  if (mark.on === 'line') {
    const source = scene.wires.get(mark.at);
    return source === undefined ? undefined : { on: 'output', at: source };
  }
  const port = scene.cards.get(mark.at)?.card.ports.find((one) => one.direction === 'out');
  return port === undefined ? undefined : { on: 'output', at: `${mark.at}.${port.name}` };
}

/** The candidates that what was typed leaves, each with its number. */
export function matching(all: readonly Candidate[], typed: string): { number: number; candidate: Candidate }[] {
  const numbered = all.map((candidate, index) => ({ number: index + 1, candidate }));
  if (typed === '') return numbered;
  if (/^\d+$/.test(typed)) return numbered.filter(({ number }) => String(number).startsWith(typed));
  const low = typed.toLowerCase();
  return numbered.filter(({ candidate }) => nameOf(candidate).toLowerCase().includes(low));
}

export function nameOf({ block, port, add }: Candidate): string {
  return add === undefined ? nameOfEnd(block, port) : `${block}, one more ${add}`;
}

/** Keys while a line hangs; true when the key was taken. */
export function wiringKey(workbench: Workbench, key: string): boolean {
  const { session, document } = workbench;
  const { mode, scope } = session.getState();
  if (mode.is !== 'wiring') return false;
  const all = candidates(document.sheet(), scope, mode.from);
  if (key === 'Escape') {
    session.setState({ mode: { is: 'idle' } });
    say(session, 'Not wired.');
    return true;
  }
  if (key === 'Enter') {
    const first = matching(all, mode.typed)[0];
    if (first !== undefined) joinCandidate(workbench, mode.from, first.candidate);
    return true;
  }
  const typed = key === 'Backspace' ? mode.typed.slice(0, -1) : /^[\w.]$/.test(key) ? mode.typed + key : undefined;
  if (typed === undefined) return false;
  const left = matching(all, typed);
  const only = left[0];
  if (left.length === 1 && only !== undefined && String(only.number) === typed)
    joinCandidate(workbench, mode.from, only.candidate);
  else if (left.length === 0) say(session, `No fitting port goes by ${typed}.`);
  else session.setState({ mode: { ...mode, typed } });
  return true;
}

export function joinCandidate(workbench: Workbench, from: Mark, { block, port, add }: Candidate): void {
  join(
    workbench,
    from,
    add === undefined
      ? { on: from.on === 'output' ? 'input' : 'output', at: nameOfEnd(block, port) }
      : { block, kind: add },
  );
}

/** Joins an output and an input, in whichever order they are given, or gives a block one more input for it. */
export function join(
  workbench: Workbench,
  from: Mark,
  to: Mark | { readonly block: string; readonly kind: string },
): boolean {
  const { document, session } = workbench;
  const { scope } = session.getState();
  session.setState({ mode: { is: 'idle' } });
  if ('kind' in to) {
    const block = groundOf(document.sheet(), scope)?.blocks[to.block];
    if (block === undefined || from.on !== 'output') return false;
    const taken = new Set(portsOf(document.sheet(), block).inputs.map((port) => port.name));
    const input = freshName(blockOf(from) || from.at, (name) => taken.has(name));
    document.change(`wire ${from.at} to ${to.block}.${input}`, `${scope}/${to.block}.${input}`, (sheet) => {
      addInput(sheet, scope, to.block, input, to.kind);
      wire(sheet, scope, from.at, `${to.block}.${input}`);
      return undefined;
    });
    goTo(workbench, { on: 'input', at: `${to.block}.${input}` });
    return true;
  }
  if (from.on === to.on) {
    say(
      session,
      from.on === 'output' ? 'Two outputs cannot be joined.' : 'Two inputs cannot be joined; wire both to one output.',
    );
    return false;
  }
  const [output, input] = from.on === 'output' ? [from, to] : [to, from];
  const [gives, takes] = [factsAt(document.sheet(), scope, output), factsAt(document.sheet(), scope, input)];
  const may = gives === undefined || takes === undefined ? true : mayFeed(gives, takes);
  if (may !== true && gives?.base !== takes?.base) {
    say(session, may);
    return false;
  }
  document.change(
    `wire ${output.at} to ${input.at}`,
    `${scope}/${input.at}`,
    (sheet) => void wire(sheet, scope, output.at, input.at),
  );
  goTo(workbench, input);
  return true;
}
