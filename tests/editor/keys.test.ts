/** The command table as a whole, and how key events find their command. */
import { expect, test } from 'vitest';
import { COMMANDS } from '../../editor/commands.ts';
import { namesOf } from '../../editor/keys.ts';

const press = (
  key: string,
  code: string,
  held: Partial<Record<'ctrlKey' | 'metaKey' | 'altKey' | 'shiftKey', boolean>> = {},
) => namesOf({ key, code, ctrlKey: false, metaKey: false, altKey: false, shiftKey: false, ...held });

test('a key event goes by the names of the table', () => {
  expect(press('w', 'KeyW')).toContain('w');
  expect(press('W', 'KeyW', { shiftKey: true })).toContain('Shift+W');
  expect(press('z', 'KeyZ', { ctrlKey: true })).toContain('Ctrl+Z');
  expect(press('Z', 'KeyZ', { metaKey: true, shiftKey: true })).toContain('Ctrl+Shift+Z');
  expect(press(' ', 'Space')).toContain('Space');
  expect(press('ArrowLeft', 'ArrowLeft', { ctrlKey: true })).toContain('Ctrl+ArrowLeft');
});

test('a digit with Shift is that digit on any layout, and a slash is a slash even where it needs Shift', () => {
  expect(press('"', 'Digit2', { shiftKey: true })).toContain('Shift+2');
  expect(press('@', 'Digit2', { shiftKey: true })).toContain('Shift+2');
  expect(press('/', 'Digit7', { shiftKey: true })).toContain('/');
});

test('every command has a name, a line of help, and an id of its own', () => {
  expect(new Set(COMMANDS.map((command) => command.id)).size).toBe(COMMANDS.length);
  for (const { id, name, about } of COMMANDS) {
    expect(id).toMatch(/^[a-z]+\.[a-z_]+$/);
    expect(name).toMatch(/^[A-Z]/);
    expect(about).toMatch(/\.$/);
  }
});

test('no two commands answer to one key in one region', () => {
  const seen = new Map<string, string>();
  for (const { id, keys, region } of COMMANDS)
    for (const key of keys ?? []) {
      const place = `${region ?? 'everywhere'} ${key}`;
      expect(seen.get(place), `${key} of ${id}`).toBeUndefined();
      seen.set(place, id);
    }
});

test('bare letters belong to the paper', () => {
  for (const { keys, region } of COMMANDS)
    for (const key of keys ?? []) if (/^[a-z]$/.test(key)) expect(region).toBe('paper');
});
