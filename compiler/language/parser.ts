/** Reads block texts, and the expressions, units and expectations people write on a sheet. Never throws at a user. */

import { type Finding, type Found, nearestNames } from '../findings.ts';
import { ExpressionReader, reservedNames } from './expression.ts';
import { Abandoned, Cursor, lex, type Token } from './lexer.ts';
import type {
  BlockText,
  Bounds,
  BuildDeclaration,
  ChannelDeclaration,
  Declaration,
  Equation,
  Example,
  ExampleValue,
  Expression,
  InputDeclaration,
  InputsDeclaration,
  MemoryDeclaration,
  Need,
  Saying,
  SettingDeclaration,
  Spot,
  Transition,
  TypeExpression,
  UnitExpression,
} from './syntax.ts';
import { isUnitLetter } from './units.ts';

/** The texts a block is built from while it is read. */
interface Draft {
  name: string | undefined;
  purpose: string | undefined;
  label: string | undefined;
  source: string | undefined;
  guards: boolean;
  harmless: boolean;
  analysedIn: string | undefined;
  side: 'plant' | 'controller' | undefined;
  drawnAs: string | undefined;
  readonly inputs: InputDeclaration[];
  readonly openInputs: InputsDeclaration[];
  readonly outputs: Declaration[];
  readonly openOutputs: Declaration[];
  readonly settings: SettingDeclaration[];
  readonly builds: BuildDeclaration[];
  readonly memories: MemoryDeclaration[];
  readonly channels: ChannelDeclaration[];
  readonly equations: Equation[];
  readonly modes: string[];
  readonly transitions: Transition[];
  readonly needs: Need[];
  readonly sayings: Saying[];
  readonly examples: Example[];
}

/**
 * Reads one block text. `name` is what the text is called where it lies, for the findings' places and for a text whose
 * `block` line is missing. With errors among the findings the value holds what could be read; it is undefined only if the block has no name.
 */
export function parseBlock(text: string, name?: string): Found<BlockText> {
  const cursor = new Cursor(lex(text, true));
  const reader = new BlockReader(cursor);
  const block = reader.read(name);
  const called = name ?? block?.name;
  const placed = cursor.findings.map((finding) => ({
    ...finding,
    at: called === undefined ? finding.at : { ...finding.at, text: called },
  }));
  return { value: block, findings: inOrder(placed) };
}

/** Reads one expression, as settings, names and nudges hold them; names may be paths: `body.lean`. */
export function parseExpression(text: string): Found<Expression> {
  return parseWhole(text, (reader) => reader.expression());
}

/** Reads a unit alone: `N m/rad`. */
export function parseUnit(text: string): Found<UnitExpression> {
  return parseWhole(text, (reader) => reader.unit(true));
}

/** What must hold in a run, and when. */
export interface Expectation {
  readonly condition: Expression;
  readonly mode: 'always' | 'once';
  readonly from?: Expression;
  readonly until?: Expression;
}

/** Reads `CONDITION always|once [from T] [until T]`. */
export function parseExpectation(text: string): Found<Expectation> {
  return parseWhole(text, (reader, cursor) => {
    const condition = reader.expression();
    const mode = cursor.skip('always') ? 'always' : cursor.skip('once') ? 'once' : undefined;
    if (mode === undefined) return cursor.unexpected('“always” or “once”', 'an expectation');
    const from = cursor.skip('from') ? reader.expression() : undefined;
    const until = cursor.skip('until') ? reader.expression() : undefined;
    return { condition, mode, ...(from === undefined ? {} : { from }), ...(until === undefined ? {} : { until }) };
  });
}

function parseWhole<T>(text: string, read: (reader: ExpressionReader, cursor: Cursor) => T): Found<T> {
  const cursor = new Cursor(lex(text, false));
  let value: T | undefined;
  try {
    value = read(new ExpressionReader(cursor, true), cursor);
    if (cursor.peek().kind !== 'end') cursor.afterExpression('the end');
  } catch (thrown) {
    if (!(thrown instanceof Abandoned)) throw thrown;
  }
  return { value: cursor.findings.length > 0 ? undefined : value, findings: inOrder(cursor.findings) };
}

function inOrder(findings: readonly Finding[]): Finding[] {
  return [...findings].sort((a, b) => (a.at.line ?? 0) - (b.at.line ?? 0) || (a.at.column ?? 0) - (b.at.column ?? 0));
}

