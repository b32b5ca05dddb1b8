/** A sheet in a link comes back as it was; a link that is none is told apart. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { linkTo, sheetInLink } from '../../editor/document/link.ts';

test('any text comes back from its link, under its name', () => {
  fc.assert(
    fc.property(fc.stringMatching(/^[a-z_]+$/), fc.string({ unit: 'grapheme' }), (name, text) => {
      const link = linkTo('http://127.0.0.1:5178/#old', name, text);
      expect(link).toMatch(/^http:\/\/127\.0\.0\.1:5178\/#sheet=[A-Za-z0-9_-]*$/);
      expect(sheetInLink(new URL(link).hash)).toEqual({ name, text });
    }),
  );
});

test('what is no sheet is no sheet', () => {
  expect(sheetInLink('')).toBeUndefined();
  expect(sheetInLink('#elsewhere')).toBeUndefined();
  expect(sheetInLink('#sheet=not deflated at all')).toBeUndefined();
});
