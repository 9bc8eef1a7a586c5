/** What is tapped at the wall: powder into water, hands off, released. The moment is that of the tap, whatever comes later. */
import { signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Edit } from '../../api/shapes';
import { theCase } from '../../app/current';
import { enter } from '../../app/outbox';
import { who } from '../../app/settings';
import { nameOf, under } from '../../entry/core/names';
import { withOffset, type Pour } from './clock';
import { look } from './now';

export type Cast = 'upper' | 'lower';

/** The last thing that was tapped here, so that a slip of the finger can be taken back. */
export type Tapped = {
  caseId: number;
  revision: number;
  code: string;
  what: 'begun' | 'hands_off' | 'released';
  cast: Cast;
  back: Edit[];
};
export const tapped = signal<Tapped | null>(null);

type Known = Readonly<Record<string, unknown>>;
const isKnown = (value: unknown): value is Known => typeof value === 'object' && value !== null;

/** What is noted of the pours of a case, and its newest revision; what is on the desk where the server is away. */
async function poursOf(id: number, revision: number): Promise<{ pours: Known; revision: number }> {
  const got = await ask(api.GET('/api/cases/{id}', { params: { path: { id } } }));
  const found = got.kind === 'ok' ? got.value : theCase.value?.id === id ? theCase.value : null;
  const pours = found?.entered['pours'];
  return { pours: isKnown(pours) ? pours : {}, revision: found?.revision ?? revision };
}

/** A name that no pour of the case has: `lower 1`, `lower 2`. */
export function nextName(pours: Known, cast: Cast): { name: string; number: number } {
  const mine = Object.values(pours).filter((pour) => isKnown(pour) && pour['cast'] === cast);
  let number = mine.length + 1;
  while (Object.hasOwn(pours, `${cast} ${number}`)) number += 1;
  return { name: `${cast} ${number}`, number };
}

/** The number that a pour can carry; a bench that pours a cast ten times tells them apart by their names. */
const MOST = 9;

/** Powder met water: the moment of this call. */
export async function beginPour(
  at: { id: number; revision: number; code: string },
  cast: Cast,
): Promise<void> {
  const moment = withOffset(look());
  const { pours, revision } = await poursOf(at.id, at.revision);
  const { name, number } = nextName(pours, cast);
  const field = nameOf('pours', name);
  const value = { cast, number: number > MOST ? MOST : number, powder_met_water: moment, by: who.value };
  tapped.value = {
    caseId: at.id,
    revision,
    code: at.code,
    what: 'begun',
    cast,
    back: [{ field, value: null }],
  };
  await enter(at.id, revision, [{ field, value }], 'powder met water');
}

/** Hands are off, or the stone was released: the moment of this call. */
export async function note(pour: Pour, what: 'hands_off' | 'released'): Promise<void> {
  const field = under(pour.field, what);
  tapped.value = {
    caseId: pour.case_id,
    revision: pour.revision,
    code: pour.code,
    what,
    cast: pour.cast,
    back: [{ field, value: null }],
  };
  await enter(pour.case_id, pour.revision, [{ field, value: withOffset(look()) }], what.replace('_', ' '));
}

/** Takes the last tap back. */
export async function takeBack(last: Tapped): Promise<void> {
  tapped.value = null;
  const { revision } = await poursOf(last.caseId, last.revision);
  await enter(last.caseId, revision, last.back, 'taken back');
}
