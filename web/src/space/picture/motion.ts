/** The movements of the case in hand: fetched, and kept with which one is shown and at which of its positions. */
import { computed, signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Shapes } from '../../api/shapes';
import { theCase } from '../../app/current';
import { onEvent } from '../../app/events';
import { language } from '../../app/settings';
import { chosen } from './scene';
import { there } from './taps';
import { only, view } from './view';

export type Motions = Shapes['MotionsOut'];
export type Movement = Shapes['MovementOut'];
export type Place = Shapes['MotionPlaceOut'];
export type Key = Movement['key'];

export const motions = signal<Motions | null>(null);
/** The movement that is shown; null while the lower closes with the gap in bands. */
export const shown = signal<Key | null>(null);
/** Number of the position among the steps of the movement. */
export const at = signal(0);

export const movement = computed<Movement | null>(
  () => motions.value?.movements.find((one) => one.key === shown.value) ?? null,
);
export const position = computed(() => movement.value?.steps[at.value] ?? null);

/** From where a movement is seen best, unless a person chose a view that shows both casts together. */
const FROM = { closing: 'right', slide: 'right', ahead: 'right', right: 'front', left: 'front' } as const;

/** Views in which the casts are not seen together. */
const APART: ReadonlySet<string> = new Set(['both', 'upper', 'lower']);

/** Shows a movement from its first position; null goes back to closing with the gap in bands. */
export function choose(key: Key | null): void {
  const before = shown.value;
  const ours = before !== null && view.value === FROM[before];
  shown.value = key;
  at.value = 0;
  there.value = null;
  chosen.value = null;
  const next = key === null ? 'both' : FROM[key];
  if (next === view.value || (!ours && (key === null || !APART.has(view.value)))) return;
  only.value = {};
  view.value = next;
}

let loading: AbortController | null = null;

async function load(id: number): Promise<void> {
  loading?.abort();
  const mine = new AbortController();
  loading = mine;
  const path = { params: { path: { id } }, signal: mine.signal };
  try {
    const got = (await ask(api.GET('/api/cases/{id}/scene/motions', path))) as Outcome<Motions>;
    if (!mine.signal.aborted && got.kind === 'ok') take(got.value);
  } catch (error) {
    if (!mine.signal.aborted) throw error;
  }
}

function take(found: Motions): void {
  const before = movement.value?.steps.length;
  motions.value = found;
  // a position is a number: in other steps it would be another one
  if (movement.value?.steps.length !== before) at.value = 0;
}

/** Loads the movements of a case, keeps them up with it, and frees them in the end. */
export function useMotions(id: number): void {
  const revision = theCase.value?.revision;
  const spoken = language.value;
  useEffect(() => {
    void load(id);
  }, [id, revision, spoken]);
  useEffect(() => {
    const quiet = onEvent((event) => {
      const asked = event.question === 'contacts' || event.question === 'guidance';
      if ((event.case_id === id && event.kind === 'answer' && asked) || event.kind === 'anew') void load(id);
    });
    return () => {
      quiet();
      loading?.abort();
      motions.value = null;
      shown.value = null;
      at.value = 0;
    };
  }, [id]);
}
