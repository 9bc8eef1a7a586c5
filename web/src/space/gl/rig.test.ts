import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  basis,
  between,
  dot,
  edges,
  eye,
  framing,
  FOV,
  moved,
  turned,
  zoomed,
  type Rig,
  type Vec,
} from './rig';

const turn = fc.double({ min: -7, max: 7, noNaN: true });
const height = fc.double({ min: -Math.PI / 2, max: Math.PI / 2, noNaN: true });
const rigs = fc.record({
  yaw: turn,
  pitch: height,
  distance: fc.double({ min: 5, max: 900, noNaN: true }),
  target: fc.constant<Vec>([70, -40, 2]),
});
const away = (a: Vec, b: Vec): Vec => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];

describe('the camera', () => {
  it('has three directions square to each other, also from straight above and below', () => {
    fc.assert(
      fc.property(rigs, (rig) => {
        const { right, up, back } = basis(rig);
        for (const one of [right, up, back]) expect(dot(one, one)).toBeCloseTo(1, 9);
        for (const [a, b] of [
          [right, up],
          [up, back],
          [back, right],
        ] as const)
          expect(dot(a, b)).toBeCloseTo(0, 9);
        // Right-handed: right x up = back.
        expect(right[1] * up[2] - right[2] * up[1]).toBeCloseTo(back[0], 9);
      }),
    );
  });

  it('stands as far from its target as it says', () => {
    fc.assert(
      fc.property(rigs, (rig) => {
        const way = away(eye(rig), rig.target);
        expect(Math.sqrt(dot(way, way))).toBeCloseTo(rig.distance, 6);
      }),
    );
  });

  it('goes from one place to another and begins and ends there', () => {
    fc.assert(
      fc.property(rigs, rigs, (a, b) => {
        expect(eye(between(a, b, 0))[0]).toBeCloseTo(eye(a)[0], 6);
        const end = eye(between(a, b, 1));
        eye(b).forEach((value, axis) => expect(end[axis]).toBeCloseTo(value, 5));
      }),
    );
  });

  it('never turns over, never comes too near', () => {
    const rig: Rig = { yaw: 0, pitch: 1.5, distance: 100, target: [0, 0, 0] };
    expect(turned(rig, { pitch: 4 }).pitch).toBe(Math.PI / 2);
    expect(zoomed(rig, 1000, 20, 900).distance).toBe(20);
    expect(zoomed(rig, 0.001, 20, 900).distance).toBe(900);
  });

  it('moves what is in the middle by the part of the picture asked for', () => {
    fc.assert(
      fc.property(rigs, (rig) => {
        const way = away(moved(rig, 0.25, 0).target, rig.target);
        expect(dot(way, basis(rig).right)).toBeCloseTo(0.5 * rig.distance * Math.tan(FOV / 2), 6);
      }),
    );
  });

  it('shows the whole of a box', () => {
    const box = { low: [40, -75, -36] as Vec, high: [95, -9, 36] as Vec };
    fc.assert(
      fc.property(turn, height, fc.double({ min: 0.5, max: 2.5, noNaN: true }), (yaw, pitch, aspect) => {
        const rig = framing(box, yaw, pitch, aspect);
        const { right, up, back } = basis(rig);
        for (const x of [40, 95])
          for (const y of [-75, -9])
            for (const z of [-36, 36]) {
              const at = away([x, y, z], eye(rig));
              const depth = -dot(at, back);
              expect(depth).toBeGreaterThan(0);
              expect(Math.abs(dot(at, up)) / depth).toBeLessThanOrEqual(Math.tan(FOV / 2));
              expect(Math.abs(dot(at, right)) / depth).toBeLessThanOrEqual(aspect * Math.tan(FOV / 2));
            }
      }),
    );
  });
});

describe('right and left are the patient’s', () => {
  const at = (yaw: number, pitch = 0) => edges({ yaw, pitch, distance: 1, target: [0, 0, 0] });
  it.each([
    ['from the front', at(0), { left: 'R', right: 'L' }],
    ['from behind', at(Math.PI), { left: 'L', right: 'R' }],
    ['from below, as printed', at(0, -Math.PI / 2), { left: 'R', right: 'L' }],
    ['from above, as printed', at(0, Math.PI / 2), { left: 'R', right: 'L' }],
    ['from the patient’s right', at(Math.PI / 2), { left: 'back', right: 'front' }],
    ['from the patient’s left', at(-Math.PI / 2), { left: 'front', right: 'back' }],
  ])('%s', (_, found, wanted) => expect(found).toEqual(wanted));

  it('agree with where the patient’s right really is, from everywhere', () => {
    fc.assert(
      fc.property(rigs, (rig) => {
        const said = edges(rig).right;
        const toTheRight = basis(rig).right[2];
        if (said === 'R') expect(toTheRight).toBeGreaterThan(0);
        if (said === 'L') expect(toTheRight).toBeLessThan(0);
      }),
    );
  });
});
