/** Settings as knobs: a slider and a typed value each; while a run goes, a change is a step of the sheet and an event of the run. */

import { useState } from 'react';
import { setSetting } from '../document/edits.ts';
import { readSetting, type SettingFacts, settingsOf, settingText } from '../draw/settings.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { blockOf } from '../session.ts';
import type { Adjustable } from '../work/bench_messages.ts';
import { useBench, useSession, useSheet, useWorkbench, type Workbench } from '../workbench.ts';
import { knobRange, quantityLike, siValue } from './knob_values.ts';

/** Knobs shown at most before something is looked for. */
const MOST = 12;

export function Knobs() {
  const { facts } = useBench();
  const sheet = useSheet();
  const mark = useSession((session) => session.mark);
  const [wanted, setWanted] = useState('');
  if (facts === undefined) return null;
  const words = wanted
    .toLowerCase()
    .split(/\s+/)
    .filter((word) => word !== '');
  const marked = mark === undefined ? undefined : blockOf(mark);
  const all = facts.settings.filter(({ value }) => Number.isFinite(value));
  const given = ({ name }: Adjustable) => {
    const [block, key] = partsOf(name);
    return sheet.blocks[block]?.set?.[key] !== undefined;
  };
  const shown =
    words.length > 0
      ? all.filter(({ name }) => words.every((word) => name.toLowerCase().includes(word)))
      : all.filter((one) => one.side !== 'plant' && given(one));
  const first = words.length > 0 ? [] : all.filter(({ name }) => partsOf(name)[0] === marked);
  const list = [...new Set([...first, ...shown])].slice(0, MOST);
  return (
    <section className="knobs" aria-label="Knobs">
      <header>
        <h2>Knobs</h2>
        <input
          aria-label="Find a setting"
          placeholder="find a setting"
          value={wanted}
          onChange={({ target }) => setWanted(target.value)}
        />
      </header>
      {list.length === 0 && <p className="quiet">No setting is called so.</p>}
      {list.map((one) => (
        <Knob key={one.name} setting={one} />
      ))}
    </section>
  );
}

/** The block on the sheet, and the setting as that block's own: a group's by dotted path. */
function partsOf(name: string): readonly [block: string, setting: string] {
  const dot = name.indexOf('.');
  return [name.slice(0, dot), name.slice(dot + 1)];
}

/** The setting as the sheet's own fields know it; those deep in groups are plain quantities. */
function fieldFacts(workbench: Workbench, { name, about, unit }: Adjustable): SettingFacts {
  const [block, key] = partsOf(name);
  const sheet = workbench.document.sheet();
  const found = sheet.blocks[block];
  const own = found === undefined ? undefined : settingsOf(sheet, found).find((one) => one.name === key);
  return (
    own ?? { name: key, about, kind: 'quantity', build: false, words: [], unit: undefined, otherwise: unit, bounds: '' }
  );
}

function Knob({ setting }: { setting: Adjustable }) {
  const workbench = useWorkbench();
  const { document } = workbench;
  const sheet = useSheet();
  const { opening } = useBench();
  const { name, about, unit } = setting;
  const [block, key] = partsOf(name);
  const facts = fieldFacts(workbench, setting);
  const given = sheet.blocks[block]?.set?.[key];
  const own = quantityLike(undefined, setting.value, unit);
  const text = given === undefined ? own : settingText({ is: '', set: { [key]: given } }, { ...facts, name: key });
  const value = given === undefined ? setting.value : siValue(given);
  const [range, setRange] = useState(() => ({ opening, ...knobRange(setting, value) }));
  const fits = value === undefined || (value >= range.low && value <= range.high);
  if (!fits || range.opening !== opening) setRange({ opening, ...knobRange(setting, value) });
  const put = (typed: string, joins: boolean): true | string => {
    const read = readSetting(facts, typed);
    if (typeof read === 'string') return read;
    document.change(
      `set ${name} to ${typed.trim() === '' ? 'its own' : typed.trim()}`,
      'run',
      (draft) => void setSetting(draft, '', block, key, read.value),
      joins ? `knob ${name}` : undefined,
    );
    return true;
  };
  const turn = (to: number) => void put(quantityLike(given, Math.max(range.low, Math.min(range.high, to)), unit), true);
  const span = range.high - range.low;
  return (
    <div className="knob">
      <span className="knob_name" title={about}>
        {name}
      </span>
      <EditedText field={`knob ${name}`} label={name} value={text} change={(typed) => put(typed, false)} />
      {setting.kind === 'bool' ? (
        <input
          type="checkbox"
          aria-label={name}
          checked={value === 1}
          onChange={({ target }) => void put(String(target.checked), false)}
        />
      ) : (
        <input
          type="range"
          aria-label={`${name}, slider`}
          aria-valuetext={text}
          min={range.low}
          max={range.high}
          step={span / 1000}
          value={value ?? range.low}
          disabled={value === undefined || document.locked() !== undefined}
          onChange={({ target }) => turn(Number(target.value))}
          onKeyDown={(event) => {
            const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
            if (way === undefined || value === undefined) return;
            event.preventDefault();
            event.stopPropagation();
            turn(value + way * span * (event.shiftKey ? 0.001 : 0.01));
          }}
        />
      )}
    </div>
  );
}
