/** The clock of the pours: what comes next, in which order, how long until then, what was passed. Pure; moments in ms. */
import type { Shapes } from '../../api/shapes';

export type Pour = Shapes['PourOut'];
export type Mark = Shapes['PourMarkOut'];

/** What a pour waits for: a moment that comes, or a person whose moment has come. */
export type Due = { kind: 'comes' | 'waits'; at: number; marks: readonly Mark[] };

/** Moments that are over once hands are off. */
const WORKED: readonly Mark['key'][] = ['mix', 'poured', 'hands_off'];

export const ms = (moment: string): number => Date.parse(moment);

/** Orders moments, the earlier first. */
export const byMoment = (a: string, b: string): number => ms(a) - ms(b);

/** Moments that are not over by what a person noted. */
export function openMarks(pour: Pour): readonly Mark[] {
  if (pour.ended !== null) return [];
  return pour.hands_off === null ? pour.marks : pour.marks.filter((mark) => !WORKED.includes(mark.key));
}

const sameMoment = (marks: readonly Mark[], at: number) => marks.filter((mark) => ms(mark.at) === at);

/** What a pour waits for at `now`; null where nothing is to come. Hands that are still on go before all else. */
export function dueOf(pour: Pour, now: number): Due | null {
  const open = openMarks(pour);
  const waiting = open.filter((mark) => mark.key === 'hands_off' || mark.key === 'release');
  const waits = waiting.filter((mark) => ms(mark.at) <= now).at(-1);
  const comes = open.find((mark) => ms(mark.at) > now);
  if (waits?.key === 'hands_off' || (waits !== undefined && comes === undefined))
    return { kind: 'waits', at: ms(waits.at), marks: [waits] };
  if (comes === undefined) return null;
  return { kind: 'comes', at: ms(comes.at), marks: sameMoment(open, ms(comes.at)) };
}

function rank(due: Due | null): readonly [number, number] {
  if (due === null) return [3, 0];
  if (due.kind === 'comes') return [1, due.at];
  return [due.marks[0]?.key === 'hands_off' ? 0 : 2, due.at];
}

/** As they are to be seen to: hands on too long, what comes next, what may be released. As the server orders them. */
export function inOrder(pours: readonly Pour[], now: number): Pour[] {
  const ranked = pours.map((pour) => ({ pour, rank: rank(dueOf(pour, now)) }));
  const order = (a: readonly [number, number], b: readonly [number, number]) => a[0] - b[0] || a[1] - b[1];
  return ranked.sort((a, b) => order(a.rank, b.rank)).map((one) => one.pour);
}

const two = (n: number) => `${n}`.padStart(2, '0');

/** A stretch of time as a clock shows it: `4:07`, `1:02:30`. */
export function stretch(time: number): string {
  const seconds = Math.floor(time / 1000);
  const minutes = Math.floor(seconds / 60);
  const hours = Math.floor(minutes / 60);
  const rest = two(seconds % 60);
  return hours > 0 ? `${hours}:${two(minutes % 60)}:${rest}` : `${minutes}:${rest}`;
}

/** The digits of a pour: down to what comes (never zero before it is there), up from what waits. */
export function digits(due: Due, now: number): string {
  return due.kind === 'comes' ? stretch(due.at - now + 999) : `+${stretch(now - due.at)}`;
}

/** The last minute before a moment. */
export const isNear = (due: Due, now: number): boolean => due.kind === 'comes' && due.at - now <= 60_000;

export type Alarm = { pour: Pour; at: number; marks: readonly Mark[] };

/** What comes from now on, one alarm for each moment of each pour, the next first. */
export function alarms(pours: readonly Pour[], after: number): Alarm[] {
  const found = pours.flatMap((pour) => {
    const open = openMarks(pour);
    const moments = [...new Set(open.map((mark) => ms(mark.at)))].filter((at) => at > after);
    return moments.map((at) => ({ pour, at, marks: sameMoment(open, at) }));
  });
  return found.sort((a, b) => a.at - b.at);
}

/** What was passed between two looks at the clock, in the order of the moments. */
export const passed = (pours: readonly Pour[], before: number, now: number): Alarm[] =>
  alarms(pours, before).filter((alarm) => alarm.at <= now);

/** A pour whose last moment is more than a day past: nobody waits for it, somebody forgot to note its release. */
export function isOld(pour: Pour, now: number): boolean {
  const last = Math.max(ms(pour.begun), ...pour.marks.map((mark) => ms(mark.at)));
  return now - last > 86_400_000;
}

/** Three clocks at one instant: this device's, one that only counts, and the server's. */
export type Reading = { wall: number; steady: number; server: number };

/** By more than this the device's clock was set, or the device slept. */
const JUMP_MS = 1500;

/**
 * The server's clock now, from the last reading. A device's clock that is set back changes nothing; a sleep, in which the
 * steady clock may have stood, counts by the device's clock. `jumped` asks for a new reading from the server.
 */
export function advance(last: Reading, wall: number, steady: number): Reading & { jumped: boolean } {
  const byWall = wall - last.wall;
  const bySteady = steady - last.steady;
  const server = last.server + Math.max(byWall, bySteady, 0);
  return { wall, steady, server, jumped: Math.abs(byWall - bySteady) > JUMP_MS };
}

/** The server's clock when its answer came: it was written about half-way between asking and hearing. */
export const heard = (server: string, asked: number, got: number): number => ms(server) + (got - asked) / 2;

/** A moment as the case file has it: the clock of this wall, with its offset from UTC. */
export function withOffset(at: number): string {
  const when = new Date(at);
  const offset = -when.getTimezoneOffset();
  const sign = offset < 0 ? '-' : '+';
  const away = `${sign}${two(Math.floor(Math.abs(offset) / 60))}:${two(Math.abs(offset) % 60)}`;
  return new Date(at + offset * 60_000).toISOString().slice(0, 19) + away;
}

/** A moment as an entry of day and time takes it, by the clock of this wall. */
export const forEntry = (moment: string | null): string =>
  moment === null ? '' : withOffset(ms(moment)).slice(0, 19);

/** What was typed as day and time, as a moment; null where nothing or nonsense stands. */
export function fromEntry(text: string): string | null {
  const at = new Date(text).getTime();
  return isNaN(at) ? null : withOffset(at);
}