/** Reads the statements of a block, each on its own: an error in one does not hide those in the next. */
class BlockReader {
  private readonly cursor: Cursor;
  private readonly expressions: ExpressionReader;
  private readonly draft: Draft = {
    name: undefined,
    purpose: undefined,
    label: undefined,
    source: undefined,
    guards: false,
    harmless: false,
    analysedIn: undefined,
    side: undefined,
    drawnAs: undefined,
    inputs: [],
    openInputs: [],
    outputs: [],
    openOutputs: [],
    settings: [],
    builds: [],
    memories: [],
    channels: [],
    equations: [],
    modes: [],
    transitions: [],
    needs: [],
    sayings: [],
    examples: [],
  };
  private readonly declaredLetters = new Set<string>();
  /** Modes that something is said of, before or after they are listed. */
  private readonly namedModes: { readonly name: string; readonly at: Spot }[] = [];

  private readonly statements: Readonly<Record<string, (at: Spot) => void>> = {
    block: (at) => this.blockLine(at),
    source: (at) => {
      if (this.draft.source !== undefined) this.cursor.fail('said_twice', at, { what: 'source' });
      this.draft.source = this.cursor.expectString('“source”').text;
    },
    called: (at) => {
      if (this.draft.label !== undefined) this.cursor.fail('said_twice', at, { what: 'called' });
      this.draft.label = this.cursor.expectString('“called”').text;
    },
    in: () => this.inputLine(),
    inputs: () => this.openInputLine(),
    out: () => {
      this.draft.outputs.push(this.describe(this.declaration('an output')));
    },
    outputs: () => {
      this.draft.openOutputs.push(this.describe(this.declaration('outputs')));
    },
    set: () => this.settingLine(),
    build: () => this.buildLine(),
    let: () => this.equation('let'),
    law: () => this.equation('law'),
    next: () => this.equation('next'),
    mem: () => this.memoryLine('mem'),
    state: () => this.memoryLine('state'),
    line: () => this.memoryLine('line'),
    channel: () => this.channelLine(),
    mode: (at) => this.modeLine(at),
    from: (at) => this.transitionLine(at),
    needs: (at) => {
      const condition = this.expressions.expression();
      this.draft.needs.push({ condition, words: this.cursor.expectString('“needs”').text, at });
    },
    say: (at) => this.sayingLine(at),
    guards: () => {
      this.draft.guards = true;
    },
    harmless: () => {
      this.draft.harmless = true;
    },
    analysed: () => {
      this.cursor.expect('in', '“analysed in”');
      const { text, at } = this.cursor.expectName('“analysed in”');
      this.draft.analysedIn = text;
      this.namedModes.push({ name: text, at });
    },
    side: () => {
      if (this.cursor.skip('plant')) this.draft.side = 'plant';
      else if (this.cursor.skip('controller')) this.draft.side = 'controller';
      else this.cursor.unexpected('“plant” or “controller”', '“side”');
    },
    drawn: () => {
      this.cursor.expect('as', '“drawn as”');
      this.draft.drawnAs = this.cursor.expectName('“drawn as”').text;
    },
    example: (at) => this.exampleLine(at),
  };

  constructor(cursor: Cursor) {
    this.cursor = cursor;
    this.expressions = new ExpressionReader(cursor, false);
  }

  read(name: string | undefined): BlockText | undefined {
    while (this.cursor.peek().kind !== 'end') {
      if (this.cursor.peek().kind === 'line end') {
        this.cursor.take();
        continue;
      }
      try {
        this.statement();
      } catch (thrown) {
        if (!(thrown instanceof Abandoned)) throw thrown;
        this.cursor.toNextLine();
      }
    }
    for (const { symbol, at } of this.expressions.letters)
      if (!this.declaredLetters.has(symbol)) this.cursor.report('undeclared_unit_letter', at, { letter: symbol });
    for (const { name, at } of this.namedModes)
      if (!this.draft.modes.includes(name))
        this.cursor.report('unknown_mode', at, { name, nearest: nearestNames(name, this.draft.modes).join(', ') });
    const { draft } = this;
    const start = { line: 1, column: 1 };
    if (draft.name === undefined) this.cursor.report('no_block_line', start);
    else if (draft.purpose === undefined) this.cursor.report('no_purpose', start, { name: draft.name });
    const called = draft.name ?? name;
    return called === undefined ? undefined : { ...draft, name: called, purpose: draft.purpose ?? '' };
  }

  private statement(): void {
    this.expressions.begin();
    const first = this.cursor.peek();
    if (first.kind === 'name' && this.cursor.sees('=', 1)) {
      this.equation('plain');
    } else if (this.cursor.sees('d') && this.cursor.sees('/', 1) && this.cursor.sees('dt', 2)) {
      for (let i = 0; i < 3; i++) this.cursor.take();
      this.equation('rate');
    } else if (first.kind === 'string' && this.draft.name !== undefined && this.draft.purpose === undefined) {
      this.draft.purpose = this.cursor.take().text;
    } else {
      const read =
        first.kind === 'name' && Object.hasOwn(this.statements, first.text) ? this.statements[first.text] : undefined;
      if (read === undefined) this.unknownStatement(first);
      this.cursor.take();
      read(first.at);
    }
    if (!this.cursor.atLineEnd) this.cursor.afterExpression('the end of the line');
  }

