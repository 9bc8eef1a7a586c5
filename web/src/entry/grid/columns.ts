/** Columns of a table from what is known of the entries in them. */
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { under } from '../core/names';
import type { Choice } from '../parts/Control';
import type { Column } from './Table';

/** One column for each step below an item; `choices` where an entry names something else in the case. */
export function columnsFor(
  list: string,
  steps: readonly string[],
  choices: Readonly<Record<string, readonly Choice[]>> = {},
): Column[] {
  const known = fields();
  return steps.map((step) => {
    const info = known === null ? undefined : fieldAt(known, under(list, 'x', step));
    const offered = choices[step];
    return {
      key: step,
      name: info?.label ?? step,
      ...(info?.unit ? { unit: info.unit } : {}),
      ...(offered === undefined ? {} : { choices: offered }),
    };
  });
}

/** Names as choices. */
export const named = (names: readonly string[]): Choice[] =>
  names.map((name) => ({ value: name, words: name }));
