/** The JSON Schema beside the code says what the code accepts. */

import { readFileSync, writeFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { jsonSchema } from '../../compiler/sheet/schema.ts';

const file = new URL('../../compiler/sheet/sheet.schema.json', import.meta.url);

test('the schema file is the one derived from the code (UPDATE=1 writes it)', () => {
  const schema = jsonSchema();
  if (process.env.UPDATE === '1') writeFileSync(file, `${JSON.stringify(schema, null, 2)}\n`);
  expect(JSON.parse(readFileSync(file, 'utf8'))).toEqual(schema);
});
