import { t } from '../../app/words';
import type { Pane } from '../gl/panes';
import { edges, type Side } from '../gl/rig';

/** What lies at the left and right edge of every part of the picture, as one list: left, right, left, right. */
export const edgesOf = (panes: readonly Pane[]): Side[] =>
  panes.flatMap((pane) => {
    const found = edges(pane.rig);
    return [found.left, found.right];
  });

const WORDS = {
  R: 'space.edge.right',
  L: 'space.edge.left',
  front: 'space.edge.front',
  back: 'space.edge.back',
} as const;
const LETTERS: Record<string, string> = { R: 'R', L: 'L' };
const wordsOf = (side: string) => WORDS[side as Side];

/** Right and left are always written, at the edges of the picture. */
export function Edges({ sides }: { sides: readonly string[] }) {
  return (
    <>
      {sides.map((side, k) => (
        <span key={k} class={`edge edge-${k}`}>
          {LETTERS[side] === undefined ? null : <b>{LETTERS[side]}</b>}
          <span class="edge-word">{t(wordsOf(side))}</span>
        </span>
      ))}
    </>
  );
}
