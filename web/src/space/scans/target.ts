/** Which entry the next tap on a cast fills. */
import { signal } from '@preact/signals';
import { NEW, stepsOf, under } from '../../entry/core/names';

/** Entry of a place on a scan; null where none is in hand. */
export const target = signal<string | null>(null);

/** Steps of a placement that are places by themselves. */
const PLACES = new Set(['incisors', 'right_molar', 'left_molar']);
const LISTS = new Set(['landmarks', 'hinge_distances']);

/** The entry of a place that belongs to an entry in hand: itself, or the place of the same landmark. */
export function placeOf(field: string, placement: string): string | null {
  if (!field.startsWith(`${placement}.`)) return null;
  const [first = '', second] = stepsOf(field.slice(placement.length + 1));
  if (first === 'average' && second !== undefined && PLACES.has(second)) return field;
  if (LISTS.has(first) && second !== undefined) return under(placement, first, second, 'scan');
  return null;
}

/** The place of a landmark that is to be made. */
export const newPlace = (placement: string, list: 'landmarks' | 'hinge_distances'): string =>
  under(placement, list, NEW, 'scan');

/** Where to go on after a place was filled: what the landmark is called. */
export const nextTo = (field: string): string => field.replace(/\.scan$/, '.name');