  private unknownStatement(first: Token): never {
    const nearest = first.kind === 'name' ? nearestNames(first.text.slice(0, 20), Object.keys(this.statements)) : [];
    return this.cursor.fail('unknown_statement', first.at, {
      word: first.text.slice(0, 40),
      nearest: nearest.join(', '),
    });
  }

  private blockLine(at: Spot): void {
    if (this.draft.name !== undefined) this.cursor.fail('said_twice', at, { what: 'block' });
    this.draft.name = this.newName('“block”');
  }

  /** A name given to something new. */
  private newName(where: string): string {
    const token = this.cursor.expectName(where);
    if (reservedNames.has(token.text)) this.cursor.fail('reserved_name', token.at, { name: token.text });
    if (!/^[A-Za-z][A-Za-z0-9_]*$/.test(token.text))
      this.cursor.fail('bad_name', token.at, { name: token.text.slice(0, 40) });
    return token.text;
  }

  /** `NAME: TYPE`, or `NAME` alone for a real number without a unit. */
  private declaration(where: string): Declaration {
    const { at } = this.cursor.peek();
    const name = this.newName(where);
    const plain: TypeExpression = { base: 'real', shape: [], unit: undefined, each: false, at };
    const type = this.cursor.skip(':') ? this.expressions.type() : plain;
    for (const { symbol } of type.unit?.factors ?? []) if (isUnitLetter(symbol)) this.declaredLetters.add(symbol);
    return { name, type, words: undefined, at };
  }

  /** Adds the words in quotes that end a declaration, if there are any. */
  private describe<T extends Declaration>(declaration: T): T {
    return this.cursor.peek().kind === 'string' ? { ...declaration, words: this.cursor.take().text } : declaration;
  }

  private inputLine(): void {
    const declaration = this.declaration('an input');
    const fallback = this.cursor.skip('=') ? this.expressions.expression() : undefined;
    this.draft.inputs.push(this.describe({ ...declaration, fallback }));
  }

  private openInputLine(): void {
    const declaration = this.declaration('inputs');
    const kinds: string[] = [];
    if (this.cursor.skip('as')) {
      do kinds.push(this.cursor.expectString('a kind of input').text);
      while (this.cursor.skip(','));
    }
    this.draft.openInputs.push(this.describe({ ...declaration, kinds }));
  }

  private bounds(): Bounds {
    const found: { -readonly [K in keyof Bounds]: Bounds[K] } = {
      above: undefined,
      below: undefined,
      from: undefined,
      to: undefined,
    };
    for (;;) {
      const { at } = this.cursor.peek();
      const word = (['above', 'below', 'from', 'to'] as const).find((each) => this.cursor.skip(each));
      if (word === undefined) return found;
      if (found[word] !== undefined) this.cursor.fail('said_twice', at, { what: word });
      found[word] = this.expressions.expression();
    }
  }

  private settingLine(): void {
    const declaration = this.declaration('a setting');
    this.cursor.expect('=', 'the value of a setting');
    const value = this.expressions.expression();
    this.draft.settings.push(this.describe({ ...declaration, value, bounds: this.bounds() }));
  }

  private buildLine(): void {
    const { at } = this.cursor.peek();
    const name = this.newName('a build setting');
    this.cursor.expect(':', 'the type of a build setting');
    const words: string[] = [];
    let type = (['int', 'bool', 'text', 'texts'] as const).find((each) => this.cursor.skip(each)) as
      | BuildDeclaration['type']
      | undefined;
    if (type === undefined) {
      if (this.cursor.peek().kind !== 'string')
        this.cursor.unexpected(
          '“int”, “bool”, “text”, “texts” or its possible words in quotes',
          'the type of a build setting',
        );
      type = 'word';
      do words.push(this.cursor.expectString('a possible word').text);
      while (this.cursor.skip(','));
    }
    this.cursor.expect('=', 'the value of a build setting');
    const value = this.expressions.expression();
    const bounds = this.bounds();
    const purpose = this.cursor.peek().kind === 'string' ? this.cursor.take().text : undefined;
    this.draft.builds.push({ name, type, words, value, bounds, purpose, at });
  }

