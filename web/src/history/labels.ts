import { fieldAt } from '../entry/core/fields';
import { fields } from '../entry/core/knowledge';

/** What an entry is called in the forms; its name in the case file while nothing is known of it. */
export function labelOf(field: string): string {
  const known = fields();
  return (known === null ? undefined : fieldAt(known, field)?.label) ?? field;
}
