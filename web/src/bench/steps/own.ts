/** Steps of one's own: of this case, or of its articulator and the profile kept of that. */
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Edit, Shapes, Step } from '../../api/shapes';
import { theCase } from '../../app/current';
import { enter } from '../../app/outbox';
import { nameOf } from '../../entry/core/names';
import { steps, type Stage } from './list';

export type NewStep = { words: string; stage: Stage; gate: boolean };

/** Names of entries are no longer than this. */
const LONGEST = 60;

/** A name for a step: its own words, cut, and told apart from those that are there. */
export function nameFor(words: string, taken: readonly string[]): string {
  // What no name may hold becomes a space: line ends, tabs and their like.
  const plain = words
    .replace(/\p{Cc}+/gu, ' ')
    .trim()
    .slice(0, LONGEST)
    .trim();
  let name = plain;
  for (let at = 2; taken.includes(name); at += 1) name = `${plain} ${at}`;
  return name;
}

const keys = () => (steps.peek() ?? []).map((step) => step.key);

function entryOf(step: NewStep, name: string): Edit['value'] {
  return {
    stage: step.stage,
    ...(step.gate ? { gate: true } : {}),
    ...(step.words.trim() === name ? {} : { words: step.words.trim() }),
  };
}

/** Adds a step to this case alone. */
export function addToCase(caseId: number, step: NewStep): void {
  const name = nameFor(step.words, keys());
  const edits = [{ field: nameOf('procedure', 'steps', name), value: entryOf(step, name) }];
  void enter(caseId, theCase.peek()?.revision ?? 1, edits, 'a step of this case');
}

type Entered = Readonly<Record<string, unknown>>;
const isEntered = (value: unknown): value is Entered => typeof value === 'object' && value !== null;

/** The articulator as it is entered in the case in hand; null where there is none. */
export function instrument(): Entered | null {
  const entered = theCase.value?.entered['instrument'];
  return isEntered(entered) ? entered : null;
}

export const instrumentName = (): string => {
  const name = instrument()?.['name'];
  return typeof name === 'string' ? name : '';
};

type Profile = Shapes['ProfileOut'];

/** The profile that is kept under the name of the articulator in hand. */
async function profileOf(name: string): Promise<Outcome<Profile | undefined>> {
  const got = await ask(api.GET('/api/profiles'));
  if (got.kind !== 'ok') return got;
  return { kind: 'ok', value: got.value.find((one) => one.name === name) };
}

/**
 * Adds a step to the articulator: to the case in hand, and to the profile of that name, so that the next case has it.
 * Where no profile is kept, the case alone is changed. Comes back with what came of the profile.
 */
export async function addToInstrument(caseId: number, step: NewStep): Promise<Outcome<Profile | undefined>> {
  const name = nameFor(step.words, keys());
  const value = entryOf(step, name);
  const edits = [{ field: nameOf('instrument', 'steps', name), value }];
  await enter(caseId, theCase.peek()?.revision ?? 1, edits, 'a step of the articulator');
  const called = instrumentName();
  const found = await profileOf(called);
  if (found.kind !== 'ok' || found.value === undefined) return found;
  const own = isEntered(found.value.entered['steps']) ? found.value.entered['steps'] : {};
  const entered = { ...found.value.entered, steps: { ...own, [name]: value } } as Profile['entered'];
  return ask(
    api.PUT('/api/profiles/{name}', {
      params: { path: { name: called } },
      body: { entered, based_on: found.value.revision },
    }),
  );
}

/** Takes a step of one's own out of the case, with its tick. */
export function takeOut(caseId: number, step: Step): void {
  const edits: Edit[] = [{ field: step.field, value: null }];
  if (step.own === 'instrument') edits.push({ field: nameOf('instrument', 'steps', step.key), value: null });
  void enter(caseId, theCase.peek()?.revision ?? 1, edits, 'a step taken out');
}
