/** Which labels can stand without covering each other, the more important ones first. */
import { type Matrix4, Vector3 } from 'three';
import type { Label, Labels } from './labels';
import type { Pane } from './panes';

/** Which labels give way to which. */
const RANK: Record<Label['style'], number> = {
  landmark: 0,
  chosen: 0,
  first: 1,
  site: 2,
  side: 3,
  tooth: 4,
  contour: 5,
  line: 6,
};

type Taken = { x: number; y: number; w: number; h: number; pane: Pane };

/** Returns the numbers of the labels that stay: in some part of the picture they cover none that stays before them. */
export function uncovered(
  { list, sizes }: Labels,
  aimed: readonly { pane: Pane; matrix: Matrix4 }[],
  size: { wide: number; high: number },
  lower: Matrix4,
): ReadonlySet<number> {
  const taken: Taken[] = [];
  const fits = (label: Label, k: number): boolean => {
    const [w = 0, h = 0] = sizes[k] ?? [];
    let any = false;
    for (const { pane, matrix } of aimed) {
      if (![pane.shown.upper, pane.shown.lower, pane.shown.frame, true][label.group]) continue;
      const at = new Vector3(...label.at);
      if (label.moves) at.applyMatrix4(lower);
      at.applyMatrix4(matrix);
      const x = (at.x + 1) * 0.5 * pane.wide * size.wide;
      const y = (at.y + 1) * 0.5 * pane.high * size.high;
      const hit = taken.some(
        (one) =>
          one.pane === pane && Math.abs(one.x - x) * 2 < one.w + w && Math.abs(one.y - y) * 2 < one.h + h,
      );
      if (hit) continue;
      taken.push({ x, y, w, h, pane });
      any = true;
    }
    return any;
  };
  const ranked = list
    .map((label, k) => ({ label, k }))
    .sort((a, b) => RANK[a.label.style] - RANK[b.label.style] || a.k - b.k);
  return new Set(ranked.filter(({ label, k }) => fits(label, k)).map(({ k }) => k));
}
