/** What a form shows for an entry, and how what was typed travels. Pure. */
import type { Field } from '../../api/shapes';
import { nameOf, stepsOf } from './names';
import { rowsIn, teethIn, textOf, valueAt, type Json } from './values';

/** What was typed as the value that goes to the server: as typed, or nothing. Teeth and words apart, it stays a text. */
export function valueOf(kind: Field['kind'] | undefined, text: string): Json {
  const trimmed = text.trim();
  if (kind === 'teeth') return trimmed === '' ? null : teethIn(trimmed);
  if (trimmed === '') return null;
  if (kind === 'list') return rowsIn(trimmed);
  if (kind === 'point') return rowsIn(trimmed).flat();
  // Repeats may be joined by a stroke, as in the table of marks.
  if (kind === 'row') return rowsIn(trimmed.replaceAll('/', ' ')).flat();
  if (kind === 'flag') return trimmed === 'true';
  // A cell of a table is one word: repeats are joined without spaces.
  return kind === 'table' ? trimmed.replace(/\s*\/\s*/g, '/').replace(/^\/+|\/+$/g, '') : trimmed;
}

/** Whether two texts of an entry say the same, so that nothing has to be saved. */
export function sameText(kind: Field['kind'] | undefined, a: string, b: string): boolean {
  return JSON.stringify(valueOf(kind, a)) === JSON.stringify(valueOf(kind, b));
}

/** The text of an entry in a case, where none was typed over it. */
export function savedText(entered: Json, cells: ReadonlyMap<string, string>, field: string): string {
  return cells.get(field) ?? textOf(valueAt(entered, field));
}

/** Whether an entry is a cell of a table of readings. */
export function isCell(field: string): boolean {
  const [top, table, ...rest] = stepsOf(field);
  return top === 'marks' && (table === 'readings_mm' || table === 'reseat_mm') && rest.length === 2;
}

export const cellName = (table: string, pair: string, state: string): string =>
  nameOf('marks', table, pair, state);
