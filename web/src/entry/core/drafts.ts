/**
 * What is typed and not yet handed on: kept in the browser's storage from the first letter, so that closing the tab or
 * losing power loses nothing. Once it is handed on, the outbox keeps it until it is saved.
 */
import { signal } from '@preact/signals';

const KEY = 'mountproof.draft.';
const keyOf = (caseId: number, field: string) => `${KEY}${caseId}.${field}`;

function everything(): Map<string, string> {
  const found = new Map<string, string>();
  for (let at = 0; at < localStorage.length; at += 1) {
    const key = localStorage.key(at);
    if (key?.startsWith(KEY)) found.set(key, localStorage.getItem(key) ?? '');
  }
  return found;
}

const all = signal<ReadonlyMap<string, string>>(everything());
/** False while the browser's storage takes nothing: drafts then live in this tab only. */
export const draftsKept = signal(true);

// Another tab typed, handed on or restored: what it keeps is what counts.
addEventListener('storage', (event) => {
  if (event.key === null || event.key.startsWith(KEY)) all.value = everything();
});

function change(key: string, text: string | undefined): void {
  const next = new Map(all.value);
  if (text === undefined) next.delete(key);
  else next.set(key, text);
  all.value = next;
  try {
    if (text === undefined) localStorage.removeItem(key);
    else localStorage.setItem(key, text);
    draftsKept.value = true;
  } catch {
    draftsKept.value = false;
  }
}

/** What was typed for an entry and is not handed on; undefined where nothing was. */
export const draft = (caseId: number, field: string): string | undefined =>
  all.value.get(keyOf(caseId, field));

/** Names that begin so are no entries: what is typed to add something by its name. */
export const NO_ENTRY = '@';

/** All drafts of entries of a case by their names, in the order typed. */
export function draftsOf(caseId: number): Map<string, string> {
  const start = keyOf(caseId, '');
  const own = [...all.value].filter(([key]) => key.startsWith(start) && !key.startsWith(start + NO_ENTRY));
  return new Map(own.map(([key, text]) => [key.slice(start.length), text]));
}

export const keepDraft = (caseId: number, field: string, text: string): void =>
  change(keyOf(caseId, field), text);
export const dropDraft = (caseId: number, field: string): void => {
  if (all.peek().has(keyOf(caseId, field))) change(keyOf(caseId, field), undefined);
};
