/** Reads XML strictly, as far as descriptions of co-simulation units use it: elements, attributes, no text, no namespaces. */

export interface Element {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: readonly Element[];
}

const entities: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };

/** The root of a document in UTF-8; throws where it is not well-formed. */
export function readXml(text: string): Element {
  const head = '<?xml version="1.0" encoding="UTF-8"?>\n';
  if (!text.startsWith(head)) throw new Error('no declaration');
  const tag = /\s*<(\/?)([A-Za-z_][\w.-]*)((?:\s+[A-Za-z_][\w.-]*="[^"<]*")*)\s*(\/?)>/y;
  tag.lastIndex = head.length;
  const top: Element[] = [];
  const open: { name: string; into: Element[] }[] = [{ name: '', into: top }];
  while (open.length > 1 || top.length === 0) {
    const at = tag.lastIndex;
    const found = tag.exec(text);
    if (found === null) throw new Error(`not well-formed at ${text.slice(at, at + 60)}`);
    const [, ends = '', name = '', written = '', closed = ''] = found;
    const last = open.at(-1);
    if (last === undefined) throw new Error('nothing is open');
    if (ends !== '') {
      if (last.name !== name) throw new Error(`</${name}> ends <${last.name}>`);
      open.pop();
      continue;
    }
    const children: Element[] = [];
    last.into.push({ name, attributes: readAttributes(written), children });
    if (closed === '') open.push({ name, into: children });
  }
  if (text.slice(tag.lastIndex).trim() !== '') throw new Error('something after the end');
  const [root] = top;
  if (root === undefined) throw new Error('empty');
  return root;
}

function readAttributes(written: string): Record<string, string> {
  const attributes: Record<string, string> = {};
  for (const [, name = '', raw = ''] of written.matchAll(/([\w.-]+)="([^"]*)"/g)) {
    if (name in attributes) throw new Error(`${name} twice`);
    attributes[name] = raw.replace(/&(\w*);?/g, (all, entity: string) => {
      const character = all.endsWith(';') ? entities[entity] : undefined;
      if (character === undefined) throw new Error(`what is ${all}`);
      return character;
    });
  }
  return attributes;
}
