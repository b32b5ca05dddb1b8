/** Reads JSON keeping where everything stands, so that a finding can say line and column. */

/** Names that a record must not hold, because JavaScript gives them a meaning of its own. */
const RESERVED = new Set(['__proto__', 'prototype', ...Object.getOwnPropertyNames(Object.prototype)]);

/** Bounds that no sheet comes near, so that a file from elsewhere cannot stall the reader or what reads after it. */
const MAX_DEPTH = 40;
const MAX_VALUES = 400_000;
const MAX_IN_INNER_RECORD = 10_000;

/** A value with the place it starts at; `start` counts UTF-16 units from 0. */
export interface JsonNode {
  readonly start: number;
  readonly value: unknown;
  /** What a record or an array holds, by key or index. */
  readonly members?: ReadonlyMap<string, Member>;
}

interface Member {
  /** Where its key starts; in an array, where it starts itself. */
  readonly keyStart: number;
  readonly node: JsonNode;
}

/** What is wrong with a text as JSON; `start` is where. */
export interface JsonFault {
  readonly id:
    | 'sheet_cut_short'
    | 'sheet_not_json'
    | 'sheet_too_deep'
    | 'sheet_too_many'
    | 'duplicate_key'
    | 'reserved_name';
  readonly start: number;
  readonly path: readonly string[];
  readonly facts: Readonly<Record<string, string>>;
}

export interface JsonRead {
  /** Absent when the text is no JSON. */
  readonly root?: JsonNode;
  readonly faults: readonly JsonFault[];
}

/** Whether a name would reach into JavaScript's own objects. */
export function isReserved(name: string): boolean {
  return RESERVED.has(name);
}

/** Reads a whole text. Repeated keys and reserved names are faults that do not stop the reading. */
export function readJson(text: string): JsonRead {
  const reader = new Reader(text);
  try {
    return { root: reader.whole(), faults: reader.faults };
  } catch (stop) {
    if (!(stop instanceof Stop)) throw stop;
    return { faults: [...reader.faults, stop.fault] };
  }
}

/** 1-based line and column of a place in a text. */
export function lineAndColumn(text: string, start: number): { line: number; column: number } {
  let line = 1;
  let lineStart = 0;
  for (let at = text.indexOf('\n'); at !== -1 && at < start; at = text.indexOf('\n', at + 1)) {
    line++;
    lineStart = at + 1;
  }
  return { line, column: start - lineStart + 1 };
}

/** Where the thing at a path stands, or the nearest thing around it that is there. */
export function placeOf(root: JsonNode, path: readonly string[]): number {
  let node = root;
  let start = root.start;
  for (const key of path) {
    const member = node.members?.get(key);
    if (member === undefined) break;
    node = member.node;
    start = member.keyStart;
  }
  return start;
}

class Stop extends Error {
  readonly fault: JsonFault;
  constructor(fault: JsonFault) {
    super(fault.id);
    this.fault = fault;
  }
}

const NUMBER = /-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?/y;
const WORDS: readonly (readonly [string, unknown])[] = [
  ['true', true],
  ['false', false],
  ['null', null],
];
const ESCAPES: Readonly<Record<string, string>> = {
  '"': '"',
  '\\': '\\',
  '/': '/',
  b: '\b',
  f: '\f',
  n: '\n',
  r: '\r',
  t: '\t',
};

class Reader {
  readonly faults: JsonFault[] = [];
  private readonly text: string;
  private at: number;
  private readonly path: string[] = [];
  private values = 0;

  constructor(text: string) {
    this.text = text;
    this.at = text.charCodeAt(0) === 0xfeff ? 1 : 0;
  }

  whole(): JsonNode {
    const root = this.value();
    this.space();
    if (this.at < this.text.length) this.unexpected('the end of the file');
    return root;
  }

  private value(): JsonNode {
    this.space();
    const start = this.at;
    const char = this.text[start];
    if (this.path.length > MAX_DEPTH) this.stop('sheet_too_deep', { limit: String(MAX_DEPTH) });
    if (++this.values > MAX_VALUES) this.tooMany(MAX_VALUES);
    if (char === '{') return this.record(start);
    if (char === '[') return this.array(start);
    if (char === '"') return { start, value: this.string() };
    for (const [word, value] of WORDS) {
      if (this.text.startsWith(word, start)) {
        this.at += word.length;
        return { start, value };
      }
    }
    NUMBER.lastIndex = start;
    const digits = NUMBER.exec(this.text)?.[0];
    if (digits === undefined) return this.unexpected('a value');
    this.at += digits.length;
    if (this.at === this.text.length && this.path.length > 0) this.cutShort();
    return { start, value: Number(digits) };
  }

