/** Everything a box of a form shows for its entry. */
import { computed, type ReadonlySignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { Fault } from '../../api/shapes';
import { sheet, theCase } from '../../app/current';
import { outbox } from '../../app/outbox';
import { sameField, type Batch } from '../../app/outbox/batch';
import { askedNow } from './asked';
import { draft } from './drafts';
import { isBelow, NEW, stepsOf } from './names';
import { handedOn, held } from './saving';
import { rested, tried } from './trying';

export type Shown = {
  text: string;
  /** Whether something is typed that is not handed on. */
  typing: boolean;
  /** Where an entry on its way stands. */
  state: Batch['state'] | undefined;
  faults: Fault[];
  /** Entries that have to be typed first, where this one waits for others. */
  wanting: string[];
  asked: string;
  suggestion: string;
  /** What the answers take for it while nothing is entered, and by whose word. */
  assumed: { value: string; source: string } | undefined;
};

function faultsAt(caseId: number, field: string, late: Batch | undefined): Fault[] {
  const here = (fault: Fault) => fault.field !== '' && sameField(fault.field, field);
  const trial = tried.value;
  const trying = trial?.caseId === caseId && rested.value ? trial.faults.filter(here) : [];
  const refused = (late?.faults ?? []).filter(
    (fault) => here(fault) || (fault.field === '' && late?.edits.length === 1),
  );
  const saved = (sheet.value?.faults ?? []).filter(here);
  const all = [...refused, ...trying, ...saved];
  return all.filter(
    (fault, at) => all.findIndex((one) => one.what === fault.what && one.got === fault.got) === at,
  );
}

function assumedAt(caseId: number, field: string): Shown['assumed'] {
  const trial = tried.value;
  const told = (trial?.caseId === caseId ? trial.out?.sheet : undefined) ?? sheet.value;
  for (const answer of told?.answers ?? []) {
    const found = answer.assumptions.find((one) => one.field === field);
    if (found !== undefined) return { value: found.value, source: found.source };
  }
  return undefined;
}

function look(caseId: number, field: string): Shown {
  const typed = draft(caseId, field);
  const late = outbox.value.findLast(
    // An item on its way has its place already; a new one typed meanwhile is another.
    (one) =>
      one.caseId === caseId &&
      one.edits.some((edit) => isBelow(field, edit.field) && !stepsOf(edit.field).includes(NEW)),
  );
  const question = askedNow.value.find((one) => one.field === field);
  return {
    text: typed ?? handedOn(field),
    typing: typed !== undefined,
    state: late?.state,
    faults: faultsAt(caseId, field, late),
    wanting: typed === undefined ? [] : (held(field)?.wanting ?? []),
    asked: question?.asked ?? '',
    suggestion: question?.suggestion ?? '',
    assumed: (typed ?? handedOn(field)).trim() === '' ? assumedAt(caseId, field) : undefined,
  };
}

/** Follows an entry. What is shown stays the same object while nothing of it changes, so that one letter draws one box. */
export function useShown(caseId: number, field: string): Shown {
  const followed: ReadonlySignal<Shown> = useMemo(() => {
    let before: { key: string; shown: Shown } | undefined;
    return computed(() => {
      const shown = look(caseId, field);
      const key = JSON.stringify(shown);
      if (before?.key !== key) before = { key, shown };
      return before.shown;
    });
  }, [caseId, field]);
  return followed.value;
}

/** The number of the case in hand; forms are only shown while there is one. */
export const caseInHand = (): number => theCase.value?.id ?? 0;
