/** What is known of the entries of a case: labels, units, what each is for. From the server, in the language chosen. */
import type { Field } from '../../api/shapes';
import { stepsOf } from './names';

type Node = { field?: Field; below: Map<string, Node> };
export type Fields = { root: Node };

/** Puts the list of fields in order, so that each is found by the name of an entry. `*` stands for any name. */
export function fieldsFrom(list: readonly Field[]): Fields {
  const root: Node = { below: new Map() };
  for (const field of list) {
    let here = root;
    for (const step of field.path.split('.')) {
      let next = here.below.get(step);
      if (next === undefined) here.below.set(step, (next = { below: new Map() }));
      here = next;
    }
    here.field = field;
  }
  return { root };
}

function nodeAt(fields: Fields, steps: readonly string[]): Node | undefined {
  return steps.reduce<Node | undefined>(
    (here, step) => here?.below.get(step) ?? here?.below.get('*'),
    fields.root,
  );
}

/** What is known of an entry. */
export const fieldAt = (fields: Fields, field: string): Field | undefined =>
  nodeAt(fields, stepsOf(field))?.field;

/**
 * Steps below a group without which it cannot stand, those of the groups it needs included: `[['name'],
 * ['pin', 'kind'], …]`.
 */
export function neededBelow(fields: Fields, group: string): string[][] {
  const found = nodeAt(fields, group === '' ? [] : stepsOf(group));
  const walk = (node: Node): string[][] =>
    [...node.below].flatMap(([step, next]) => {
      if (step === '*' || next.field?.needed !== true) return [];
      return next.field.kind === 'group' ? walk(next).map((rest) => [step, ...rest]) : [[step]];
    });
  return found === undefined ? [] : walk(found);
}
