/** Which charts stand on the bench: those of the desk, or what the run records, sorted by unit. */

import type { Sheet } from '../../compiler/sheet/sheet.ts';
import type { TraceStyle } from '../parts/chart.tsx';
import type { Lane } from '../parts/lanes.tsx';
import type { RunFacts } from '../work/bench_messages.ts';
import { factsByName } from '../work/facts_by_name.ts';
import { shownAs } from '../work/value_words.ts';

export interface Panel {
  /** Its name on the desk; undefined for one that is there by itself. */
  readonly chart: string | undefined;
  readonly title: string;
  readonly unit: string;
  readonly traces: readonly TraceStyle[];
  readonly lanes: readonly Lane[];
  readonly height: number | undefined;
  readonly low: number | undefined;
  readonly high: number | undefined;
  /** Names the run does not have. */
  readonly missing: readonly string[];
}

export function panelsOf(sheet: Sheet, facts: RunFacts | undefined): Panel[] {
  const charts = Object.entries(sheet.desk.charts).sort(
    ([a, x], [b, y]) => (x.order ?? 1000) - (y.order ?? 1000) || (a < b ? -1 : 1),
  );
  if (charts.length === 0) return recordedPanels(sheet, facts);
  return charts.map(([name, chart]) => ({
    ...panel(sheet, facts, name, chart.title ?? name.replaceAll('_', ' '), chart.traces),
    height: chart.height,
    low: chart.low,
    high: chart.high,
  }));
}

/** What the run records: numbers of one unit together, logic and modes below. */
function recordedPanels(sheet: Sheet, facts: RunFacts | undefined): Panel[] {
  const groups = new Map<string, string[]>();
  for (const name of facts?.record ?? []) {
    const value = factsByName(facts, name);
    if (value === undefined) continue;
    const logic = value.type === 'bool' || value.modes.length > 0;
    const key = logic ? 'logic' : `unit ${shownAs(value, sheet.desk.show[name]).unit}`;
    groups.set(key, [...(groups.get(key) ?? []), name]);
  }
  const logic = groups.get('logic');
  groups.delete('logic');
  const all = [...groups.values(), ...(logic === undefined ? [] : [logic])];
  return all.map((names) => panel(sheet, facts, undefined, '', names));
}

function panel(
  sheet: Sheet,
  facts: RunFacts | undefined,
  chart: string | undefined,
  title: string,
  names: readonly string[],
): Panel {
  const traces: TraceStyle[] = [];
  const lanes: Lane[] = [];
  const units = new Set<string>();
  const missing: string[] = [];
  for (const [i, name] of names.entries()) {
    const value = factsByName(facts, name);
    if (value === undefined) missing.push(name);
    else if (value.type === 'bool' || value.modes.length > 0) lanes.push({ name, modes: value.modes });
    else {
      const shown = shownAs(value, sheet.desk.show[name]);
      const hue = sheet.desk.pins[name]?.trace ?? i;
      traces.push({ name, stepped: value.stepped, hue, factor: shown.factor });
      units.add(shown.unit);
    }
  }
  const unit = [...units].filter((one) => one !== '').join(', ');
  return { chart, title, unit, traces, lanes, height: undefined, low: undefined, high: undefined, missing };
}
