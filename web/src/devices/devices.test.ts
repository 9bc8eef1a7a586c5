import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readRoute } from '../app/route';
import { clockText, secondsLeft } from './left';
import { codeIn } from './Unpaired';

const NOON = Date.parse('2031-05-06T12:00:00Z');

describe('the time left of a code', () => {
  it('is counted from the moment of its end, whatever its offset', () => {
    expect(secondsLeft('2031-05-06T12:05:00Z', NOON)).toBe(300);
    expect(secondsLeft('2031-05-06T14:05:00+02:00', NOON)).toBe(300);
    expect(secondsLeft('2031-05-06T12:00:00.001Z', NOON)).toBe(1);
  });

  it('is over at the moment, after it, and where nobody can say', () => {
    expect(secondsLeft('2031-05-06T12:00:00Z', NOON)).toBe(0);
    expect(secondsLeft('2030-05-06T12:00:00Z', NOON)).toBe(0);
    expect(secondsLeft('soon', NOON)).toBe(0);
  });

  it('never grows while time goes on', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1e6 }), fc.integer({ min: 0, max: 1e6 }), (a, b) => {
        const end = '2031-05-06T12:05:00Z';
        const [soon, late] = a < b ? [a, b] : [b, a];
        return secondsLeft(end, NOON + soon) >= secondsLeft(end, NOON + late);
      }),
    );
  });

  it('is shown as a clock shows it', () => {
    expect([300, 299, 61, 60, 9, 0].map(clockText)).toEqual(['5:00', '4:59', '1:01', '1:00', '0:09', '0:00']);
  });
});

describe('the code in an address', () => {
  it('is that behind the picture', () => {
    const at = readRoute('#/devices/pair/ABCD-EFGH');
    expect(at.view === 'devices' && codeIn(at.view, at.rest)).toBe('ABCD-EFGH');
  });

  it('is none elsewhere', () => {
    expect(codeIn('devices', [])).toBe('');
    expect(codeIn('devices', ['pair'])).toBe('');
    expect(codeIn('cases', ['pair', 'ABCD-EFGH'])).toBe('');
  });
});
