/** The case as it is once everything on its way is saved: what the server holds, with the edits on top. Pure. */
import type { Edit } from '../../api/shapes';
import { NEW, nameOf, parentOf, stepsOf } from './names';
import { isGroup, valueAt, type Json } from './values';

type Tables = Readonly<Record<string, Json>>;

/** Whether an entry is a cell (or a row) of a table of readings: those are texts in the case and kept apart. */
const inReadings = (steps: readonly string[]) =>
  steps.length > 2 && steps[0] === 'marks' && (steps[1] === 'readings_mm' || steps[1] === 'reseat_mm');

function put(here: Json, steps: readonly string[], value: Json): Json {
  const [step = '', ...rest] = steps;
  const below = (inside: Json) => (rest.length === 0 ? value : put(inside, rest, value));
  if (step === NEW) return [...(Array.isArray(here) ? (here as Json[]) : []), below(undefined)];
  if (Array.isArray(here)) {
    const items = here as Json[];
    const at = items.findIndex((_, index) => `${index + 1}` === step);
    if (at < 0) return here;
    return rest.length === 0 && value === null
      ? items.filter((_, index) => index !== at)
      : items.map((item, index) => (index === at ? below(item) : item));
  }
  const group = isGroup(here) ? here : {};
  if (value === null && rest.length === 0) return without(group, step);
  if (value === null && !(step in group)) return group;
  return { ...group, [step]: below(group[step]) };
}

const without = (group: Tables, name: string): Tables =>
  Object.fromEntries(Object.entries(group).filter(([key]) => key !== name));

/** A case with edits made to it, in order. */
export function withEdits(entered: Json, edits: readonly Edit[]): Json {
  return edits.reduce<Json>((here, edit) => {
    const steps = stepsOf(edit.field);
    return inReadings(steps) ? here : put(here, steps, edit.value);
  }, entered);
}

/** Cells of tables of readings that are on their way, by the names of their entries. */
export function cellsOnTheWay(edits: readonly Edit[]): Map<string, Json> {
  const cells = new Map<string, Json>();
  for (const edit of edits) if (inReadings(stepsOf(edit.field))) cells.set(edit.field, edit.value);
  return cells;
}

/**
 * The name under which an entry is in the case as the server holds it: an item that an edit takes out or adds moves
 * the places behind it, so only names without places before them are sure.
 */
export const stands = (entered: Json, field: string): boolean =>
  valueAt(entered, parentOf(field)) !== undefined;

/** The last place of a list that an edit adds to, as a name: `foils.+` becomes `foils.3`. */
export function placeOfNew(entered: Json, field: string): string {
  const steps = stepsOf(field);
  const at = steps.indexOf(NEW);
  if (at < 0) return field;
  const list = valueAt(entered, nameOf(...steps.slice(0, at)));
  const next = (Array.isArray(list) ? list.length : 0) + 1;
  return nameOf(...steps.slice(0, at), next, ...steps.slice(at + 1));
}
