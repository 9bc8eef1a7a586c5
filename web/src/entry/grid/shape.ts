/** Rows and columns of a table of readings, with those that are on their way. Pure. */
import type { Edit, Shapes } from '../../api/shapes';
import { EVERY, stepsOf } from '../core/names';
import { isGroup, namesAt, valueAt, type Json } from '../core/values';

export type TableName = 'readings_mm' | 'reseat_mm';
export type State = { name: string; kind: string; record: string; note: string };
export type Shape = { pairs: string[]; states: string[] };

type Grid = Shapes['MarkGridOut'];

/** The pairs and states of a table: what the server holds, then what edits add, less what they take out. */
export function shapeOf(
  table: TableName,
  grids: readonly Grid[],
  edits: readonly Edit[],
  named: readonly string[],
): Shape {
  const grid = grids.find((one) => one.table === table);
  const pairs = new Set(grid?.rows.map((row) => row.pair));
  const states = new Set([...(grid?.states.map((state) => state.name) ?? []), ...named]);
  for (const edit of edits) {
    const [top, name, pair, state] = stepsOf(edit.field);
    if (top !== 'marks' || name !== table || pair === undefined) continue;
    const out = edit.value === null;
    if (pair === EVERY && state !== undefined) {
      if (out) states.delete(state);
      else states.add(state);
    } else if (state === undefined) {
      if (out) pairs.delete(pair);
      else pairs.add(pair);
      if (isGroup(edit.value)) for (const column of Object.keys(edit.value)) states.add(column);
    } else if (!out) {
      pairs.add(pair);
      states.add(state);
    }
  }
  return { pairs: [...pairs], states: [...states] };
}

/** What is entered of each state, by its name. */
export function statesOf(entered: Json): Map<string, State> {
  return new Map(
    namesAt(entered, 'marks.states').map((name) => {
      const found = valueAt(entered, 'marks.states');
      const state = isGroup(found) ? found[name] : undefined;
      const text = (step: string) => (isGroup(state) && typeof state[step] === 'string' ? state[step] : '');
      return [name, { name, kind: text('kind'), record: text('record'), note: text('note') }];
    }),
  );
}

/** The two marks of a pair: the upper, a hyphen, the lower. Marks that are known go before the first hyphen. */
export function marksOf(
  pair: string,
  known: readonly string[],
): { upper: string; lower: string } | undefined {
  const ways = Array.from(pair, (letter, at) =>
    letter === '-' ? [{ upper: pair.slice(0, at), lower: pair.slice(at + 1) }] : [],
  ).flat();
  const whole = ways.filter(({ upper, lower }) => upper !== '' && lower !== '');
  return whole.find(({ upper, lower }) => known.includes(upper) && known.includes(lower)) ?? whole[0];
}

/** Pairs that can be made of the marks there are, straight ones first: those whose names end alike. */
export function pairsToOffer(entered: Json, taken: readonly string[]): string[] {
  const places = valueAt(entered, 'marks.places');
  const on = (arch: string) =>
    namesAt(entered, 'marks.places').filter((name) => {
      const place = isGroup(places) ? places[name] : undefined;
      return isGroup(place) && place['arch'] === arch;
    });
  const all = on('upper').flatMap((upper) => on('lower').map((lower) => ({ upper, lower })));
  const straight = ({ upper, lower }: { upper: string; lower: string }) => upper.slice(1) === lower.slice(1);
  return [...all.filter(straight), ...all.filter((pair) => !straight(pair))]
    .map(({ upper, lower }) => `${upper}-${lower}`)
    .filter((pair) => !taken.includes(pair));
}
