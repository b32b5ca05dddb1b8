/** The whole pipeline on one page: a sheet and its blocks become programs, and what there is to say about them. */

import type { Finding, Found } from './findings.ts';
import type { Real } from './ir/program.ts';
import { simplify } from './ir/simplify.ts';
import { reviewDesign } from './review/design.ts';
import { reviewRealised } from './review/realised.ts';
import { reviewVersions } from './review/versions.ts';
import type { Sheet } from './sheet/sheet.ts';
import type { Compiled } from './stages/compiled.ts';
import { type Definition, type Definitions, define, type Stage } from './stages/definitions.ts';
import { expand } from './stages/expand.ts';
import { type Design, type Lowered, lowerBench, lowerController, type Ordered, type Watch } from './stages/lower.ts';
import { order, orderTick } from './stages/order.ts';
import { resolve } from './stages/resolve.ts';
import { scheduleOf } from './stages/schedule.ts';
import { type Library, Shelf } from './stages/shelf.ts';
import { checkWires } from './stages/wires.ts';
import { compareText } from './text_order.ts';

export type { Compiled } from './stages/compiled.ts';

export interface CompileOptions {
  /** Blocks that are not on the sheet's own shelf. */
  readonly library: Library;
  /** Name of the program: the sheet's file without its ending; `program` if unsaid. */
  readonly name?: string;
  /** Real type of the exported program instead of the sheet's. */
  readonly number?: Real;
  /** Text of a file beside the sheet, for recorded numbers. */
  readonly files?: (name: string) => string | undefined;
}

/** Compiles a sheet; findings at level `error` mean there is no program. Pure: same input, same answer. */
export function compile(sheet: Sheet, options: CompileOptions): Found<Compiled> {
  const findings: Finding[] = [];
  const name = options.name ?? 'program';
  const number = options.number ?? sheet.number;
  const done = (value?: Compiled): Found<Compiled> => ({
    value: findings.some((finding) => finding.level === 'error') ? undefined : value,
    findings: tidy(findings, sheet),
  });

  const flat = expand(sheet, new Shelf(sheet, options.library), findings);
  if (findings.some((finding) => finding.id === 'too_many_blocks')) return done();
  const resolved = resolve(sheet, flat, findings);
  if (resolved === undefined) return done();
  const unit = checkWires(resolved, findings);
  const definitions = define(resolved.instances, findings);
  const ordered = orderStages(definitions, sheet.schedule, findings, false);
  reviewDesign(sheet, resolved, definitions, findings);
  reviewVersions(sheet, options.library, findings);
  if (ordered === undefined || findings.some((finding) => stopsLowering(finding))) return done();

  const files = (file: string): string | undefined => options.files?.(file);
  const design: Design = { name, sheet, resolved, definitions, ordered, number, unit, files };
  const { program, sizing } = lowerController(design, findings);
  if (findings.some((finding) => finding.level === 'error')) return done();
  reviewRealised(design, findings);
  const bench = (watch: Watch): Lowered => {
    const all = watch.keep === 'all' ? orderStages(definitions, sheet.schedule, [], true) : undefined;
    return lowerBench(all === undefined ? design : { ...design, ordered: all }, watch, []);
  };

  const controller = simplify(program, new Set());
  return done({
    sheet,
    name,
    number,
    flat,
    resolved,
    definitions,
    controller,
    sizing,
    schedule: scheduleOf(resolved, ordered, controller),
    unit,
    bench,
  });
}

/** Orders every stage; sayings take part only in a program that keeps everything readable. */
function orderStages(
  definitions: Definitions,
  schedule: Sheet['schedule'],
  findings: Finding[],
  sayings: boolean,
): Ordered | undefined {
  const stage = (...stages: readonly Stage[]) => {
    const inside = (d: Definition): boolean => stages.includes(d.stage) && (sayings || d.kind !== 'say');
    return (d: Definition): boolean => inside(d) && (stages.length === 1 || d.kind !== 'rate');
  };
  const tick = orderTick(definitions, stage('tick'), schedule, findings);
  const flow = order(definitions, stage('flow'), findings);
  if (tick === undefined || flow === undefined) return undefined;
  const sample = order(definitions, stage('sample', 'flow'), findings);
  const actuate = order(definitions, stage('actuate'), findings);
  if (sample === undefined || actuate === undefined) return undefined;
  return { tick, flow, sample, actuate };
}

/** Findings after which equations cannot even be looked at. */
function stopsLowering(finding: Finding): boolean {
  return finding.level === 'error' && finding.id === 'wire_across_shore';
}

/** Same finding once; silenced ones left out unless they are errors; errors first, then by place. */
function tidy(findings: readonly Finding[], sheet: Sheet): Finding[] {
  const seen = new Set<string>();
  const rank = { error: 0, warning: 1, advice: 2 };
  return findings
    .filter((finding) => {
      const key = JSON.stringify([finding.id, finding.at, finding.facts]);
      if (seen.has(key)) return false;
      seen.add(key);
      return finding.level === 'error' || !Object.hasOwn(sheet.silenced, `${finding.id} ${finding.at.path}`);
    })
    .sort((a, b) => rank[a.level] - rank[b.level] || compareText(a.at.path, b.at.path) || compareText(a.id, b.id));
}
