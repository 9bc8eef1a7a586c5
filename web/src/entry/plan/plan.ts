/** Where places of the base stand in the drawing of it. Texts are read for drawing only; nothing is told from it. Pure. */

export type Spot = { key: string; label: string; ahead: string; right: string; kind: 'luted' | 'gap' };
export type Drawn = Spot & { x: number; y: number };

/** A typed number, for drawing; undefined where it is none (yet). */
export function drawn(text: string): number | undefined {
  const plain = text.trim().replace('−', '-').replace(',', '.');
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? parseFloat(plain) : undefined;
}

/** Places in the drawing: millimetres, the front above, the patient's right to the viewer's left. */
export function spotsDrawn(spots: readonly Spot[]): Drawn[] {
  return spots.flatMap((spot) => {
    const [ahead, right] = [drawn(spot.ahead), drawn(spot.right)];
    return ahead === undefined || right === undefined ? [] : [{ ...spot, x: -right, y: -ahead }];
  });
}

export type Frame = { left: number; top: number; width: number; height: number };

/** What of the plane is shown: the base, and every place entered, with room for its words. */
export function frameOf(spots: readonly Drawn[]): Frame {
  const left = Math.min(-62, ...spots.map((spot) => spot.x - 14));
  const right = Math.max(62, ...spots.map((spot) => spot.x + 14));
  const top = Math.min(-122, ...spots.map((spot) => spot.y - 12));
  const bottom = Math.max(18, ...spots.map((spot) => spot.y + 12));
  return { left, top, width: right - left, height: bottom - top };
}

/** A base as one trims it, for orientation: no cast has exactly this outline. */
export const BASE =
  'M-38 -26 C-42 -46 -39 -66 -27 -84 C-18 -98 -8 -106 0 -106 C8 -106 18 -98 27 -84 C39 -66 42 -46 38 -26 C20 -20 -20 -20 -38 -26Z';
