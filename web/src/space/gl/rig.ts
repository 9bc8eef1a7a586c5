/** The camera as plain numbers: which way it looks, from how far, at what. y is up, x ahead, z to the patient's right. */
export type Vec = readonly [number, number, number];
export type Rig = {
  /** Turn about the upright axis: 0 looks from the front, a quarter turn from the patient's right. */
  yaw: number;
  /** Height: minus a quarter turn looks from below, a quarter turn from above. */
  pitch: number;
  distance: number;
  target: Vec;
};

export const FOV = (20 * Math.PI) / 180;
const QUARTER = Math.PI / 2;

const add = (a: Vec, b: Vec, by = 1): Vec => [a[0] + by * b[0], a[1] + by * b[1], a[2] + by * b[2]];
export const dot = (a: Vec, b: Vec): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const clamp = (value: number, low: number, high: number) => Math.min(Math.max(value, low), high);

/** Directions of the picture: to its right, up, and from the target back to the camera. Straight up and down have them too. */
export function basis({ yaw, pitch }: Rig): { right: Vec; up: Vec; back: Vec } {
  const [sy, cy, sp, cp] = [Math.sin(yaw), Math.cos(yaw), Math.sin(pitch), Math.cos(pitch)];
  return { right: [sy, 0, -cy], up: [-sp * cy, cp, -sp * sy], back: [cp * cy, sp, cp * sy] };
}

export const eye = (rig: Rig): Vec => add(rig.target, basis(rig).back, rig.distance);

export const turned = (rig: Rig, by: { yaw?: number; pitch?: number }): Rig => ({
  ...rig,
  yaw: rig.yaw + (by.yaw ?? 0),
  pitch: clamp(rig.pitch + (by.pitch ?? 0), -QUARTER, QUARTER),
});

/** `by` above 1 comes nearer. */
export const zoomed = (rig: Rig, by: number, nearest: number, farthest: number): Rig => ({
  ...rig,
  distance: clamp(rig.distance / by, nearest, farthest),
});

/** Moves the target by parts of the picture's height, so that what is under the finger stays there. */
export function moved(rig: Rig, right: number, up: number): Rig {
  const high = 2 * rig.distance * Math.tan(FOV / 2);
  const way = basis(rig);
  return { ...rig, target: add(add(rig.target, way.right, right * high), way.up, up * high) };
}

/** From one rig to another, `part` from 0 to 1; turns the short way round. */
export function between(from: Rig, to: Rig, part: number): Rig {
  const ease = part * part * (3 - 2 * part);
  const mix = (a: number, b: number) => a + (b - a) * ease;
  const turn = Math.atan2(Math.sin(to.yaw - from.yaw), Math.cos(to.yaw - from.yaw));
  return {
    yaw: from.yaw + turn * ease,
    pitch: mix(from.pitch, to.pitch),
    distance: from.distance * (to.distance / from.distance) ** ease,
    target: [
      mix(from.target[0], to.target[0]),
      mix(from.target[1], to.target[1]),
      mix(from.target[2], to.target[2]),
    ],
  };
}

export type Box = { low: Vec; high: Vec };

export const middle = (box: Box): Vec => [
  (box.low[0] + box.high[0]) / 2,
  (box.low[1] + box.high[1]) / 2,
  (box.low[2] + box.high[2]) / 2,
];

/** How far it is from one corner of a box to the opposite one. */
export function across(box: Box): number {
  const way = add(box.high, box.low, -1);
  return Math.max(Math.sqrt(dot(way, way)), 1e-6);
}

/** A rig that looks in a direction and shows the whole of a box in a picture of this width over height. */
export function framing(box: Box, yaw: number, pitch: number, aspect: number): Rig {
  const rig: Rig = { yaw, pitch, distance: 1, target: middle(box) };
  const { right, up, back } = basis(rig);
  const half: Vec = [
    (box.high[0] - box.low[0]) / 2,
    (box.high[1] - box.low[1]) / 2,
    (box.high[2] - box.low[2]) / 2,
  ];
  const reach = (way: Vec) =>
    Math.abs(way[0]) * half[0] + Math.abs(way[1]) * half[1] + Math.abs(way[2]) * half[2];
  const high = Math.max(reach(up), reach(right) / aspect) * 1.06;
  return { ...rig, distance: high / Math.tan(FOV / 2) + reach(back) };
}

export type Side = 'R' | 'L' | 'front' | 'back';

/** What lies at the right and the left edge of the picture: the patient's right or left wherever that can be told. */
export function edges(rig: Rig): { right: Side; left: Side } {
  const { right } = basis(rig);
  if (Math.abs(right[2]) >= 0.5) return right[2] < 0 ? { right: 'L', left: 'R' } : { right: 'R', left: 'L' };
  return right[0] > 0 ? { right: 'front', left: 'back' } : { right: 'back', left: 'front' };
}
