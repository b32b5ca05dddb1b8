/** What cards and remarks say: factors of one are left out, names and notes can be read from a distance, groups show what is inside. */
import { expect, test } from 'vitest';
import { parseBlock } from '../../compiler/language/parser.ts';
import { layoutCard } from '../../compiler/picture/card_size.ts';
import { describeCard, describeGroup } from '../../compiler/picture/describe.ts';
import type { Mark } from '../../compiler/picture/marks.ts';
import { textWidth } from '../../compiler/picture/metrics.ts';
import { remarkMarks } from '../../compiler/picture/remarks.ts';
import { blankSheet, type SettingValue } from '../../compiler/sheet/sheet.ts';

const TEXT =
  'block scaled\n  "Scales."\nin u: U\nout y: Y\nset sign = 1\nset scale: Y/U = 1\ny = sign * scale * u\nlaw y = sign * scale * u\n';
const ALONE = 'block gain\n  "Multiplies."\nin u: U\nout y: Y\nset gain: Y/U = 1\ny = gain * u\nlaw y = gain * u\n';

function lawOf(text: string, set: Readonly<Record<string, SettingValue>>): { law: string; fields: string[] } {
  const block = parseBlock(text, 'b').value;
  if (block === undefined) throw new Error('The text cannot be read.');
  const card = layoutCard(describeCard('b', { is: block.name, set }, block));
  return { law: words(card.marks, 'law'), fields: card.fields.map(({ setting }) => setting) };
}

function words(marks: readonly Mark[], role: Mark['role']): string {
  return marks.flatMap((mark) => (mark.shape === 'text' && mark.role === role ? [mark.text.trim()] : [])).join('');
}

test('several factors of one are left out of a law, and one beside another setting; a single one stays to be filled', () => {
  expect(lawOf(TEXT, {})).toEqual({ law: 'y=u', fields: [] });
  expect(lawOf(TEXT, { scale: 3 })).toEqual({ law: 'y=3u', fields: ['scale'] });
  expect(lawOf(TEXT, { scale: 3, sign: -1 }).fields).toEqual(['sign', 'scale']);
  expect(lawOf(ALONE, {})).toEqual({ law: 'y=1u', fields: ['gain'] });
});

test('from a distance a short name is as large as its tab has room for, and a long one is whole in a smaller size', () => {
  const block = parseBlock(ALONE, 'gain').value;
  if (block === undefined) throw new Error('The text cannot be read.');
  for (const name of ['k', 'limiter', 'outer_law', 'a_rather_long_name_for_it']) {
    const card = layoutCard(describeCard(name, { is: 'gain' }, block));
    const mark = card.middle.find((one) => one.role === 'name');
    if (mark?.shape !== 'text') throw new Error('It has no name.');
    expect(mark.size).toBeGreaterThanOrEqual(18);
    expect(textWidth(mark.text, mark.size, 'bold')).toBeLessThanOrEqual(card.width - 30);
    if (name === 'k') expect(mark.size).toBe(24);
  }
});

test('a group shows its blocks from a distance, as many as there are, and nothing of them when near', () => {
  const group = {
    ports: {},
    blocks: { a: { is: 'gain' }, b: { is: 'gain' }, c: { is: 'gain' } },
    wires: { 'b.u': 'a.y', 'c.u': 'b.y' },
    layout: { a: [0, 0], b: [300, 0], c: [300, 200] },
  } as const;
  const card = layoutCard(describeGroup('g', { is: 'three' }, group));
  const inside = card.middle.find((mark) => mark.role === 'inside');
  expect(inside?.shape === 'path' && inside.d.split('M').length - 1).toBe(3);
  expect(card.marks.some((mark) => mark.role === 'inside')).toBe(false);
});

test('larger than usual, a note keeps to its place and says where it was cut', () => {
  const desk = {
    ...blankSheet().desk,
    notes: {
      n: {
        at: [0, 0] as const,
        text: 'One two three four five six seven eight nine ten eleven twelve',
        size: [200, 60] as const,
      },
    },
  };
  const usual = remarkMarks(desk, undefined);
  const large = remarkMarks(desk, undefined, 26);
  expect(large.areas).toEqual(usual.areas);
  const last = large.marks.at(-1);
  expect(last?.shape === 'text' && last.text.endsWith('…')).toBe(true);
  for (const mark of large.marks)
    if (mark.shape === 'text') expect(textWidth(mark.text, mark.size)).toBeLessThanOrEqual(200);
});
