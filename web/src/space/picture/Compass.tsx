import type { Ref } from 'preact';
import type { Pane } from '../gl/panes';
import { basis, dot, type Vec } from '../gl/rig';

export type Needle = SVGSVGElement | null;

const WAYS: Record<string, Vec> = { R: [0, 0, 1], L: [0, 0, -1], A: [1, 0, 0], U: [0, 1, 0] };
const REACH = 21;

/** Turns the little cross so that it shows where the patient's right and left, front and top are. */
export function pointTo(needle: Needle, panes: readonly Pane[]): void {
  const rig = panes[0]?.rig;
  if (needle === null || rig === undefined) return;
  const { right, up } = basis(rig);
  for (const [name, way] of Object.entries(WAYS)) {
    const [x, y] = [dot(way, right) * REACH, -dot(way, up) * REACH];
    needle.querySelector(`[data-arm="${name}"]`)?.setAttribute('x2', `${x}`);
    needle.querySelector(`[data-arm="${name}"]`)?.setAttribute('y2', `${y}`);
    const letter = needle.querySelector(`[data-letter="${name}"]`);
    letter?.setAttribute('x', `${x * 1.35}`);
    letter?.setAttribute('y', `${y * 1.35}`);
    letter?.setAttribute('opacity', Math.hypot(x, y) < REACH * 0.3 ? '0' : '1');
  }
}

/** A cross of directions in the corner; its words are read out, the drawing is not. */
export function Compass({
  needle,
  right,
  left,
}: {
  needle: Ref<SVGSVGElement>;
  right: string;
  left: string;
}) {
  return (
    <svg
      ref={needle}
      class="compass"
      viewBox="-36 -36 72 72"
      role="img"
      aria-label={`R: ${right}. L: ${left}.`}
    >
      {Object.keys(WAYS).map((name) => (
        <g key={name} class={`compass-${name}`}>
          <line data-arm={name} x1="0" y1="0" x2="0" y2="0" />
          {name === 'R' || name === 'L' ? <text data-letter={name}>{name}</text> : null}
        </g>
      ))}
    </svg>
  );
}
