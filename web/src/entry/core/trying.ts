/**
 * What the answers say with what is being typed, before it is saved: the server is asked as soon as the typing
 * rests a moment, one question at a time, the newest always last.
 */
import { effect, signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Edit, Fault, Shapes } from '../../api/shapes';
import { theCase } from '../../app/current';
import { outbox } from '../../app/outbox';
import { draftsOf } from './drafts';
import { fields } from './knowledge';
import { NEW, stepsOf } from './names';
import { editsFor } from './saving';

export type Tried = {
  caseId: number;
  revision: number;
  /** The edits that were tried, as they went: a change of them makes the answer old. */
  edits: string;
  out: Shapes['TryOut'] | null;
  faults: readonly Fault[];
};

/** Letters typed within this time are asked about together; while an answer is on its way, so are all others. */
const REST_MS = 15;
/** The server takes no more at once. */
const MOST_EDITS = 500;
/** After this long without a letter a person has stopped typing: what is odd may be said. */
const RESTED_MS = 700;

/** What came of the newest try; null where nothing is being typed. */
export const tried = signal<Tried | null>(null);
/** Whether typing has stopped for a moment. A number half typed is not asked about. */
export const rested = signal(true);
/** Whether an answer for what stands in the forms is on its way. */
export const asking = signal(false);

/** Edits on their way to be saved. */
const late = (caseId: number): Edit[] =>
  outbox.value.filter((one) => one.caseId === caseId && one.state !== 'refused').flatMap((one) => one.edits);

/** What to try: entries on their way, with the drafts that need no others on top. Nothing where nothing is being typed. */
function editsToTry(): Edit[] {
  const found = theCase.value;
  const known = fields();
  if (found === null || known === null) return [];
  const drafts = [...draftsOf(found.id).keys()].flatMap((field) => editsFor(found.id, field, known));
  if (drafts.length === 0) return [];
  const byField = new Map<string, Edit>();
  const items: Edit[] = [];
  for (const edit of [...late(found.id), ...drafts]) {
    if (!stepsOf(edit.field).includes(NEW)) byField.set(edit.field, edit);
    else if (!items.some((one) => JSON.stringify(one) === JSON.stringify(edit))) items.push(edit);
  }
  const all = [...byField.values(), ...items];
  return all.length > MOST_EDITS ? [] : all;
}

let timer: ReturnType<typeof setTimeout> | undefined;
let restTimer: ReturnType<typeof setTimeout> | undefined;
let busy = false;
let stale = false;

async function askServer(): Promise<void> {
  if (busy) {
    stale = true;
    return;
  }
  const found = theCase.peek();
  const edits = editsToTry();
  if (found === null || edits.length === 0) {
    asking.value = false;
    return;
  }
  busy = true;
  const body = { based_on: found.revision, edits, what: '' };
  const got = await ask(api.POST('/api/cases/{id}/try', { params: { path: { id: found.id } }, body }));
  busy = false;
  const wanted = JSON.stringify(editsToTry());
  const mine = { caseId: found.id, revision: found.revision, edits: JSON.stringify(edits) };
  if (theCase.peek()?.id === found.id && wanted !== '[]') {
    if (got.kind === 'ok') tried.value = { ...mine, out: got.value, faults: [] };
    else if (got.kind === 'faults')
      tried.value = { ...mine, out: tried.peek()?.out ?? null, faults: got.faults };
  }
  asking.value = stale;
  if (stale) {
    stale = false;
    void askServer();
  }
}

/** Asks whenever what is typed changes. Returns what stops it. */
export function watchTyping(): () => void {
  const stop = effect(() => {
    const wanted = JSON.stringify(editsToTry());
    clearTimeout(timer);
    clearTimeout(restTimer);
    if (wanted === '[]') {
      // What was tried stays in sight until it is saved: then the answer comes with it.
      const id = theCase.value?.id;
      if (id === undefined || late(id).length === 0) tried.value = null;
      asking.value = false;
      rested.value = true;
      return;
    }
    rested.value = false;
    restTimer = setTimeout(() => (rested.value = true), RESTED_MS);
    if (tried.peek()?.edits === wanted && tried.peek()?.revision === theCase.peek()?.revision) return;
    asking.value = true;
    timer = setTimeout(() => void askServer(), REST_MS);
  });
  return () => {
    stop();
    clearTimeout(timer);
    clearTimeout(restTimer);
  };
}
