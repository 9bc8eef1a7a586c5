/** What the states of the casts are called, in the language chosen. */
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { typedCase } from '../core/saving';
import { statesOf } from './shape';

/** Says what a state is: its kind, and its record. */
export function useStateWords(): (name: string) => string {
  const states = statesOf(typedCase.value);
  const known = fields();
  const kinds = (known && fieldAt(known, 'marks.states.x.kind')?.choices) ?? [];
  return (name) => {
    const state = states.get(name);
    const kind = kinds.find((one) => one.value === state?.kind)?.words ?? state?.kind ?? '';
    return [kind, state?.record ?? ''].filter((part) => part !== '').join(', ');
  };
}
