/** `modelDescription.xml` and `buildDescription.xml` of a co-simulation unit (FMI 3.0, sections 2.4 and 2.5). */

import { shortestSingle } from '../literals.ts';
import { type FmuVariable, fmuVariables, lengthOf } from './fmu_variables.ts';
import type { Made } from './target.ts';

/** The description, and the token that tells its code from others. */
export function modelDescription(made: Made): { readonly text: string; readonly token: string } {
  const variables = fmuVariables(made);
  const clock = free(
    'time',
    variables.map((variable) => variable.name),
  );
  const { title, prefix, tick, ticks } = made;
  const stop = ticks > 0 ? ` stopTime="${decimal(ticks * tick.seconds)}"` : '';
  const body = `
  <CoSimulation modelIdentifier="${prefix}" canGetAndSetFMUState="true" canSerializeFMUState="true"
    canHandleVariableCommunicationStepSize="false" fixedInternalStepSize="${decimal(tick.seconds)}"/>
  <LogCategories>
    <Category name="logStatusError" description="why a call was refused"/>
  </LogCategories>
  <DefaultExperiment startTime="0"${stop} stepSize="${decimal(tick.seconds)}"/>
  <ModelVariables>
    <Float64 name="${clock}" valueReference="0" causality="independent" variability="continuous" description="s"/>
${variables.map(element).join('\n')}
  </ModelVariables>
  <ModelStructure>
${variables
  .filter((variable) => variable.causality === 'output')
  .map(({ reference }) => `    <Output valueReference="${reference}"/>\n`)
  .join('')}  </ModelStructure>
</fmiModelDescription>`;
  const token = tokenOf(`${made.sheetHash ?? ''}\n${made.program.real}\n${title}\n${body}`);
  const head = `<?xml version="1.0" encoding="UTF-8"?>
<fmiModelDescription fmiVersion="3.0" modelName="${attribute(title) || prefix}" instantiationToken="${token}"
  description="Control software, not a certified safety function." generationTool="Loopwright">`;
  return { text: `${head}${body}`, token };
}

function element(variable: FmuVariable): string {
  const { name, reference, type, causality, field } = variable;
  const { slot } = field;
  const length = lengthOf(variable);
  const start = slot.start.map((value) => number(type, value));
  const begins = causality === 'local' ? '' : ` start="${start.join(' ')}"`;
  const said = slot.note === undefined ? '' : ` description="${attribute(slot.note)}"`;
  const initial = {
    input: '',
    parameter: ' initial="exact"',
    output: ' initial="exact"',
    local: ' initial="calculated"',
  };
  const variability = causality === 'parameter' ? 'tunable' : 'discrete';
  const tag = `    <${type} name="${attribute(name)}" valueReference="${reference}" causality="${causality}" variability="${variability}"${initial[causality]}${begins}${said}`;
  return length === undefined ? `${tag}/>` : `${tag}>\n      <Dimension start="${length}"/>\n    </${type}>`;
}

/** One configuration a platform that has its mathematics in a library of its own, and one for all others. */
export function buildDescription({ prefix, file }: Made): string {
  const sources = `    <SourceFileSet language="C99">
      <SourceFile name="fmu.c"/>
      <SourceFile name="${file}.c"/>
    </SourceFileSet>`;
  const platforms = ['x86_64-linux', 'aarch64-linux'].map(
    (platform) => `  <BuildConfiguration modelIdentifier="${prefix}" platform="${platform}">
${sources}
    <Library name="m" external="true"/>
  </BuildConfiguration>`,
  );
  return `<?xml version="1.0" encoding="UTF-8"?>
<fmiBuildDescription fmiVersion="3.0">
${platforms.join('\n')}
  <BuildConfiguration modelIdentifier="${prefix}" description="Without contraction (-ffp-contract=off) and without -ffast-math or its parts.">
${sources}
  </BuildConfiguration>
</fmiBuildDescription>`;
}

/** A value as XML Schema writes it. */
function number(type: FmuVariable['type'], value: number): string {
  if (type === 'Boolean') return value === 0 ? 'false' : 'true';
  if (type === 'Int32') return String(value);
  if (Number.isNaN(value)) return 'NaN';
  if (!Number.isFinite(value)) return value < 0 ? '-INF' : 'INF';
  const sign = value < 0 || Object.is(value, -0) ? '-' : '';
  return `${sign}${type === 'Float32' ? shortestSingle(Math.abs(value)) : decimal(Math.abs(value))}`;
}

const decimal = (value: number): string => String(value);

/** Text in an attribute, without line ends and tabs, which names must not have. */
function attribute(text: string): string {
  return text
    .replace(/\s+/g, ' ')
    .trim()
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;');
}

function free(wanted: string, taken: readonly string[]): string {
  let name = wanted;
  for (let i = 2; taken.includes(name); i++) name = `${wanted}_${i}`;
  return name;
}

/** A mark in the form of a GUID: 128 bits of two FNV-1a sums over all that the unit is. */
function tokenOf(text: string): string {
  const sum = (basis: bigint): string => {
    let hash = basis;
    for (const character of text)
      hash = BigInt.asUintN(64, (hash ^ BigInt(character.codePointAt(0) ?? 0)) * 0x100000001b3n);
    return hash.toString(16).padStart(16, '0');
  };
  const digits = sum(0xcbf29ce484222325n) + sum(0x9ae16a3b2f90404fn);
  return `{${[0, 8, 12, 16, 20].map((at, i, all) => digits.slice(at, all[i + 1] ?? 32)).join('-')}}`;
}