  private record(start: number): JsonNode {
    const value: Record<string, unknown> = {};
    const members = new Map<string, Member>();
    this.at++;
    this.space();
    if (this.skip('}')) return { start, value, members };
    do {
      this.space();
      const keyStart = this.at;
      if (this.text[keyStart] !== '"') this.unexpected('a key in quotes');
      const key = this.string();
      this.space();
      this.path.push(key);
      if (!this.skip(':')) this.unexpected('a colon');
      if (members.size >= MAX_IN_INNER_RECORD && this.path.length > 2) this.tooMany(MAX_IN_INNER_RECORD);
      const node = this.value();
      const before = members.get(key);
      if (isReserved(key)) this.fault('reserved_name', keyStart, () => ({ name: JSON.stringify(key) }));
      else if (before === undefined) {
        members.set(key, { keyStart, node });
        value[key] = node.value;
      } else {
        const line = () => String(lineAndColumn(this.text, before.keyStart).line);
        this.fault('duplicate_key', keyStart, () => ({ key, line: line() }));
      }
      this.path.pop();
      this.space();
    } while (this.skip(','));
    if (!this.skip('}')) this.unexpected('a comma or }');
    return { start, value, members };
  }

  private array(start: number): JsonNode {
    const value: unknown[] = [];
    const members = new Map<string, Member>();
    this.at++;
    this.space();
    if (this.skip(']')) return { start, value, members };
    do {
      if (value.length >= MAX_IN_INNER_RECORD) this.tooMany(MAX_IN_INNER_RECORD);
      this.path.push(String(value.length));
      const node = this.value();
      this.path.pop();
      members.set(String(value.length), { keyStart: node.start, node });
      value.push(node.value);
      this.space();
    } while (this.skip(','));
    if (!this.skip(']')) this.unexpected('a comma or ]');
    return { start, value, members };
  }

  private string(): string {
    let value = '';
    this.at++;
    for (;;) {
      const from = this.at;
      while (isPlain(this.text.charCodeAt(this.at))) this.at++;
      value += this.text.slice(from, this.at);
      if (this.skip('"')) return value;
      if (this.text[this.at] !== '\\') this.unexpected('a quote that ends the words');
      value += this.escape();
    }
  }

  private escape(): string {
    const letter = this.text[this.at + 1] ?? '';
    const plain = ESCAPES[letter];
    if (plain !== undefined) {
      this.at += 2;
      return plain;
    }
    const rest = this.text.slice(this.at + 1, this.at + 6);
    const code = /^u([0-9a-fA-F]{4})/.exec(rest)?.[1];
    if (code === undefined) {
      if (this.at + 1 + rest.length === this.text.length && /^(?:u[0-9a-fA-F]*)?$/.test(rest)) this.cutShort();
      return this.unexpected('an escape such as \\n or \\u0020');
    }
    this.at += 6;
    return String.fromCharCode(Number.parseInt(code, 16));
  }

  private space(): void {
    for (;;) {
      const code = this.text.charCodeAt(this.at);
      if (code !== 32 && code !== 10 && code !== 13 && code !== 9) return;
      this.at++;
    }
  }

  private skip(char: string): boolean {
    if (this.text[this.at] !== char) return false;
    this.at++;
    return true;
  }

  private fault(id: JsonFault['id'], start: number, facts: () => JsonFault['facts']): void {
    if (this.faults.length < 20) this.faults.push({ id, start, path: [...this.path], facts: facts() });
  }

  private stop(id: JsonFault['id'], facts: Readonly<Record<string, string>>): never {
    throw new Stop({ id, start: this.at, path: [...this.path], facts });
  }

  private cutShort(): never {
    return this.stop('sheet_cut_short', { in: this.path.join('.') });
  }

  private tooMany(limit: number): never {
    const things = `values${this.path.length > 0 && limit !== MAX_VALUES ? ' here' : ''}`;
    return this.stop('sheet_too_many', { count: `more than ${limit}`, things, limit: String(limit) });
  }

  private unexpected(wanted: string): never {
    const rest = this.text.slice(this.at, this.at + 24);
    const inWord = rest.length < 24 && /^[-+.\w]*$/.test(rest) && this.path.length > 0;
    if (this.at >= this.text.length || inWord) this.cutShort();
    const found = /^\S{1,12}/u.exec(rest)?.[0] ?? 'a line break';
    return this.stop('sheet_not_json', { wanted, found });
  }
}

/** What stands in a string as it is: no quote, no backslash, no control character, and not the end of the text. */
function isPlain(code: number): boolean {
  return code >= 32 && code !== 34 && code !== 92;
}
