/** The steps of the case in hand, as the server tells them, and what is on its way to it. */
import { computed, signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Edit, Fault, Step } from '../../api/shapes';
import { theCase } from '../../app/current';
import { enter, pending } from '../../app/outbox';
import type { Batch } from '../../app/outbox/batch';
import { language, who } from '../../app/settings';
import { under } from '../../entry/core/names';
import { withOffset } from '../wall/clock';
import { look } from '../wall/now';

export const steps = signal<readonly Step[] | null>(null);
export const faults = signal<readonly Fault[]>([]);

let newest: object = {};

async function refresh(id: number): Promise<void> {
  const mine = (newest = {});
  const got = await ask(api.GET('/api/cases/{id}/procedure', { params: { path: { id } } }));
  if (newest !== mine) return;
  faults.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind === 'ok') steps.value = got.value;
}

/** Follows the steps of a case until the function given back is called. */
export function follow(id: number): () => void {
  steps.value = null;
  // A change of the case in hand, by whomever, and another language ask anew.
  const questions = computed(() => ({ case: theCase.value, language: language.value }));
  return questions.subscribe(() => void refresh(id));
}

/** A tick that the server does not have yet, and how it stands with it; undefined where the server has the newest. */
export function onItsWay(
  caseId: number,
  step: Step,
): { met: boolean | null; state: Batch['state']; faults: readonly Fault[] } | undefined {
  const late = pending(caseId, under(step.field, 'met')) ?? pending(caseId, step.field);
  if (late === undefined) return undefined;
  const met = typeof late.edit.value === 'boolean' ? late.edit.value : null;
  return { met, state: late.batch.state, faults: late.faults };
}

const send = (caseId: number, edits: Edit[], what: string) =>
  void enter(caseId, theCase.peek()?.revision ?? 1, edits, what);

/** Changes entries of one step: `{ note: '...' }`. */
export function change(caseId: number, step: Step, values: Readonly<Record<string, Edit['value']>>): void {
  const edits = Object.entries(values).map(([name, value]) => ({ field: under(step.field, name), value }));
  send(caseId, edits, step.key);
}

/** Notes a step as met or not met, now and by whoever works here. */
export function tick(caseId: number, step: Step, met: boolean): void {
  change(caseId, step, {
    met,
    at: withOffset(look()),
    by: who.value === '' ? null : who.value,
    ...(step.left_out ? { left_out: null } : {}),
  });
}

const known = (value: unknown): Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null ? (value as Readonly<Record<string, unknown>>) : {};

const TICK: readonly string[] = ['met', 'at', 'by'];

/** Whether a step is ticked, as the case in hand has it: newer than the steps for a moment after a change. */
export function ticked(step: Step): boolean | null {
  const met = entryOf(step)['met'];
  return typeof met === 'boolean' ? met : null;
}

const entryOf = (step: Step) => known(known(known(theCase.value?.entered['procedure'])['steps'])[step.key]);

/** Takes a tick back: when and by whom go with it, all else stays. */
export function untick(caseId: number, step: Step): void {
  const onlyTicked = Object.keys(entryOf(step)).every((name) => TICK.includes(name));
  if (onlyTicked && step.own !== 'case') send(caseId, [{ field: step.field, value: null }], step.key);
  else change(caseId, step, { met: null, at: null, by: null });
}

/** Leaves a step out, or takes it in again. */
export function leaveOut(caseId: number, step: Step, out: boolean): void {
  change(caseId, step, { left_out: out ? true : null });
}

export type Stage = Step['stage'];
export const STAGES: readonly Stage[] = ['upper', 'between', 'lower', 'after'];

/** The order entered so far: what is on its way to the server, else what it has. */
function orderSoFar(): string[] {
  const id = theCase.value?.id ?? 0;
  const late = pending(id, 'procedure.order')?.edit.value;
  const order = late ?? known(theCase.value?.entered['procedure'])['order'];
  return Array.isArray(order) ? order.filter((name): name is string => typeof name === 'string') : [];
}

/** The steps of a part in order; one that was just moved stands where it was moved to. */
export function ofStage(stage: Stage): readonly Step[] {
  const here = (steps.value ?? []).filter((step) => step.stage === stage);
  const order = orderSoFar();
  if (!here.every((step) => order.includes(step.key))) return here;
  return order.flatMap((name) => here.filter((step) => step.key === name));
}

/** The names of a part in order with one moved by a place; null where it cannot move. */
export function moved(keys: readonly string[], key: string, by: 1 | -1): string[] | null {
  const at = keys.indexOf(key);
  const beside = keys[at + by];
  if (at < 0 || beside === undefined) return null;
  return keys.map((one) => (one === key ? beside : one === beside ? key : one));
}

/** Moves a step by one place inside its part. */
export function move(caseId: number, step: Step, by: 1 | -1): void {
  const keys = ofStage(step.stage).map((one) => one.key);
  const order = moved(keys, step.key, by);
  if (order === null) return;
  const others = orderSoFar().filter((name) => !keys.includes(name));
  send(caseId, [{ field: 'procedure.order', value: [...others, ...order] }], 'order of the steps');
}
