/** What `/` can find: blocks to add, things on the sheet, settings and commands, ranked by how well they match. */
import { COMMANDS } from './commands.ts';
import { groundOf } from './document/edits.ts';
import { addFromShelf } from './draw/adding.ts';
import { fittingInput } from './draw/fitting.ts';
import { goTo } from './draw/going.ts';
import { shelfItems } from './draw/shelf_items.ts';
import type { Finding } from './session.ts';
import type { Workbench } from './workbench.ts';

export interface FoundThing {
  readonly key: string;
  readonly group: 'add' | 'on the sheet' | 'setting' | 'command';
  readonly name: string;
  readonly about: string;
  /** Another name it goes by. */
  readonly also?: string;
  readonly keys?: string | undefined;
  /** Why it cannot be done now. */
  readonly not?: string | undefined;
  run(): void;
}

/** Things that match, best first, at most `limit`. */
export function findThings(workbench: Workbench, asked: Finding, limit = 40): FoundThing[] {
  const words = wordsOf(asked.text);
  const ranked: { thing: FoundThing; score: number }[] = [];
  const consider = (thing: FoundThing, bonus: number) => {
    const score = match(words, thing);
    if (score > 0) ranked.push({ thing, score: score + bonus });
  };
  for (const { thing, own } of blocksToAdd(workbench, asked)) consider(thing, own ? 0.3 : 0.5);
  if (asked.from === undefined) {
    for (const thing of thingsOnSheet(workbench, words.length > 0)) consider(thing, 0.4);
    for (const thing of commands(workbench)) consider(thing, 0);
  }
  ranked.sort((a, b) => b.score - a.score || (a.thing.name < b.thing.name ? -1 : 1));
  return ranked.slice(0, limit).map(({ thing }) => thing);
}

function blocksToAdd(workbench: Workbench, asked: Finding): { thing: FoundThing; own: boolean }[] {
  return shelfItems(workbench.document.sheet())
    .filter(({ name }) => asked.from === undefined || fittingInput(workbench, asked.from, name) !== undefined)
    .map(({ name, label, purpose, shelf }) => ({
      own: shelf === 'mine',
      thing: {
        key: `add ${name}`,
        group: 'add',
        name: label,
        also: name,
        about: purpose,
        not: workbench.document.locked(),
        run: () => addFromShelf(workbench, name, asked),
      },
    }));
}

function thingsOnSheet(workbench: Workbench, settingsToo: boolean): FoundThing[] {
  const { scope } = workbench.session.getState();
  const found: FoundThing[] = [];
  for (const [name, block] of Object.entries(groundOf(workbench.document.sheet(), scope)?.blocks ?? {})) {
    const placed = workbench.scene().cards.get(name);
    found.push({
      key: `block ${name}`,
      group: 'on the sheet',
      name,
      about: placed?.description.kind ?? block.is,
      run: () => goTo(workbench, { on: 'block', at: name }),
    });
    if (!settingsToo) continue;
    for (const setting of workbench.scene().settingsOf(name))
      found.push({
        key: `setting ${name}.${setting.name}`,
        group: 'setting',
        name: `${name}.${setting.name}`,
        about: setting.value,
        run: () => {
          goTo(workbench, { on: 'block', at: name });
          workbench.session.setState({ editing: `set ${name}.${setting.name}` });
        },
      });
  }
  return found;
}

function commands(workbench: Workbench): FoundThing[] {
  return COMMANDS.filter((command) => command.quiet !== true && command.id !== 'find.open').map((command) => {
    const can = command.can(workbench);
    return {
      key: command.id,
      group: 'command',
      name: command.name,
      about: command.about,
      keys: command.keys?.[0],
      not: can === true ? undefined : can,
      run: () => command.run(workbench),
    };
  });
}

/** 0 when a word is nowhere; the start of a name counts most, then starts of words, then any place, then the description. */
function match(words: readonly string[], { name, also, about }: FoundThing): number {
  if (words.length === 0) return 1;
  const parts = wordsOf(`${name} ${also ?? ''}`);
  const low = parts.join(' ');
  const [own, other] = [wordsOf(name).join(' '), wordsOf(also ?? '').join(' ')];
  const asked = words.join(' ');
  let score = own === asked || other === asked ? 10 * words.length : 0;
  for (const word of words) {
    if (own.startsWith(word) || other.startsWith(word)) score += 4;
    else if (parts.some((part) => part.startsWith(word))) score += 3;
    else if (low.includes(word)) score += 2;
    else if (about.toLowerCase().includes(word)) score += 1;
    else return 0;
  }
  return score / words.length;
}

/** Words as they are compared: without case, dashes, underscores and dots. */
function wordsOf(text: string): string[] {
  return text
    .toLowerCase()
    .split(/[\s_.–-]+/)
    .filter((word) => word !== '');
}
