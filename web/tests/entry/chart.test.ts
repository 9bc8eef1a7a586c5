import { describe, expect, it } from 'vitest';
import { HEIGHT, PLACED, WIDTH } from '../../src/entry/chart/shapes';
import { LOWER, neighbour, numberOf, TEETH, toothCalled, UPPER } from '../../src/entry/chart/teeth';

const place = (iso: string) => {
  const found = PLACED.find((one) => one.tooth.iso === iso);
  if (found === undefined) throw new Error(iso);
  return found;
};

describe('teeth of the chart', () => {
  it('are called by both systems as ISO 3950 and the 1-32 system call them', () => {
    const pairs: [string, string][] = [
      ['18', '1'],
      ['11', '8'],
      ['21', '9'],
      ['28', '16'],
      ['38', '17'],
      ['31', '24'],
      ['41', '25'],
      ['48', '32'],
      ['15', '4'],
      ['46', '30'],
    ];
    for (const [iso, universal] of pairs) {
      const tooth = toothCalled(iso, 'iso3950');
      expect(tooth?.iso).toBe(iso);
      expect(tooth && numberOf(tooth, 'universal')).toBe(universal);
      expect(toothCalled(universal, 'universal')).toBe(tooth);
    }
    expect(new Set(TEETH.map((tooth) => numberOf(tooth, 'universal'))).size).toBe(32);
    expect(toothCalled('55', 'iso3950')).toBeUndefined();
  });

  it('have their classes', () => {
    const classes = UPPER.map((tooth) => tooth.class[0]).join('');
    expect(classes).toBe('mmmppciiiicppmmm');
    expect(LOWER.map((tooth) => tooth.class[0]).join('')).toBe(classes);
  });

  it('are passed by the arrows from the patient right to the left, and from jaw to jaw', () => {
    const named = (iso: string, key: string) => {
      const tooth = toothCalled(iso, 'iso3950');
      return tooth && neighbour(tooth, key)?.iso;
    };
    expect(named('11', 'ArrowRight')).toBe('21');
    expect(named('11', 'ArrowLeft')).toBe('12');
    expect(named('18', 'ArrowLeft')).toBeUndefined();
    expect(named('16', 'ArrowDown')).toBe('46');
    expect(named('36', 'ArrowUp')).toBe('26');
    expect(named('48', 'End')).toBe('38');
  });
});

describe('the drawing', () => {
  it("has the patient's right on the viewer's left, the upper above, and is even on both sides", () => {
    for (const [right, left] of [
      ['18', '28'],
      ['14', '24'],
      ['11', '21'],
      ['48', '38'],
      ['43', '33'],
    ] as const) {
      const [a, b] = [place(right), place(left)];
      expect(a.x).toBeLessThan(WIDTH / 2);
      expect(a.x + b.x).toBeCloseTo(WIDTH, 6);
      expect(a.y).toBeCloseTo(b.y, 6);
    }
    for (const tooth of UPPER) expect(place(tooth.iso).y).toBeLessThan(HEIGHT / 2);
    for (const tooth of LOWER) expect(place(tooth.iso).y).toBeGreaterThan(HEIGHT / 2);
  });

  it('has the front teeth in front', () => {
    expect(place('11').y).toBeLessThan(place('13').y);
    expect(place('13').y).toBeLessThan(place('18').y);
    expect(place('41').y).toBeGreaterThan(place('43').y);
  });

  it('gives a finger room: middles of neighbours stand well apart, words stay on the sheet', () => {
    for (const row of [UPPER, LOWER]) {
      row.slice(1).forEach((tooth, at) => {
        const [a, b] = [place(row[at]?.iso ?? ''), place(tooth.iso)];
        expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeGreaterThan(42);
      });
    }
    for (const one of PLACED) {
      expect(one.labelX).toBeGreaterThan(14);
      expect(one.labelX).toBeLessThan(WIDTH - 14);
      expect(one.labelY).toBeGreaterThan(10);
      expect(one.labelY).toBeLessThan(HEIGHT - 10);
    }
  });
});
