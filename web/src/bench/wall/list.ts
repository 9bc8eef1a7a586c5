/** All pours that go on, as the server tells them; kept up to date while somebody looks. */
import { computed, signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Fault, Listed } from '../../api/shapes';
import { link, onEvent } from '../../app/events';
import { outbox } from '../../app/outbox';
import { language } from '../../app/settings';
import { inOrder, isOld, type Pour } from './clock';
import { now, onJump, setBy } from './now';

export const all = signal<readonly Pour[] | null>(null);
export const faults = signal<readonly Fault[]>([]);

let newest: object = {};

/** Asks for the pours, and sets the clock by the answer. */
export async function refresh(): Promise<void> {
  const mine = (newest = {});
  const asked = performance.now();
  const got = await ask(api.GET('/api/pours'));
  if (newest !== mine) return;
  faults.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind !== 'ok') return;
  setBy(got.value.now, asked);
  all.value = got.value.pours;
}

/** Those that somebody waits for, what is next first; it turns over as moments pass. */
export const going = computed<readonly Pour[]>(() => {
  const there = (all.value ?? []).filter((pour) => !isOld(pour, now.value));
  return inOrder(there, now.value);
});

/** Pours of another day whose release nobody noted. */
export const forgotten = computed<readonly Pour[]>(() =>
  (all.value ?? []).filter((pour) => isOld(pour, now.value)),
);

/** A pour that this browser still has to send: begun here while the server is away. */
export type Unsent = { key: string; caseId: number; field: string; cast: string; begun: string };

const text = (value: unknown): string => (typeof value === 'string' ? value : '');

/** Pours on their way to the server: nothing that was tapped is out of sight. */
export const unsent = computed<readonly Unsent[]>(() => {
  const known = new Set((all.value ?? []).map((pour) => `${pour.case_id} ${pour.field}`));
  return outbox.value.flatMap((batch) =>
    batch.edits.flatMap(({ field, value }): Unsent[] => {
      if (!field.startsWith('pours.') || typeof value !== 'object' || value === null) return [];
      const begun = 'powder_met_water' in value ? text(value.powder_met_water) : '';
      const cast = 'cast' in value ? text(value.cast) : '';
      if (begun === '' || known.has(`${batch.caseId} ${field}`)) return [];
      return [{ key: `${batch.key} ${field}`, caseId: batch.caseId, field, cast, begun }];
    }),
  );
});

/** Clocks drift apart slowly: the server is asked again after this, also when nothing happens. */
const AGAIN_MS = 5 * 60_000;

/** Follows the pours until the function given back is called. */
export function follow(): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => void refresh(), 100);
  };
  const questions = computed(() => ({ language: language.value, link: link.value }));
  const stopAsking = questions.subscribe(soon);
  const stopHearing = onEvent((event) => {
    if (event.kind === 'pours' || event.kind === 'revision' || event.kind === 'state') soon();
    if (event.kind === 'anew') soon();
  });
  const stopJumps = onJump(soon);
  const again = setInterval(soon, AGAIN_MS);
  return () => {
    stopAsking();
    stopHearing();
    stopJumps();
    clearTimeout(timer);
    clearInterval(again);
  };
}

/** The cases that were changed last: one of them is being poured. */
export async function recentCases(search: string): Promise<readonly Listed[]> {
  const query = { search, state: 'open' as const, order: 'changed' as const, most: 12 };
  const got = await ask(api.GET('/api/cases', { params: { query } }));
  return got.kind === 'ok' ? got.value.cases : [];
}
