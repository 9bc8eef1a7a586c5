/**
 * Taking back what was entered on this page, entry by entry: a saved entry by the server's undo (a new revision), one
 * that waits by typing the value before over it.
 */
import { signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Edit, Fault, Saved } from '../../api/shapes';
import { take, theCase } from '../../app/current';
import { enter } from '../../app/outbox';

type Entry = {
  caseId: number;
  fields: string[];
  before: Edit[];
  base: number;
  outcome: Promise<Outcome<Saved>>;
  /** The revision that it became; undefined while it is on its way. */
  revision?: number;
};

const MOST = 500;
const done: Entry[] = [];
const undone: Entry[] = [];
/** How many entries can be taken back and brought again. */
export const depth = signal({ undo: 0, redo: 0 });
/** Why the last undo was refused. */
export const refusal = signal<readonly Fault[]>([]);

const count = () => {
  depth.value = { undo: done.length, redo: undone.length };
};

/** Remembers an entry as it goes off. */
export function noteEntry(entry: Entry): void {
  done.push(entry);
  if (done.length > MOST) done.shift();
  undone.length = 0;
  refusal.value = [];
  count();
  void entry.outcome.then((outcome) => {
    if (outcome.kind === 'away') return;
    // Refused, contested, or the value was there already: nothing changed, so there is nothing to take back.
    if (outcome.kind !== 'ok' || outcome.value.case.revision <= entry.base) drop(done, entry);
    else entry.revision = outcome.value.case.revision;
  });
}

function drop(list: Entry[], entry: Entry): void {
  const at = list.indexOf(entry);
  if (at >= 0) list.splice(at, 1);
  count();
}

async function takeBack(from: Entry[], to: Entry[], caseId: number): Promise<readonly string[]> {
  const entry = from.findLast((one) => one.caseId === caseId);
  if (entry === undefined || theCase.value?.id !== caseId) return [];
  refusal.value = [];
  if (entry.revision === undefined) {
    drop(from, entry);
    void enter(caseId, theCase.value.revision, entry.before);
    return entry.fields;
  }
  const number = entry.revision;
  const call = api.POST('/api/cases/{id}/undo', { params: { path: { id: caseId } }, body: { number } });
  const got = await ask(call);
  if (got.kind === 'ok') {
    take(got.value);
    // Entries that went off together are one revision, and are taken back together.
    const together = from.filter((one) => one.caseId === caseId && one.revision === number);
    for (const one of together) drop(from, one);
    const fields = [...new Set(together.flatMap((one) => one.fields))];
    to.push({ ...entry, fields, revision: got.value.case.revision });
    count();
    return fields;
  }
  refusal.value = got.kind === 'faults' ? got.faults : got.kind === 'conflicts' ? got.conflicts.faults : [];
  return [];
}

/** Takes the last entry back. Comes back with the names of the entries that changed. */
export const undo = (caseId: number): Promise<readonly string[]> => takeBack(done, undone, caseId);
/** Brings the last one that was taken back again. */
export const redo = (caseId: number): Promise<readonly string[]> => takeBack(undone, done, caseId);
