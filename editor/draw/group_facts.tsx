/** Inside a group, with nothing marked: what it is for, and its ports with their types. */
import { parseUnit } from '../../compiler/language/parser.ts';
import { entry, type Group } from '../../compiler/sheet/sheet.ts';
import { runCommand } from '../commands.ts';
import { freshName, instancesOf } from '../document/edits.ts';
import { isTakenInGroup, putPort, removePort, renamePort } from '../document/group_ports.ts';
import { NAME } from '../document/rename.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { copyOf } from './copies.ts';

export function GroupFacts({ scope }: { scope: string }) {
  const workbench = useWorkbench();
  const group = entry(useSheet().shelf, scope);
  if (typeof group !== 'object') return null;
  const about = (text: string): true => {
    workbench.document.change(`say what ${scope} is for`, `${scope}/`, (sheet) => {
      const item = sheet.shelf[scope];
      if (typeof item !== 'object') return undefined;
      if (text.trim() === '') delete item.about;
      else item.about = text.trim();
      return undefined;
    });
    return true;
  };
  return (
    <>
      <header className="thing_head">
        <span className="thing_name">{scope}</span>
        <span className="thing_kind">group</span>
        <button type="button" className="written zone" onClick={() => runCommand(workbench, 'group.leave')}>
          out <kbd>[</kbd>
        </button>
      </header>
      <Copies scope={scope} />
      <EditedText field={`about ${scope}`} label="What it is for" value={group.about ?? ''} long change={about}>
        {group.about ?? <span className="quiet">what it is for</span>}
      </EditedText>
      <Ports scope={scope} group={group} direction="in" />
      <Ports scope={scope} group={group} direction="out" />
    </>
  );
}

/** Of a group used more than once, the copy whose values are shown. */
function Copies({ scope }: { scope: string }) {
  const { session } = useWorkbench();
  const sheet = useSheet();
  const within = useSession((state) => state.within);
  const copies = instancesOf(sheet, scope);
  if (copies.length < 2) return null;
  return (
    <label className="copies">
      with the values of{' '}
      <select
        value={copyOf(sheet, scope, within)}
        onChange={({ target }) => session.setState({ within: target.value })}
      >
        {copies.map((copy) => (
          <option key={copy} value={copy}>
            {copy.slice(0, -1)}
          </option>
        ))}
      </select>
    </label>
  );
}

interface PortsProperties {
  readonly scope: string;
  readonly group: Group;
  readonly direction: 'in' | 'out';
}

function Ports({ scope, group, direction }: PortsProperties) {
  const { document } = useWorkbench();
  const typeOf = (port: Group['ports'][string]) => ('in' in port ? port.in : port.out);
  const ports = Object.entries(group.ports).filter(([, port]) => direction in port);
  const rename =
    (from: string) =>
    (text: string): true | string => {
      const to = text.trim();
      if (!NAME.test(to)) return 'A name starts with a letter and goes on with letters, digits and underscores.';
      if (to !== from && isTakenInGroup(document.sheet(), scope, to))
        return `There is something called ${to} in it already.`;
      document.change(
        `rename ${from} of ${scope} to ${to}`,
        `${scope}/`,
        (sheet) => void renamePort(sheet, scope, from, to),
      );
      return true;
    };
  const retype =
    (name: string) =>
    (text: string): true | string => {
      const type = text.trim();
      const unit = type.replace(/^\[[^\]]*\]\s*/, '');
      const wrong = unit === '' || unit === 'bool' || unit === 'int' ? undefined : parseUnit(unit).findings[0];
      if (wrong !== undefined) return 'A type is bool, int, or a unit, with a size before it perhaps: [3] m/s^2.';
      document.change(
        `${name} of ${scope}: ${type}`,
        `${scope}/`,
        (sheet) => void putPort(sheet, scope, name, direction, type),
      );
      return true;
    };
  const add = () => {
    const name = freshName(direction === 'in' ? 'input' : 'output', (one) =>
      isTakenInGroup(document.sheet(), scope, one),
    );
    document.change(
      `give ${scope} a port ${name}`,
      `${scope}/`,
      (sheet) => void putPort(sheet, scope, name, direction, ''),
    );
  };
  return (
    <dl className="ports">
      {ports.map(([name, port]) => (
        <div key={name}>
          <dt>
            <EditedText field={`port ${scope}.${name}`} label="Port" value={name} change={rename(name)} />
          </dt>
          <dd>
            <EditedText
              field={`type ${scope}.${name}`}
              label={`Type of ${name}`}
              value={typeOf(port)}
              change={retype(name)}
            >
              {typeOf(port) === '' ? <span className="quiet">a plain number</span> : typeOf(port)}
            </EditedText>
            <button
              type="button"
              aria-label={`Take the port ${name} away`}
              onClick={() =>
                document.change(
                  `take ${name} from ${scope}`,
                  `${scope}/`,
                  (sheet) => void removePort(sheet, scope, name),
                )
              }
            >
              ×
            </button>
          </dd>
        </div>
      ))}
      <p className="more">
        <button type="button" className="written" onClick={add}>
          {direction === 'in' ? 'one more input' : 'one more output'}
        </button>
      </p>
    </dl>
  );
}
