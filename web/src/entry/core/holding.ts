/**
 * Entries of a group that is not there yet: an instrument needs its pin, a record its kind. What was typed is held as
 * drafts until everything needed is there, then goes off together. Pure.
 */
import { neededBelow, type Fields } from './fields';
import { NEW, isBelow, nameOf, stepsOf, under } from './names';
import { valueAt, type Json } from './values';

/** `whole`: the outermost group that has to be made; `wanting`: names of entries still needed for it. */
export type Held = { whole: string; wanting: string[] };

/**
 * Whether an entry has to wait for others. Undefined where it can go off alone: everything above it is there.
 * `has` tells whether something was typed for an entry. A step `+` is an item that is to be made.
 */
export function heldBy(
  fields: Fields,
  entered: Json,
  field: string,
  has: (field: string) => boolean,
): Held | undefined {
  const steps = stepsOf(field);
  for (let depth = 1; depth < steps.length; depth += 1) {
    const group = nameOf(...steps.slice(0, depth));
    if (valueAt(entered, group) !== undefined) continue;
    const needed = neededBelow(fields, group);
    // An item in the making goes off as a whole, even where nothing of it is needed.
    if (needed.length === 0 && steps.slice(0, depth).at(-1) !== NEW) continue;
    const names = needed.map((rest) => under(group, ...rest));
    return { whole: group, wanting: names.filter((name) => !has(name)) };
  }
  return undefined;
}

/** Puts values under the names of their entries into one value: what is to stand at `whole`. */
export function together(whole: string, values: ReadonlyMap<string, Json>): Json {
  const depth = stepsOf(whole).length;
  const made: Record<string, Json> = {};
  for (const [name, value] of values) {
    if (!isBelow(name, whole) || name === whole || value === null) continue;
    const rest = stepsOf(name).slice(depth);
    let here = made;
    for (const step of rest.slice(0, -1)) here = (here[step] ??= {}) as Record<string, Json>;
    here[rest.at(-1) ?? ''] = value;
  }
  return made;
}
