/** What stands at the place that somebody pointed at, by mouse, finger or key. */
import { effect, signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Fault, Shapes } from '../../api/shapes';
import { say } from '../../app/ui';
import type { Tap } from '../gl/stage';
import { rests, scene, step } from './scene';

export type There = { tap: Tap; at: Shapes['AtOut'] | null; faults: readonly Fault[] };
export const there = signal<There | null>(null);

/** Asks what stands at a place; a tap beside the casts clears what was told. */
export async function point(id: number, tap: Tap | null): Promise<void> {
  const same = tap !== null && there.value?.tap === tap;
  if (!same) there.value = tap === null ? null : { tap, at: null, faults: [] };
  const closed = scene.value?.steps[step.value]?.closed_rad;
  if (tap === null || closed === undefined) return;
  const body = { arch: tap.arch, face: tap.face, weights: tap.weights, closed_rad: closed };
  const call = api.POST('/api/cases/{id}/scene/at', { params: { path: { id } }, body });
  const got = (await ask(call)) as Outcome<Shapes['AtOut']>;
  if (there.value?.tap !== tap) return;
  const at = got.kind === 'ok' ? got.value : null;
  there.value = { tap, at, faults: got.kind === 'faults' ? got.faults : [] };
  if (at !== null) say(at.words);
}

/** While the slider moves, what was told of a place grows old: it is asked again where the slider rests. */
export const keepTelling = (id: number): (() => void) =>
  effect(() => {
    const tap = there.peek()?.tap;
    if (rests.value && tap !== undefined) void point(id, tap);
  });