  private memoryLine(kind: MemoryDeclaration['kind']): void {
    const declaration = this.declaration(kind === 'state' ? 'a state' : kind === 'line' ? 'a delay line' : 'a memory');
    this.cursor.expect('=', 'a start value');
    const start = this.expressions.expression();
    if (kind === 'line') this.cursor.expect('length', 'a delay line');
    const length = kind === 'line' ? this.expressions.expression() : undefined;
    this.draft.memories.push(this.describe({ ...declaration, kind, start, length }));
  }

  private channelLine(): void {
    const direction = this.cursor.skip('in') ? 'in' : this.cursor.skip('out') ? 'out' : undefined;
    if (direction === undefined) this.cursor.unexpected('“in” or “out”', 'a channel');
    const { at } = this.cursor.peek();
    const name = this.newName('a channel');
    this.cursor.expect(':', 'the type of a channel');
    const type = (['real', 'int', 'bool'] as const).find((each) => this.cursor.skip(each));
    if (type === undefined) this.cursor.unexpected('“real”, “int” or “bool”', 'the type of a channel');
    const start = direction === 'out' && this.cursor.skip('=') ? this.expressions.expression() : undefined;
    this.draft.channels.push({ direction, name, type, start, at });
  }

  private equation(kind: Equation['kind']): void {
    const { at } = this.cursor.peek();
    const name = this.newName('an equation');
    this.cursor.expect('=', 'an equation');
    this.draft.equations.push({ kind, name, value: this.expressions.expression(), at });
  }

  private modeLine(at: Spot): void {
    if (this.draft.modes.length > 0) this.cursor.fail('said_twice', at, { what: 'mode' });
    do this.draft.modes.push(this.newName('the names of modes'));
    while (this.cursor.skip(','));
  }

  private transitionLine(at: Spot): void {
    const where = '“from MODE to MODE when CONDITION”';
    const from: string[] = [];
    do from.push(this.namedMode(where));
    while (this.cursor.skip(','));
    this.cursor.expect('to', where);
    const to = this.namedMode(where);
    this.cursor.expect('when', where);
    this.draft.transitions.push({ from, to, when: this.expressions.expression(), at });
  }

  private namedMode(where: string): string {
    const { at } = this.cursor.peek();
    const name = this.newName(where);
    this.namedModes.push({ name, at });
    return name;
  }

  private sayingLine(at: Spot): void {
    const condition = this.expressions.expression();
    const words = this.cursor.expectString('what to say').text;
    const left = this.cursor.skip('left') ? this.expressions.expression() : undefined;
    this.draft.sayings.push({ condition, words, left, at });
  }

  private exampleLine(at: Spot): void {
    const settings: ExampleValue[] = [];
    const inputs: { name: string; kind: string }[] = [];
    let every: Expression | undefined;
    if (!this.cursor.sees(':')) {
      do {
        if (this.cursor.skip('every')) every = this.expressions.expression();
        else if (this.cursor.skip('inputs') || (inputs.length > 0 && this.cursor.peek(1).kind === 'string')) {
          const name = this.newName('the inputs of an example');
          inputs.push({ name, kind: this.cursor.expectString('the kind of an input').text });
        } else settings.push(this.exampleValue());
      } while (this.cursor.skip(','));
    }
    this.cursor.expect(':', 'an example');
    const steps: Example['steps'][number][] = [];
    do {
      if (this.cursor.atLineEnd) break;
      steps.push(this.exampleStep());
    } while (this.cursor.skip(';'));
    this.draft.examples.push({ settings, every, inputs, steps, at });
  }

  private exampleStep(): Example['steps'][number] {
    const given = this.cursor.sees('for') || this.cursor.sees('gives') ? [] : this.exampleValues();
    let ticks = 1;
    if (this.cursor.skip('for')) {
      const token = this.cursor.take();
      ticks = token.kind === 'number' ? Number(token.text) : Number.NaN;
      if (!Number.isInteger(ticks) || ticks < 1 || ticks > 1_000_000)
        this.cursor.fail('bad_tick_count', token.at, { found: token.text.slice(0, 40) });
      if (!this.cursor.skip('tick')) this.cursor.expect('ticks', 'how long a step lasts');
    }
    const outputs = this.cursor.skip('gives') ? this.exampleValues() : [];
    return { inputs: given, ticks, outputs };
  }

  private exampleValues(): ExampleValue[] {
    const values: ExampleValue[] = [];
    do values.push(this.exampleValue());
    while (this.cursor.skip(','));
    return values;
  }

  private exampleValue(): ExampleValue {
    const name = this.cursor.expectName('a value in an example');
    const about = this.cursor.skip('about');
    return { name: name.text, value: this.expressions.expression(), about };
  }
}
