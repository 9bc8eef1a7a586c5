/**
 * From what is typed to what is saved. An entry is a draft while it is typed, goes to the outbox when its box is left,
 * and waits as a draft where its group needs more before it can stand.
 */
import { computed } from '@preact/signals';
import type { Edit } from '../../api/shapes';
import { theCase } from '../../app/current';
import { discard, enter, outbox, pending } from '../../app/outbox';
import { draft, draftsOf, dropDraft, keepDraft } from './drafts';
import { fieldAt, neededBelow, type Fields } from './fields';
import { heldBy, together, type Held } from './holding';
import { fields } from './knowledge';
import { NEW, isBelow, stepsOf, under } from './names';
import { isCell, sameText, savedText, valueOf } from './reading';
import { cellsOnTheWay, placeOfNew, withEdits } from './typed';
import { noteEntry } from './undoing';
import { isGroup, textOf, valueAt, type Json } from './values';

/** Edits of the case in hand that are not saved yet, in order. */
export const onTheWay = computed<Edit[]>(() => {
  const id = theCase.value?.id;
  return outbox.value.filter((batch) => batch.caseId === id).flatMap((batch) => batch.edits);
});

/** The case as it is once everything on its way is saved. */
export const typedCase = computed<Json>(() => withEdits(theCase.value?.entered ?? {}, onTheWay.value));

const shownCells = computed<ReadonlyMap<string, string>>(() => {
  const cells = new Map<string, string>();
  for (const grid of theCase.value?.marks ?? []) {
    for (const row of grid.rows) for (const cell of row.cells) cells.set(cell.field, cell.shown);
  }
  return cells;
});

const cells = computed<ReadonlyMap<string, string>>(() => {
  const found = new Map(shownCells.value);
  for (const [field, value] of cellsOnTheWay(onTheWay.value)) found.set(field, textOf(value));
  return found;
});

/** The text of an entry as handed on: saved, or on its way. */
export const handedOn = (field: string): string => savedText(typedCase.value, cells.value, field);

/** The text of an entry as the server holds it. */
export const saved = (field: string): string =>
  savedText(theCase.value?.entered ?? {}, shownCells.value, field);

const kindOf = (known: Fields, field: string) => (isCell(field) ? 'table' : fieldAt(known, field)?.kind);

/** Whether an entry has to wait for others of its group, and for which. */
export function held(field: string): Held | undefined {
  const known = fields();
  const found = theCase.value;
  if (known === null || found === null || isCell(field)) return undefined;
  // What is assumed while nothing is entered need not be typed: it goes along.
  const has = (name: string) => (draft(found.id, name) ?? '').trim() !== '' || assumedFor(known, name) !== '';
  return heldBy(known, typedCase.value, field, has);
}

const assumedFor = (known: Fields, field: string): string => fieldAt(known, field)?.assumed ?? '';

type Change = { field: string; value: Json };

/** The edits that hand on what was typed for an entry; none where it has to wait for others. */
export function editsFor(caseId: number, field: string, known: Fields): Change[] {
  const waits = held(field);
  if (waits === undefined) {
    const text = draft(caseId, field);
    return text === undefined ? [] : [{ field, value: valueOf(kindOf(known, field), text) }];
  }
  if (waits.wanting.length > 0) return [];
  const values = new Map<string, Json>();
  for (const rest of neededBelow(known, waits.whole)) {
    const name = under(waits.whole, ...rest);
    if (assumedFor(known, name) !== '') values.set(name, assumedFor(known, name));
  }
  for (const [name, text] of draftsOf(caseId)) {
    if (isBelow(name, waits.whole) && text.trim() !== '')
      values.set(name, valueOf(kindOf(known, name), text));
  }
  const made = together(waits.whole, values);
  const deep = isGroup(made) && Object.values(made).some(isGroup) && !stepsOf(waits.whole).includes(NEW);
  if (!deep) return [{ field: waits.whole, value: made }];
  return [...values].flatMap(([name, value]) => (value === null ? [] : [{ field: name, value }]));
}

/** Keeps what is typed from the first letter on. Typing what is there already leaves nothing to keep. */
export function type(caseId: number, field: string, text: string): void {
  if (text === handedOn(field)) dropDraft(caseId, field);
  else keepDraft(caseId, field, text);
}

/** Hands on what was typed for an entry. Comes back with the name under which it then stands; null where it waits. */
export function handOn(caseId: number, field: string, what = ''): string | null {
  const known = fields();
  const text = draft(caseId, field);
  const found = theCase.value;
  if (known === null || text === undefined || found?.id !== caseId) return null;
  if (sameText(kindOf(known, field), text, handedOn(field)) && held(field) === undefined) {
    dropDraft(caseId, field);
    return field;
  }
  const edits = editsFor(caseId, field, known);
  if (edits.length === 0) return null;
  const place = placeOfNew(typedCase.value, field);
  send(caseId, edits, what);
  return place;
}

/** Sends edits as one entry, which is undone as one. Drafts of what they hold are handed on with them. */
export function send(caseId: number, edits: readonly Change[], what = ''): void {
  const found = theCase.value;
  if (found?.id !== caseId || edits.length === 0) return;
  const before = edits.map(({ field }) => ({ field, value: valueBefore(field) }));
  const outcome = enter(caseId, found.revision, [...edits], what);
  for (const name of draftsOf(caseId).keys()) {
    if (edits.some(({ field }) => isBelow(name, field))) dropDraft(caseId, name);
  }
  noteEntry({ caseId, fields: edits.map(({ field }) => field), before, base: found.revision, outcome });
}

function valueBefore(field: string): Json {
  if (isCell(field)) return handedOn(field) === '' ? null : handedOn(field);
  return valueAt(typedCase.peek(), field) ?? null;
}

/** Types and hands on in one go: a choice, a tap. */
export function put(caseId: number, field: string, text: string, what = ''): string | null {
  type(caseId, field, text);
  return handOn(caseId, field, what);
}

/** Puts back what is saved: first what is being typed goes, then what the server refused. */
export function restore(caseId: number, field: string): boolean {
  if (draft(caseId, field) !== undefined) {
    dropDraft(caseId, field);
    return true;
  }
  const late = pending(caseId, field);
  if (late?.batch.state === 'refused' && late.batch.edits.length === 1) {
    discard(late.batch.key);
    return true;
  }
  return false;
}

/** Takes an entry out: an item, a row, a name. Drafts below it go with it. */
export function takeOut(caseId: number, field: string, what = ''): void {
  for (const name of draftsOf(caseId).keys()) if (isBelow(name, field)) dropDraft(caseId, name);
  if (valueAt(typedCase.value, field) !== undefined || isReadingsRow(field))
    send(caseId, [{ field, value: null }], what);
}

const isReadingsRow = (field: string) => {
  const [top, table, ...rest] = stepsOf(field);
  return top === 'marks' && (table === 'readings_mm' || table === 'reseat_mm') && rest.length > 0;
};
