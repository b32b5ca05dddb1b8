/** The block the mark is on, in the margin: name, purpose, every setting, ports with their wires, rate and side. */

import { isUnitLetter } from '../../compiler/language/units.ts';
import { zoneOf } from '../../compiler/picture/sheet_frame.ts';
import { entry } from '../../compiler/sheet/sheet.ts';
import { runCommand } from '../commands.ts';
import { addInput, freshName, groundOf, isGroupName, removeInput, setFact } from '../document/edits.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { SettingField } from '../parts/value_field.tsx';
import { useChecked, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { type PortFacts, portsOf } from './fitting.ts';
import { goTo, readersOf } from './going.ts';
import { renameMark } from './naming.ts';
import { conversionOf, type SettingFacts, settingsOf, settingText } from './settings.ts';
import { plainWords, textOf } from './shelf_items.ts';
import { useScene } from './use_scene.ts';

export function SelectedBlock({ name }: { name: string }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const scene = useScene();
  const block = groundOf(sheet, scope)?.blocks[name];
  if (block === undefined) return null;
  const text = textOf(sheet, block.is);
  const own = entry(sheet.shelf, block.is);
  const ports = portsOf(sheet, block);
  const settings = settingsOf(sheet, block);
  const placed = scene.cards.get(name);
  const kind = text?.label ?? plainWords(block.is);
  return (
    <>
      <header className="thing_head">
        <EditedText
          field={`margin name ${name}`}
          className="thing_name"
          label="Name"
          value={name}
          change={(to) => renameMark(workbench, name, to.trim())}
        />
        {kind !== plainWords(name) && <span className="thing_kind">{kind}</span>}
        {placed !== undefined && scene.bounds !== undefined && (
          <span className="zone">{zoneOf(placed, scene.bounds, undefined)}</span>
        )}
      </header>
      <p className="purpose_words">
        {text?.purpose ?? (typeof own === 'object' ? own.about : 'Nobody knows a block of this kind.')}
      </p>
      {settings.length > 0 && (
        <dl className="settings">
          {settings.map((setting) => (
            <Setting
              key={setting.name}
              block={name}
              setting={setting}
              value={settingText(block, setting)}
              given={block.set?.[setting.name] !== undefined}
            />
          ))}
        </dl>
      )}
      <Ports title="takes" ports={ports.inputs} name={name} kinds={block.inputs} />
      {ports.kinds.length > 0 && <MoreInputs name={name} kinds={[...new Set(ports.kinds.map(({ kind }) => kind))]} />}
      <Ports title="gives" ports={ports.outputs} name={name} kinds={undefined} />
      <Rate name={name} />
      {isGroupName(sheet, block.is) && (
        <button type="button" className="written" onClick={() => runCommand(workbench, 'group.enter')}>
          Go into the group <kbd>]</kbd>
        </button>
      )}
      {typeof own === 'string' && (
        <button type="button" className="written" onClick={() => runCommand(workbench, 'text.open')}>
          Edit its text <kbd>e</kbd>
        </button>
      )}
      {own === undefined && text !== undefined && (
        <button type="button" className="written" onClick={() => runCommand(workbench, 'text.own')}>
          Make its text mine
        </button>
      )}
    </>
  );
}

function Setting({ block, setting, value, given }: SettingProperties) {
  const converted = conversionOf(setting, value);
  return (
    <div data-given={given || undefined}>
      <dt title={setting.about}>{plainWords(setting.name)}</dt>
      <dd>
        <SettingField field={`set ${block}.${setting.name}`} block={block} setting={setting.name} />
        {converted !== undefined && (
          <span className="conversion" role="note">
            {converted}
          </span>
        )}
        {setting.bounds !== '' && <small>{setting.bounds}</small>}
        {setting.about !== '' && <p>{setting.about}</p>}
      </dd>
    </div>
  );
}

interface SettingProperties {
  readonly block: string;
  readonly setting: SettingFacts;
  /** As it would be typed. */
  readonly value: string;
  readonly given: boolean;
}

interface PortsProperties {
  readonly title: string;
  readonly ports: readonly PortFacts[];
  readonly name: string;
  readonly kinds: Readonly<Record<string, string>> | undefined;
}

function Ports({ title, ports, name, kinds }: PortsProperties) {
  const workbench = useWorkbench();
  const checked = useChecked();
  const scene = useScene();
  if (ports.length === 0) return null;
  const inputs = title === 'takes';
  const solved = entry(checked.solved, `${scene.path}${name}`);
  return (
    <dl className="ports">
      {ports.map((port) => {
        const at = `${name}.${port.name}`;
        const ends = inputs ? [scene.wires.get(at)].filter((end) => end !== undefined) : readersOf(scene, at);
        const kind = kinds?.[port.name];
        return (
          <div key={port.name}>
            <dt>
              {kind !== undefined && <Kind name={name} input={port.name} kind={kind} />}
              <button type="button" onClick={() => goTo(workbench, { on: inputs ? 'input' : 'output', at })}>
                {port.name}
              </button>
              <small>{portWords(port, solved?.units[port.name])}</small>
            </dt>
            <dd>
              {ends.length === 0 ? (
                <span className="quiet">
                  {inputs ? (port.optional ? 'takes its own' : 'takes nothing yet') : 'feeds nothing yet'}
                </span>
              ) : (
                ends.map((end) => (
                  <button
                    type="button"
                    key={end}
                    onClick={() => goTo(workbench, { on: inputs ? 'output' : 'input', at: end })}
                  >
                    {inputs ? '←' : '→'} {end}
                  </button>
                ))
              )}
              {kind !== undefined && (
                <button
                  type="button"
                  aria-label={`Take the input ${port.name} away`}
                  onClick={() => takeAway(workbench, name, port.name)}
                >
                  ×
                </button>
              )}
            </dd>
          </div>
        );
      })}
    </dl>
  );
}

