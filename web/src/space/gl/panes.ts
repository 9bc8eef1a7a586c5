/** Which views there are, and how the picture is divided for them. */
import { framing, middle, type Box, type Rig, type Vec } from './rig';

export const VIEWS = ['both', 'upper', 'lower', 'front', 'right', 'left', 'whole'] as const;
export type View = (typeof VIEWS)[number];
export type Shown = { upper: boolean; lower: boolean; frame: boolean };
/** A part of the picture: where it lies (parts of the whole, from the left and the top), how it looks, what it shows. */
export type Pane = { left: number; top: number; wide: number; high: number; rig: Rig; shown: Shown };

const QUARTER = Math.PI / 2;
const WAYS: Record<Exclude<View, 'both'>, { yaw: number; pitch: number }> = {
  upper: { yaw: 0, pitch: -QUARTER },
  lower: { yaw: 0, pitch: QUARTER },
  front: { yaw: 0, pitch: 0.06 },
  right: { yaw: QUARTER, pitch: 0.04 },
  left: { yaw: -QUARTER, pitch: 0.04 },
  whole: { yaw: 0.95, pitch: 0.3 },
};

/** What there is to look at: the teeth and the whole of each cast, and the lines of the instrument. */
export type Boxes = {
  upper: Box | null;
  lower: Box | null;
  upperTeeth: Box | null;
  lowerTeeth: Box | null;
  frame: Box;
};

export function around(boxes: readonly (Box | null)[]): Box | null {
  const found = boxes.filter((box) => box !== null);
  const [first] = found;
  if (first === undefined) return null;
  const pick = (of: (a: number, b: number) => number, end: 'low' | 'high'): Vec =>
    found.reduce<Vec>(
      (so, box) => [of(so[0], box[end][0]), of(so[1], box[end][1]), of(so[2], box[end][2])],
      first[end],
    );
  return { low: pick(Math.min, 'low'), high: pick(Math.max, 'high') };
}

export const widened = (box: Box, by: number): Box => ({
  low: [box.low[0] - by, box.low[1] - by, box.low[2] - by],
  high: [box.high[0] + by, box.high[1] + by, box.high[2] + by],
});

/** Whether two parts of the picture stand beside each other, or one over the other. */
export const beside = (aspect: number): boolean => aspect >= 1.15;

/** The parts of the picture for a view, in a picture of this width over height. */
export function panes(view: View, boxes: Boxes, aspect: number): Pane[] {
  const upper = boxes.upperTeeth ?? boxes.upper;
  const lower = boxes.lowerTeeth ?? boxes.lower;
  const whole = { left: 0, top: 0, wide: 1, high: 1 };
  const look = (box: Box | null, way: { yaw: number; pitch: number }, aspectOf: number) =>
    framing(widened(box ?? boxes.frame, 3), way.yaw, way.pitch, aspectOf);
  if (view === 'both') {
    const half = beside(aspect) ? { wide: 0.5, high: 1 } : { wide: 1, high: 0.5 };
    const aspectOf = (aspect * half.wide) / half.high;
    const rigs = [look(upper, WAYS.upper, aspectOf), look(lower, WAYS.lower, aspectOf)] as const;
    // One scale for both, as in the printed views.
    const distance = Math.max(rigs[0].distance, rigs[1].distance);
    const second = beside(aspect) ? { left: 0.5, top: 0 } : { left: 0, top: 0.5 };
    return [
      {
        left: 0,
        top: 0,
        ...half,
        rig: { ...rigs[0], distance },
        shown: { upper: true, lower: false, frame: false },
      },
      {
        ...second,
        ...half,
        rig: { ...rigs[1], distance },
        shown: { upper: false, lower: true, frame: false },
      },
    ];
  }
  const shown = { upper: view !== 'lower', lower: view !== 'upper', frame: view === 'whole' };
  const casts = around([boxes.upper, boxes.lower]);
  const box = { upper, lower, front: casts, right: casts, left: casts, whole: around([casts, boxes.frame]) }[
    view
  ];
  return [{ ...whole, rig: look(box, WAYS[view], aspect), shown }];
}

/** The rig of the other half of a picture of both casts: turned as a book is opened. */
export const mirrored = (rig: Rig, target: Vec): Rig => ({ ...rig, pitch: -rig.pitch, target });

/** A nearer look at a place, from where the rig looks now. */
export const near = (rig: Rig, target: Vec, distance: number): Rig => ({ ...rig, target, distance });

/** A box around points. */
export function boxOf(points: readonly Vec[]): Box | null {
  return around(points.map((point) => ({ low: point, high: point })));
}

export const centre = (boxes: Boxes): Vec => middle(around([boxes.upper, boxes.lower]) ?? boxes.frame);
