/** Every block's examples hold, with numbers worked out by hand in the block's own text. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { parsedBlock } from '../../compiler/stages/shelf.ts';
import { runExample } from '../../runtime/bench/examples.ts';

describe('block examples', () => {
  for (const [name, { text }] of library) {
    const block = parsedBlock(text, name).value;
    test(`${name} has an example`, () => {
      expect(block?.examples.length ?? 0).toBeGreaterThan(0);
    });
    for (const [i, example] of (block?.examples ?? []).entries())
      test(`${name}, example ${i + 1}`, async () => {
        const { compared, findings } = await runExample(name, text, example, library);
        expect(findings.filter((finding) => finding.level === 'error')).toEqual([]);
        expect(compared.filter((item) => !item.agrees)).toEqual([]);
        expect(compared.length).toBeGreaterThan(0);
      });
  }
});
