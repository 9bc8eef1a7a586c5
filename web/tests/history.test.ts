import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Revision } from '../src/api/shapes';
import { changesBetween } from '../src/history/compare';
import { plainly } from '../src/history/plainly';

type State = Record<string, string | null>;
const FIELDS = ['a', 'b', 'c'];

/** A history as the server tells it, newest first, with the whole case at each of its revisions. */
const histories = fc
  .array(fc.dictionary(fc.constantFrom(...FIELDS), fc.option(fc.constantFrom('1', '2', '3'))), {
    minLength: 1,
    maxLength: 8,
  })
  .map((steps) => {
    const states: State[] = [{ a: null, b: null, c: null }];
    const revisions: Revision[] = [];
    for (const step of steps) {
      const before = states.at(-1) ?? {};
      const changes = Object.entries(step)
        .filter(([field, value]) => before[field] !== value)
        .map(([field, value]) => ({ field, old: before[field] ?? null, new: value }));
      states.push({ ...before, ...step });
      revisions.push({ number: states.length, who: 'ab', at: '2026-01-01T00:00:00Z', what: '', changes });
    }
    return {
      states,
      revisions: [{ number: 1, who: 'ab', at: '', what: '', changes: [] }, ...revisions].reverse(),
    };
  });

describe('two revisions', () => {
  it('differ in exactly the entries whose values differ, whichever comes first', () => {
    fc.assert(
      fc.property(histories, fc.nat(), fc.nat(), ({ states, revisions }, x, y) => {
        const [from, to] = [(x % states.length) + 1, (y % states.length) + 1];
        const [a, b] = [states[from - 1] ?? {}, states[to - 1] ?? {}];
        const found = Object.fromEntries(
          changesBetween(revisions, from, to).map((one) => [one.field, [one.old, one.new]]),
        );
        const truly = Object.fromEntries(
          FIELDS.filter((field) => a[field] !== b[field]).map((field) => [field, [a[field], b[field]]]),
        );
        expect(found).toEqual(truly);
      }),
    );
  });
});

describe('values of the case file', () => {
  it.each([
    ['{ value = 110.0, u = 0.5 }', '110.0 ± 0.5'],
    ['"a \\"b\\" c"', 'a "b" c'],
    ['38.10', '38.10'],
    ['[1, 2]', '[1, 2]'],
    ['{ name = "x", u = 1, more = 2 }', '{ name = "x", u = 1, more = 2 }'],
  ])('%s is read as %s', (written, shown) => expect(plainly(written)).toBe(shown));
});
