/** What comes back from the server is a value: an answer, faults, conflicts, or no server at all. */
import type { Conflicts, Fault } from './shapes';

export type Refused = { kind: 'faults'; status: number; faults: Fault[] };
export type Contested = { kind: 'conflicts'; conflicts: Conflicts };
/** The server did not answer: nothing is known of whether it took what was sent. */
export type Away = { kind: 'away' };
export type Outcome<T> = { kind: 'ok'; value: T } | Refused | Contested | Away;

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null;

/** Faults as the server writes them; a body that is none becomes one fault that says what came. */
export function faultsOf(status: number, body: unknown): Fault[] {
  if (isRecord(body) && Array.isArray(body['faults'])) return body['faults'] as Fault[];
  const what = `The server answered with status ${status}.`;
  return [{ code: 'unexpected', what, todo: '', where: '', line: null, field: '', got: '', allowed: '' }];
}

/** Reads an answer that is not a success. Statuses 502 to 504 come from something in between: the server is away. */
export function failure(status: number, body: unknown): Refused | Contested | Away {
  if (status >= 502 && status <= 504) return { kind: 'away' };
  if (status === 409 && isRecord(body) && Array.isArray(body['conflicts'])) {
    return { kind: 'conflicts', conflicts: body as unknown as Conflicts };
  }
  return { kind: 'faults', status, faults: faultsOf(status, body) };
}
