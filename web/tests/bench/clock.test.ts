/** The clock of the pours: order, digits, alarms, and clocks that sleep or are set. */
import fc from 'fast-check';
import { readFileSync } from 'node:fs';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import {
  advance,
  alarms,
  digits,
  dueOf,
  fromEntry,
  forEntry,
  heard,
  inOrder,
  isOld,
  ms,
  passed,
  stretch,
  withOffset,
  type Pour,
} from '../../src/bench/wall/clock';
import { reminders } from '../../src/bench/wall/alarm';
import { nextName } from '../../src/bench/wall/taps';
import { moved } from '../../src/bench/steps/list';
import { nameFor } from '../../src/bench/steps/own';

const BEGUN = ms('2026-03-17T10:02:00+01:00');
const MIN = 60_000;
const KEYS = ['mix', 'poured', 'hands_off', 'set', 'release'] as const;
const AFTER_S = { mix: 40, poured: 150, hands_off: 150, set: 300, release: 2700 };

function pour(begun = BEGUN, more: Partial<Pour> = {}): Pour {
  const marks = KEYS.map((key) => ({
    key,
    words: key,
    at: new Date(begun + AFTER_S[key] * 1000).toISOString(),
    at_shown: '',
    source: '',
    assumed: false,
  }));
  const rest = { case_id: 1, revision: 1, code: 'HERON', key: 'lower 1', field: '', cast: 'lower' as const };
  const shown = { number: 1, words: 'lower cast', begun_shown: '', next: null, late: null, by: '', note: '' };
  const open = { hands_off: null, ended: null, asked: [] };
  return { ...rest, ...shown, ...open, begun: new Date(begun).toISOString(), marks, ...more };
}

const keysAt = (one: Pour, now: number) => dueOf(one, now)?.marks.map((mark) => mark.key);

describe('what a pour waits for', () => {
  it('follows the moments, those of one instant together', () => {
    expect(keysAt(pour(), BEGUN)).toEqual(['mix']);
    expect(keysAt(pour(), BEGUN + 40_000)).toEqual(['poured', 'hands_off']);
  });

  it('is hands off from its moment on until a person notes it, then the set, then the release', () => {
    const late = BEGUN + 3 * MIN;
    expect(dueOf(pour(), late)).toMatchObject({ kind: 'waits', at: BEGUN + 150_000 });
    expect(keysAt(pour(), BEGUN + 60 * MIN)).toEqual(['release']);
    const off = pour(BEGUN, { hands_off: new Date(BEGUN + MIN).toISOString() });
    expect(keysAt(off, BEGUN + MIN)).toEqual(['set']);
    expect(keysAt(off, BEGUN + 6 * MIN)).toEqual(['release']);
    expect(dueOf(off, BEGUN + 46 * MIN)).toMatchObject({ kind: 'waits' });
  });

  it('is nothing once released, or without moments', () => {
    expect(dueOf(pour(BEGUN, { ended: new Date(BEGUN + 50 * MIN).toISOString() }), BEGUN)).toBeNull();
    expect(dueOf(pour(BEGUN, { marks: [] }), BEGUN)).toBeNull();
  });
});

type Golden = { pours: Pour[]; orders: { now: string; keys: string[] }[] };

it('orders the pours as the server does', () => {
  const golden = JSON.parse(readFileSync('tests/bench/orders.json', 'utf8')) as Golden;
  expect(golden.orders.length).toBeGreaterThan(50);
  for (const { now, keys } of golden.orders)
    expect([now, inOrder(golden.pours, ms(now)).map((one) => one.key)]).toEqual([now, keys]);
});

describe('digits', () => {
  it('show a stretch of time as a clock does', () => {
    expect([0, 999, 1000, 61_000, 3_600_000, 3_723_000].map(stretch)).toEqual([
      '0:00',
      '0:00',
      '0:01',
      '1:01',
      '1:00:00',
      '1:02:03',
    ]);
  });

  it('never say zero before the moment is there', () => {
    const one = pour();
    const due = dueOf(one, BEGUN + 39_999);
    expect(due && digits(due, BEGUN + 39_999)).toBe('0:01');
    const waits = dueOf(one, BEGUN + 150_000);
    expect(waits && digits(waits, BEGUN + 150_000)).toBe('+0:00');
  });
});

