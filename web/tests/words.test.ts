import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import de from '../src/app/words/de';
import en from '../src/app/words/en';
import { fill, places } from '../src/app/words/table';
import { sources } from './sources';

type Table = Record<string, string>;
const EN = en as Record<string, Table>;
const DE = de as Record<string, Table>;
const AREAS = Object.keys(EN);
const flat = (words: Record<string, Table>) =>
  Object.entries(words).flatMap(([area, table]) =>
    Object.entries(table).map(([key, text]) => [`${area}.${key}`, text] as const),
  );

const code = sources('src')
  .map((path) => readFileSync(path, 'utf8'))
  .join('\n');
const plain = new Set([...code.matchAll(/['"`]([a-z]+\.[\w.]+)['"`]/g)].map((found) => found[1]));
/** Keys put together from a fixed part and names that the compiler knows. */
const built = [...code.matchAll(/`([a-z]+\.[\w.]*)\$\{[^}]*\}([\w.]*)`/g)].map(
  (found) => new RegExp(`^${found[1]?.replaceAll('.', '\\.')}\\w+${found[2]?.replaceAll('.', '\\.')}$`),
);

describe.each(AREAS)('words of %s', (area) => {
  const english = EN[area] ?? {};
  const german = DE[area] ?? {};

  it('are there in both languages, in the same order', () => {
    expect(Object.keys(german)).toEqual(Object.keys(english));
  });

  it('leave the same places open', () => {
    for (const key of Object.keys(english))
      expect([key, places(german[key] ?? '')]).toEqual([key, places(english[key] ?? '')]);
  });

  it('are used', () => {
    const unused = Object.keys(english)
      .map((key) => `${area}.${key}`)
      .filter((key) => !plain.has(key) && !built.some((pattern) => pattern.test(key)));
    expect(unused).toEqual([]);
  });

  it('say something', () => {
    for (const [key, text] of [...Object.entries(english), ...Object.entries(german)]) {
      expect([key, text.trim() === text && text !== '']).toEqual([key, true]);
    }
  });
});

it('words kept out of every surface stay out', () => {
  const barred =
    /\b(force|load|safe|correct|ideal|grind)\b|\b(belastung|sicher|korrekt|beschleifen|einschleifen)\b/i;
  expect([...flat(EN), ...flat(DE)].filter(([, text]) => barred.test(text))).toEqual([]);
});

it('no text stands in the markup: all of it comes from the words', () => {
  const found = sources('src')
    .filter((path) => path.endsWith('.tsx'))
    .flatMap((path) =>
      [...readFileSync(path, 'utf8').matchAll(/>\s*([A-Za-z][\w ,.:;'-]{3,}[\w.])\s*<\//g)].map(
        (hit) => `${path}: ${hit[1]}`,
      ),
    );
  expect(found).toEqual([]);
});

it('fills places and leaves unknown ones to be seen', () => {
  expect(fill('{a} of {b}, {a}', { a: 1, b: 'x' })).toBe('1 of x, 1');
  expect(fill('{missing}', {})).toBe('{missing}');
  expect(fill('{constructor}', {})).toBe('{constructor}');
});