/** What a port carries: its unit as the compiler found it where the text leaves it to the wires. */
export function portWords({ base, words, unit }: PortFacts, found: string | undefined): string {
  if (base === 'bool') return words.replace(/\bbool\b/, 'yes or no');
  if (base === 'int') return words.replace(/\bint\b/, 'whole number');
  const open = unit?.factors.some(({ symbol }) => isUnitLetter(symbol)) === true;
  return open
    ? ({ undefined: 'any unit', '': 'a plain number', '1': 'a plain number' }[String(found)] ?? String(found))
    : words;
}

function takeAway({ document, session }: ReturnType<typeof useWorkbench>, name: string, input: string): void {
  const { scope } = session.getState();
  document.change(
    `take ${input} from ${name}`,
    `${scope}/${name}`,
    (sheet) => void removeInput(sheet, scope, name, input),
  );
}

/** The kind of a named input; a click gives it the next kind the block knows. */
function Kind({ name, input, kind }: { name: string; input: string; kind: string }) {
  const { document, session } = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((state) => state.scope);
  const block = groundOf(sheet, scope)?.blocks[name];
  const kinds = block === undefined ? [] : [...new Set(portsOf(sheet, block).kinds.map((one) => one.kind))];
  const next = kinds[(kinds.indexOf(kind) + 1) % Math.max(1, kinds.length)];
  const turn = () => {
    if (next === undefined || next === kind) return;
    const here = session.getState().scope;
    document.change(
      `make ${name}.${input} ${next}`,
      `${here}/${name}`,
      (draft) => void addInput(draft, here, name, input, next),
    );
  };
  return (
    <button
      type="button"
      className="kind written"
      aria-label={`${input} is ${kind}; make it ${next ?? kind}`}
      onClick={turn}
    >
      {kind}
    </button>
  );
}

function MoreInputs({ name, kinds }: { name: string; kinds: readonly string[] }) {
  const { document, session } = useWorkbench();
  const add = (kind: string) => {
    const { scope } = session.getState();
    const block = groundOf(document.sheet(), scope)?.blocks[name];
    if (block === undefined) return;
    const taken = new Set(portsOf(document.sheet(), block).inputs.map((port) => port.name));
    const letter =
      'abcdefghijklmnopqrstuvwxyz'.split('').find((one) => !taken.has(one)) ?? freshName('a', (one) => taken.has(one));
    document.change(
      `give ${name} one more ${kind}`,
      `${scope}/${name}`,
      (sheet) => void addInput(sheet, scope, name, letter, kind),
    );
  };
  return (
    <p className="more">
      one more input:{' '}
      {kinds.map((kind) => (
        <button type="button" className="written" key={kind} onClick={() => add(kind)}>
          {kind}
        </button>
      ))}
    </p>
  );
}

/** On which ticks it runs, and on which side it stands. */
function Rate({ name }: { name: string }) {
  const { document, session } = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((state) => state.scope);
  const block = groundOf(sheet, scope)?.blocks[name];
  if (block === undefined) return null;
  const whole = (fact: 'every' | 'phase', text: string, least: number): true | string => {
    const { scope: here } = session.getState();
    const typed = text.trim();
    const value = typed === '' ? undefined : Number(typed);
    if (value !== undefined && !(Number.isInteger(value) && value >= least))
      return `A whole number from ${least} on, or nothing.`;
    const label = value === undefined ? `leave ${fact} of ${name} unsaid` : `${name} ${fact} ${value}`;
    document.change(label, `${here}/${name}`, (draft) => void setFact(draft, here, name, fact, value));
    return true;
  };
  return (
    <dl className="rate">
      <div>
        <dt>every</dt>
        <dd>
          <EditedText
            field={`every ${name}`}
            label="Runs every so many ticks"
            value={block.every?.toString() ?? ''}
            change={(text) => whole('every', text, 1)}
          >
            {block.every ?? <span className="quiet">as its inputs</span>}
          </EditedText>
        </dd>
      </div>
      <div>
        <dt>phase</dt>
        <dd>
          <EditedText
            field={`phase ${name}`}
            label="Phase"
            value={block.phase?.toString() ?? ''}
            change={(text) => whole('phase', text, 0)}
          >
            {block.phase ?? 0}
          </EditedText>
        </dd>
      </div>
      <div>
        <dt>side</dt>
        <dd>
          <select
            aria-label="Side"
            value={block.side ?? ''}
            onChange={({ target }) => {
              const side = target.value === 'plant' || target.value === 'controller' ? target.value : undefined;
              document.change(
                `${name} stands on the ${side ?? 'side it is found'}`,
                `${scope}/${name}`,
                (draft) => void setFact(draft, scope, name, 'side', side),
              );
            }}
          >
            <option value="">as found</option>
            <option value="plant">plant</option>
            <option value="controller">controller</option>
          </select>
        </dd>
      </div>
    </dl>
  );
}
