/** The drawing of the chart: outlines of teeth seen from occlusal, set along two arcs. A picture, not to scale. Pure. */
import { LOWER, UPPER, type Jaw, type Tooth, type ToothClass } from './teeth';

export type Placed = {
  tooth: Tooth;
  x: number;
  y: number;
  turn: number;
  path: string;
  labelX: number;
  labelY: number;
};

/** Width of the drawing, and of its margins for the words on both sides. */
export const WIDTH = 720;
export const HEIGHT = 700;
const MIDDLE_X = WIDTH / 2;

/** Half widths along the arc and across it. Front teeth are drawn wider than they are, so that a finger finds each. */
const HALF: Readonly<Record<ToothClass, { along: number; across: number }>> = {
  incisor: { along: 21, across: 14 },
  canine: { along: 21, across: 19 },
  premolar: { along: 21, across: 23 },
  molar: { along: 26, across: 27 },
};
const BETWEEN = 3;
/** Half axes of the arc on which the middles of the teeth stand, and how far its ends go on straight. */
const ARC = { x: 248, y: 232 };
const LABEL_OUT = 46;

type Point = { x: number; y: number };

/** Points of half an arch from the middle line backwards, close together: a quarter of an ellipse, then straight. */
function halfArch(): Point[] {
  const quarter = Array.from({ length: 241 }, (_, i) => {
    const angle = (i / 240) * (Math.PI / 2);
    return { x: ARC.x * Math.sin(angle), y: ARC.y * (1 - Math.cos(angle)) };
  });
  const straight = Array.from({ length: 60 }, (_, i) => ({ x: ARC.x, y: ARC.y + 3 * (i + 1) }));
  return [...quarter, ...straight];
}

/** Where the middles of eight teeth lie on half an arch, with the direction of the arc there. */
function middles(classes: readonly ToothClass[]): (Point & { turn: number })[] {
  const line = halfArch();
  const found: (Point & { turn: number })[] = [];
  let walked = 0;
  let at = 1;
  let edge = BETWEEN / 2;
  for (const kind of classes) {
    const goal = edge + HALF[kind].along;
    for (; at < line.length; at += 1) {
      const [a, b] = [line[at - 1], line[at]];
      if (a === undefined || b === undefined) break;
      const step = Math.hypot(b.x - a.x, b.y - a.y);
      if (walked + step >= goal) {
        const part = (goal - walked) / step;
        const turn = (Math.atan2(b.y - a.y, b.x - a.x) * 180) / Math.PI;
        found.push({ x: a.x + part * (b.x - a.x), y: a.y + part * (b.y - a.y), turn });
        break;
      }
      walked += step;
    }
    edge = goal + HALF[kind].along + BETWEEN;
  }
  return found;
}

const r = (value: number) => Math.round(value * 10) / 10;

/**
 * A rounded outline about the origin, its length along x, its outer side towards negative y. `round` from 0 (a
 * diamond's flat sides) to 1 (nearly a rectangle); `inner` is the share of its length that the inner side keeps.
 */
function rounded(along: number, across: number, round: number, inner: number): string {
  const out = { x: along * round, y: across * round };
  const small = along * inner;
  return [
    `M${r(-along)} 0`,
    `C${r(-along)} ${r(-out.y)} ${r(-out.x)} ${r(-across)} 0 ${r(-across)}`,
    `S${r(along)} ${r(-out.y)} ${r(along)} 0`,
    `C${r(small)} ${r(out.y)} ${r(small * round)} ${r(across)} 0 ${r(across)}`,
    `S${r(-small)} ${r(out.y)} ${r(-along)} 0Z`,
  ].join('');
}

const OUTLINE: Readonly<Record<ToothClass, string>> = {
  incisor: rounded(HALF.incisor.along, HALF.incisor.across, 0.78, 0.86),
  canine: rounded(HALF.canine.along, HALF.canine.across, 0.58, 0.8),
  premolar: rounded(HALF.premolar.along, HALF.premolar.across, 0.68, 0.92),
  molar: rounded(HALF.molar.along, HALF.molar.across, 0.86, 0.94),
};

const TOP = 74;

function placed(row: readonly Tooth[], jaw: Jaw): Placed[] {
  const half = middles(row.slice(8).map((tooth) => tooth.class));
  const upright = (y: number) => (jaw === 'upper' ? TOP + y : HEIGHT - TOP - y);
  return row.map((tooth, at) => {
    const right = at < 8;
    const spot = half[right ? 7 - at : at - 8] ?? { x: 0, y: 0, turn: 0 };
    const side = right ? -1 : 1;
    const flip = jaw === 'upper' ? 1 : -1;
    const angle = (spot.turn * Math.PI) / 180;
    // Outwards is at a right angle to the arc.
    const outX = side * Math.sin(angle) * LABEL_OUT;
    const outY = -flip * Math.cos(angle) * LABEL_OUT;
    const x = MIDDLE_X + side * spot.x;
    const y = upright(spot.y);
    const turn = jaw === 'upper' ? side * spot.turn : 180 - side * spot.turn;
    return {
      tooth,
      x: r(x),
      y: r(y),
      turn: r(turn),
      path: OUTLINE[tooth.class],
      labelX: r(x + outX),
      labelY: r(y + outY),
    };
  });
}

/** All teeth of the chart with their places in the drawing. */
export const PLACED: readonly Placed[] = [...placed(UPPER, 'upper'), ...placed(LOWER, 'lower')];
