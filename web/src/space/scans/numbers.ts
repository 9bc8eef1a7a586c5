/** Numbers out of what was typed for a place: only to draw a mark there. */
import type { Vec } from '../gl/rig';

/** Three numbers in a text, with decimal points or commas; null where there are not three. */
export function placeIn(text: string): Vec | null {
  const words = text
    .trim()
    .split(/[\s;[\]]+|,(?=\s)/)
    .filter((word) => word !== '')
    .map((word) => parseFloat(word.replace(',', '.').replace('−', '-')));
  const [x, y, z] = words;
  if (words.length !== 3 || x === undefined || y === undefined || z === undefined) return null;
  return [x, y, z].every(Number.isFinite) ? [x, y, z] : null;
}
