/**
 * Every entry goes through here: kept first, then sent, in the order typed. While the server is away it waits, shown as
 * "not yet saved"; refused or contested entries stay until a person has dealt with them. Nothing typed is dropped.
 */
import { computed, signal } from '@preact/signals';
import { api, ask, headers, whoAsked } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Edit, Fault, Saved } from '../../api/shapes';
import { take } from '../current';
import { who } from '../settings';
import { added, changed, chosen, rebased, sameField, stopped, upNext, without, type Batch } from './batch';
import { beat, BEAT_MS, newKey, orphans, ownTab, readBox, rest, writeBox } from './keep';

const tab = ownTab(Date.now());
const box = signal<readonly Batch[]>(readBox(tab));
/** False while the browser's storage is full or forbidden: entries are then kept in this tab only. */
export const kept = signal(true);

/** All entries that are not yet saved. */
export const outbox = computed(() => box.value);

/** Whether an entry of a case is on its way: the answer to it will bring the case as it is then. */
export const isSending = (caseId: number) =>
  box.value.some((one) => one.caseId === caseId && one.state === 'sending');

const waiters = new Map<string, (outcome: Outcome<Saved>) => void>();

function put(next: readonly Batch[]): void {
  box.value = next;
  kept.value = writeBox(tab, next);
}

async function post(batch: Batch): Promise<Outcome<Saved>> {
  const body = { based_on: batch.base, edits: batch.edits, what: batch.what };
  const call = api.POST('/api/cases/{id}/edits', {
    params: { path: { id: batch.caseId } },
    body,
    headers: headers(batch.who || who.value),
  });
  return ask(call);
}

/** Nobody let this browser in yet, the store is busy for a moment, or the server broke: the entry itself is as good as before. */
const LATER = new Set([401, 403, 421, 423, 500]);
const comesLater = (outcome: Outcome<Saved>) =>
  outcome.kind === 'away' || (outcome.kind === 'faults' && LATER.has(outcome.status));

function settle(batch: Batch, outcome: Outcome<Saved>): void {
  if (outcome.kind === 'ok') {
    // shown first: while it is on its way, nobody asks for what it brings
    take(outcome.value);
    put(rebased(box.value, batch, outcome.value.case.revision));
  } else if (comesLater(outcome)) {
    put(changed(box.value, batch.key, { state: 'waiting' }));
  } else if (outcome.kind === 'conflicts') {
    put(stopped(box.value, batch, { state: 'contested', conflicts: outcome.conflicts }));
  } else if (outcome.kind === 'faults') {
    put(stopped(box.value, batch, { state: 'refused', faults: outcome.faults }));
  }
  waiters.get(batch.key)?.(outcome);
  waiters.delete(batch.key);
  if (comesLater(outcome)) allWait();
}

/** Tells everybody who waits for an answer that there will be none for now: what they entered is kept. */
function allWait(): void {
  for (const tell of waiters.values()) tell({ kind: 'away' });
  waiters.clear();
}

/** Sends what waits, until all is sent or the server does not answer. Called when it comes back. */
export async function drain(): Promise<void> {
  if (who.value === '' && box.value.some((one) => one.who === '' && one.state === 'waiting')) {
    whoAsked.value += 1; // kept meanwhile; nothing is saved without a name beside it
    allWait();
    return;
  }
  for (let batch = upNext(box.value); batch !== undefined; batch = upNext(box.value)) {
    put(changed(box.value, batch.key, { state: 'sending' }));
    const outcome = await post(batch);
    settle(batch, outcome);
    if (comesLater(outcome)) return;
  }
}

/**
 * Enters values into a case, seen in revision `base`. Comes back when the server has spoken, or could not:
 * `away` means kept and sent later; what the server refused is kept as well, with its faults.
 */
export function enter(caseId: number, base: number, edits: Edit[], what = ''): Promise<Outcome<Saved>> {
  const key = newKey();
  const at = new Date().toISOString();
  put(added(box.value, { key, caseId, base, edits, what, who: who.value, at, state: 'waiting' }));
  // The entry may have joined a batch that waits: its answer is the answer of that batch.
  const fields = new Set(edits.map((edit) => edit.field));
  const home = box.value.findLast(
    (one) => one.caseId === caseId && one.edits.some((edit) => fields.has(edit.field)),
  );
  const outcome = new Promise<Outcome<Saved>>((resolve) => {
    const before = waiters.get(home?.key ?? key);
    waiters.set(home?.key ?? key, (got) => {
      before?.(got);
      resolve(got);
    });
  });
  void drain();
  return outcome;
}

/** What is known of an entry that is not yet saved; undefined where the server has it. */
export function pending(
  caseId: number,
  field: string,
): { edit: Edit; batch: Batch; faults: Fault[] } | undefined {
  const batch = box.value.findLast(
    (one) => one.caseId === caseId && one.edits.some((edit) => edit.field === field),
  );
  const edit = batch?.edits.find((one) => one.field === field);
  if (batch === undefined || edit === undefined) return undefined;
  const faults = (batch.faults ?? []).filter((fault) => fault.field === '' || sameField(fault.field, field));
  return { edit, batch, faults };
}

/** Batches of a case that somebody else's change contests. */
export const contested = (caseId: number) =>
  box.value.filter((one) => one.caseId === caseId && one.state === 'contested');

/** Goes on after a person has chosen, field by field. */
export function choose(key: string, choices: Readonly<Record<string, 'mine' | 'theirs'>>): void {
  put(chosen(box.value, key, choices));
  void drain();
}

/** Throws a batch away: only ever called because a person said so. */
export function discard(key: string): void {
  put(without(box.value, key));
}

/** Tries a refused batch again as it is. */
export function retry(key: string): void {
  put(changed(box.value, key, { state: 'waiting', faults: [] }));
  void drain();
}

function adopt(): void {
  beat(tab, Date.now());
  const left = orphans(tab, Date.now());
  if (left.length > 0) put([...left, ...box.value]);
  // Initials are asked for when something is entered, not over and over.
  if (who.value !== '') void drain();
}

/** Starts keeping: signs of life, boxes of tabs that are gone. Returns what stops it. */
export function watch(): () => void {
  adopt();
  const timer = setInterval(adopt, BEAT_MS);
  const away = () => rest(tab);
  addEventListener('pagehide', away);
  return () => {
    clearInterval(timer);
    removeEventListener('pagehide', away);
    rest(tab);
  };
}
