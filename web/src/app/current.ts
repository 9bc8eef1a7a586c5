/** The case in hand and its sheet: the newest that the server has told of. */
import { signal } from '@preact/signals';
import { api, ask } from '../api/client';
import type { Outcome } from '../api/outcome';
import type { Case, Fault, Saved, Sheet } from '../api/shapes';

export const theCase = signal<Case | null>(null);
export const sheet = signal<Sheet | null>(null);
/** Why the case asked for is not there. */
export const refused = signal<Fault[]>([]);
const wanted = signal<number | null>(null);

/** Which case is open, from the moment it is asked for. */
export const openId = wanted;

/** Takes what came of a change, unless something newer is shown already. Never puts another case on the desk. */
export function take(saved: { case?: Case; sheet?: Sheet }): void {
  const { case: newCase, sheet: newSheet } = saved;
  const newer = (now: number | undefined, then: number) => now === undefined || then >= now;
  if (newCase?.id === wanted.value && newer(theCase.value?.revision, newCase.revision))
    theCase.value = newCase;
  if (newSheet?.case_id === wanted.value && newer(sheet.value?.revision, newSheet.revision))
    sheet.value = newSheet;
}

const path = (id: number) => ({ params: { path: { id: id } } });

/** Asks for the case again. What is shown stays until the answer is there, and stays if none comes. */
export async function reload(): Promise<void> {
  const id = wanted.value;
  if (id === null) return;
  const [gotCase, gotSheet] = await Promise.all([
    ask(api.GET('/api/cases/{id}', path(id))),
    ask(api.GET('/api/cases/{id}/sheet', path(id))),
  ]);
  if (wanted.value !== id) return;
  refused.value = gotCase.kind === 'faults' ? gotCase.faults : [];
  if (gotCase.kind === 'ok') take({ case: gotCase.value });
  if (gotSheet.kind === 'ok') take({ sheet: gotSheet.value });
}

let asking: Promise<void> | null = null;
let again = false;

/** Asks for the sheet alone: an answer was made meanwhile. Calls while one is on its way become one more. */
export function reloadSheet(): Promise<void> {
  again = true;
  asking ??= (async () => {
    while (again) {
      again = false;
      const id = wanted.value;
      if (id === null) break;
      const got = await ask(api.GET('/api/cases/{id}/sheet', path(id)));
      if (got.kind === 'ok') take({ sheet: got.value });
    }
    asking = null;
  })();
  return asking;
}

/** Puts a case on the desk; null clears it. */
export async function openCase(id: number | null): Promise<void> {
  if (wanted.value === id) return;
  wanted.value = id;
  theCase.value = null;
  sheet.value = null;
  refused.value = [];
  await reload();
}

/** Takes the case of an outcome that saved something, and hands the outcome on. */
export function taken<T extends Outcome<Saved>>(outcome: T): T {
  if (outcome.kind === 'ok') take(outcome.value);
  return outcome;
}
