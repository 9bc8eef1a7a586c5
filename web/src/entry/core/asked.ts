/** What the server asks about readings, with what is being typed taken in, and what a person said to keep. */
import { computed, signal } from '@preact/signals';
import { theCase } from '../../app/current';
import { handedOn } from './saving';
import { draft } from './drafts';
import { rested, tried } from './trying';
import { isCell } from './reading';
import { outbox } from '../../app/outbox';

export type Asked = { field: string; pair: string; state: string; asked: string; suggestion: string };

const KEY = 'mountproof.keep.';
const keyOf = (caseId: number, field: string, text: string) => `${KEY}${caseId}.${field}=${text}`;

/** Readings that a person was asked about and said to keep: the sheet goes on asking, the form does not. */
const keeping = signal(0);

export function keepMine(caseId: number, field: string, text: string): void {
  try {
    localStorage.setItem(keyOf(caseId, field, text), '');
  } catch {
    // Asked once more then: nothing that was entered is lost by it.
  }
  keeping.value += 1;
}

const keepsMine = (caseId: number, field: string, text: string) =>
  keeping.value >= 0 && localStorage.getItem(keyOf(caseId, field, text)) !== null;

/** All readings that are asked about now, the newest answer of the server going first. */
export const askedNow = computed<readonly Asked[]>(() => {
  const found = theCase.value;
  if (found === null) return [];
  const trial = tried.value;
  const shown = trial?.caseId === found.id && trial.out !== null ? trial.out.case : found;
  return shown.marks.flatMap((grid) =>
    grid.rows.flatMap((row) =>
      row.cells.flatMap((cell, at) => {
        const text = draft(found.id, cell.field) ?? handedOn(cell.field);
        // An answer to an older text asks about what no longer stands there.
        if (cell.asked === '' || text !== cell.shown || keepsMine(found.id, cell.field, text)) return [];
        const state = grid.states[at]?.name ?? '';
        return [{ field: cell.field, pair: row.pair, state, asked: cell.asked, suggestion: cell.suggestion }];
      }),
    ),
  );
});

export type Wrong = { field: string; what: string };

/** Cells of the tables that the server does not take as they are. */
export const wrongNow = computed<readonly Wrong[]>(() => {
  const id = theCase.value?.id;
  if (id === undefined) return [];
  const refused = outbox.value.filter((one) => one.caseId === id).flatMap((one) => one.faults ?? []);
  const trying = tried.value?.caseId === id && rested.value ? tried.value.faults : [];
  const found = [...refused, ...trying].filter((fault) => isCell(fault.field));
  return found
    .map((fault) => ({ field: fault.field, what: `${fault.what} ${fault.todo}` }))
    .filter((one, at, all) => all.findIndex((other) => other.field === one.field) === at);
});