describe('alarms', () => {
  const step = fc.integer({ min: 50, max: 90_000 });

  it('ring once each, in order, however long the looks at the clock are apart', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: -600, max: 600 }), { maxLength: 6 }),
        fc.array(step),
        (starts, steps) => {
          const pours = starts.map((s) => pour(BEGUN + s * 1000));
          const begin = BEGUN - 700_000;
          let now = begin;
          const rung: number[] = [];
          for (const by of [...steps, 10_000_000]) {
            rung.push(...passed(pours, now, now + by).map((one) => one.at));
            now += by;
          }
          expect(rung).toEqual(alarms(pours, begin).map((one) => one.at));
          expect(rung).toEqual([...rung].sort((a, b) => a - b));
        },
      ),
    );
  });

  it('of one instant are one', () => {
    expect(alarms([pour()], BEGUN).map((one) => one.marks.map((mark) => mark.key))).toEqual([
      ['mix'],
      ['poured', 'hands_off'],
      ['set'],
      ['release'],
    ]);
  });

  it('remind hands that stay on until the stone sets, and no others', () => {
    const late = reminders([pour()], BEGUN + 151_000);
    expect(late[0]).toBe(BEGUN + 170_000);
    expect(late.at(-1)).toBeLessThan(BEGUN + 300_000);
    expect(reminders([pour()], BEGUN + MIN)).toEqual([]);
    expect(reminders([pour(BEGUN, { hands_off: new Date(BEGUN).toISOString() })], BEGUN + 151_000)).toEqual(
      [],
    );
  });
});

describe('the clock', () => {
  const start = { wall: 1_000_000, steady: 500, server: 2_000_000 };

  it('goes on through sleep, in which the steady clock stands', () => {
    const next = advance(start, start.wall + 600_000, start.steady + 200);
    expect([next.server - start.server, next.jumped]).toEqual([600_000, true]);
  });

  it('is not set back with the clock of the device', () => {
    const next = advance(start, start.wall - 3_600_000, start.steady + 200);
    expect([next.server - start.server, next.jumped]).toEqual([200, true]);
  });

  it('never runs backwards, whatever both clocks do', () => {
    const by = fc.integer({ min: -10_000_000, max: 10_000_000 });
    fc.assert(
      fc.property(by, by, (wall, steady) => {
        expect(advance(start, start.wall + wall, start.steady + steady).server).toBeGreaterThanOrEqual(
          start.server,
        );
      }),
    );
  });

  it('is set by half the way of the answer', () => {
    expect(heard('2026-03-17T09:00:00Z', 100, 300)).toBe(ms('2026-03-17T09:00:00Z') + 100);
  });
});

describe.each(['UTC', 'Europe/Berlin', 'America/St_Johns', 'Asia/Kathmandu'])('moments in %s', (zone) => {
  beforeEach(() => void vi.stubEnv('TZ', zone));
  afterEach(() => void vi.unstubAllEnvs());
  const moment = fc.integer({ min: 0, max: 4_000_000_000 }).map((s) => s * 1000);

  it('are written with their offset and read back, to the second', () => {
    fc.assert(
      fc.property(moment, (at) => {
        expect(ms(withOffset(at))).toBe(at);
      }),
    );
    expect(withOffset(BEGUN)).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$/);
  });

  it('are typed by the clock of the wall', () => {
    fc.assert(
      fc.property(moment, (at) => {
        const typed = fromEntry(forEntry(withOffset(at)));
        // An hour that the clock of the wall has twice may be taken for the other one.
        expect(Math.abs(ms(typed ?? '') - at) % 3_600_000).toBe(0);
      }),
    );
    expect([fromEntry(''), fromEntry('yesterday'), forEntry(null)]).toEqual([null, null, '']);
  });

  it('of another day are old', () => {
    expect([isOld(pour(), BEGUN + 60 * MIN), isOld(pour(), BEGUN + 26 * 60 * MIN)]).toEqual([false, true]);
  });
});

describe('names', () => {
  it('of pours count up and never meet one that is there', () => {
    expect(nextName({}, 'lower')).toEqual({ name: 'lower 1', number: 1 });
    expect(nextName({ 'upper 1': { cast: 'upper' } }, 'lower').name).toBe('lower 1');
    expect(nextName({ x: { cast: 'lower' }, 'lower 2': { cast: 'lower' } }, 'lower').name).toBe('lower 3');
    expect(nextName({ 'lower 2': { cast: 'lower' } }, 'lower').name).toBe('lower 3');
  });

  it('of steps are their words, cut, told apart, and fit for a case file', () => {
    expect(nameFor('  Wipe the magnets ', [])).toBe('Wipe the magnets');
    expect(nameFor('Wipe', ['Wipe', 'Wipe 2'])).toBe('Wipe 3');
    fc.assert(
      fc.property(fc.string(), (text) => {
        const name = nameFor(text, []);
        expect(name.length).toBeLessThanOrEqual(64);
        // eslint-disable-next-line no-control-regex -- what a name may not hold
        expect(name).not.toMatch(/[\x00-\x1f\x7f]/);
      }),
    );
  });

  it('of steps move by one place and not beyond the ends', () => {
    expect(moved(['a', 'b', 'c'], 'b', -1)).toEqual(['b', 'a', 'c']);
    expect(moved(['a', 'b', 'c'], 'b', 1)).toEqual(['a', 'c', 'b']);
    expect([moved(['a'], 'a', 1), moved(['a'], 'a', -1), moved(['a'], 'x', 1)]).toEqual([null, null, null]);
  });
});
