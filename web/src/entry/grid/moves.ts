/** Where the keyboard goes in a table of entries. Pure. */

export type Place = { row: number; column: number };
/** Which way Enter goes on: down a column (one state at all pairs), or along a row (one pair in all states). */
export type Way = 'down' | 'right';
export type Size = { rows: number; columns: number };

const last = ({ rows, columns }: Size): Place => ({ row: rows - 1, column: columns - 1 });

/** The next cell on the way; null behind the last one. At the end of a column the next one begins, at its top. */
export function onward(at: Place, size: Size, way: Way): Place | null {
  if (way === 'down') {
    if (at.row + 1 < size.rows) return { ...at, row: at.row + 1 };
    return at.column + 1 < size.columns ? { row: 0, column: at.column + 1 } : null;
  }
  if (at.column + 1 < size.columns) return { ...at, column: at.column + 1 };
  return at.row + 1 < size.rows ? { row: at.row + 1, column: 0 } : null;
}

/** The cell before on the way; null before the first one. */
export function backward(at: Place, size: Size, way: Way): Place | null {
  const turned = onward(turn(at, size), size, way);
  return turned === null ? null : turn(turned, size);
}

const turn = (at: Place, size: Size): Place => ({
  row: last(size).row - at.row,
  column: last(size).column - at.column,
});

/** What of the text is chosen: the caret, or a stretch. */
export type Caret = { start: number; end: number; length: number };

/** Arrows leave a cell sideways only from its ends, or while all of it is chosen: inside, they move the caret. */
const atStart = (caret: Caret) => caret.start === 0 && (caret.end === 0 || caret.end === caret.length);
const atEnd = (caret: Caret) =>
  caret.end === caret.length && (caret.start === 0 || caret.start === caret.length);

type Key = { key: string; ctrlKey: boolean; metaKey: boolean; shiftKey: boolean; altKey: boolean };

/** Where a key leads from a cell: a place, `end` behind the last cell, or undefined where the key is the text's own. */
export function placeFor(key: Key, at: Place, size: Size, way: Way, caret: Caret): Place | 'end' | undefined {
  if (key.altKey) return undefined;
  if (key.ctrlKey || key.metaKey) {
    if (key.key === 'Home') return { row: 0, column: 0 };
    return key.key === 'End' ? last(size) : undefined;
  }
  if (key.key === 'Enter') {
    if (key.shiftKey) return backward(at, size, way) ?? at;
    return onward(at, size, way) ?? 'end';
  }
  if (key.shiftKey) return undefined;
  switch (key.key) {
    case 'ArrowUp':
      return { ...at, row: Math.max(0, at.row - 1) };
    case 'ArrowDown':
      return { ...at, row: Math.min(size.rows - 1, at.row + 1) };
    case 'ArrowLeft':
      return atStart(caret) ? { ...at, column: Math.max(0, at.column - 1) } : undefined;
    case 'ArrowRight':
      return atEnd(caret) ? { ...at, column: Math.min(size.columns - 1, at.column + 1) } : undefined;
    default:
      return undefined;
  }
}
