import type { Case } from '../api/shapes';
import { t } from '../app/words';

export const STATES: readonly Case['state'][] = ['open', 'waiting', 'done', 'put away'];

/** Where a case stands, in words. */
export function stateWords(state: Case['state']): string {
  return t(state === 'put away' ? 'cases.state.put_away' : `cases.state.${state}`);
}
