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

/** Counts what changes brought: an answer that was asked for before one of them may tell of what was before. */
let changes = 0;

/** Takes what came of a change, unless something newer is shown already. Never puts another case on the desk. */
export function take(saved: { case?: Case; sheet?: Sheet }): void {
  changes += 1;
  show(saved);
}

function show({ case: newCase, sheet: newSheet }: { case?: Case; sheet?: Sheet }): void {
  const newer = (now: number | undefined, then: number) => now === undefined || then >= now;
  if (newCase?.id === wanted.value && newer(theCase.value?.revision, newCase.revision))
    theCase.value = newCase;
  if (newSheet?.case_id === wanted.value && newer(sheet.value?.revision, newSheet.revision))
    sheet.value = newSheet;
}

/**
 * Asks one at a time: calls while an answer is on its way become one more after it, so that answers never pass each
 * other. What a change brought meanwhile is not overwritten by an older answer; it is asked once more.
 */
function inTurn(fetchIt: (id: number) => Promise<() => void>): () => Promise<void> {
  type Line = { id: number; again: boolean; done: Promise<void> };
  let line: Line | null = null;
  const onDesk = (one: Line) => line === one && wanted.value === one.id;
  const run = async (one: Line): Promise<void> => {
    while (one.again) {
      one.again = false;
      const before = changes;
      const showIt = await fetchIt(one.id);
      if (!onDesk(one)) return; // another case is on the desk, and has a line of its own
      if (changes !== before) one.again = true;
      else showIt();
    }
  };
  return () => {
    const id = wanted.value;
    if (id === null) return Promise.resolve();
    if (line?.id === id) {
      line.again = true;
      return line.done;
    }
    const mine: Line = { id, again: true, done: Promise.resolve() };
    line = mine;
    mine.done = run(mine).finally(() => {
      if (line === mine) line = null;
    });
    return mine.done;
  };
}

const path = (id: number) => ({ params: { path: { id } } });

const reloadCase = inTurn(async (id) => {
  const got = await ask(api.GET('/api/cases/{id}', path(id)));
  return () => {
    refused.value = got.kind === 'faults' ? got.faults : [];
    if (got.kind === 'ok') show({ case: got.value });
  };
});

/** Asks for the sheet alone: an answer was made meanwhile. */
export const reloadSheet = inTurn(async (id) => {
  const got = await ask(api.GET('/api/cases/{id}/sheet', path(id)));
  return () => {
    if (got.kind === 'ok') show({ sheet: got.value });
  };
});

/** Asks for the case again. What is shown stays until the answer is there, and stays if none comes. */
export async function reload(): Promise<void> {
  await Promise.all([reloadCase(), reloadSheet()]);
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
