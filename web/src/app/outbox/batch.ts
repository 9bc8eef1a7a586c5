/** Entries on their way to the server, as plain data: what joins, what follows from an answer. Pure. */
import type { Conflicts, Edit, Fault } from '../../api/shapes';

/** Entries that were made together, on top of what the person saw as revision `base`. */
export type Batch = {
  key: string;
  caseId: number;
  base: number;
  edits: Edit[];
  what: string;
  who: string;
  at: string;
  state: 'waiting' | 'sending' | 'refused' | 'contested';
  faults?: Fault[];
  conflicts?: Conflicts;
};

/** A name that ends on `+` makes an item of a list: two such entries are two items and never one. */
const makesItem = (edit: Edit) => edit.field.split('.').includes('+');
/** Taking an entry out can move the places of a list: later names count from there. */
const moves = (edit: Edit) => makesItem(edit) || edit.value === null;

export const sameField = (a: string, b: string) => a === b || a.startsWith(`${b}.`) || b.startsWith(`${a}.`);

const plain = (edits: readonly Edit[]) => !edits.some(moves);

/**
 * Adds a batch. A value typed over one that has not left yet takes its place: in the last batch that waits, or in one
 * that was refused, which then waits again. All else goes to the end, in the order it was typed.
 */
export function added(box: readonly Batch[], next: Batch): Batch[] {
  const fields = new Set(next.edits.map((edit) => edit.field));
  const refused = plain(next.edits)
    ? box.find(
        (one) =>
          one.caseId === next.caseId && one.state === 'refused' && one.edits.some((e) => fields.has(e.field)),
      )
    : undefined;
  if (refused !== undefined) {
    const kept = refused.edits.filter((edit) => !fields.has(edit.field));
    return joined(without(box, refused.key), {
      ...next,
      base: refused.base,
      edits: [...kept, ...next.edits],
    });
  }
  return joined(box, next);
}

function joined(box: readonly Batch[], next: Batch): Batch[] {
  const last = box.filter((one) => one.caseId === next.caseId).at(-1);
  const fits =
    last?.state === 'waiting' && last.base === next.base && last.who === next.who && last.what === next.what;
  if (last === undefined || !fits || !plain(last.edits) || !plain(next.edits)) return [...box, next];
  const fields = new Set(next.edits.map((edit) => edit.field));
  const kept = last.edits.filter((edit) => !fields.has(edit.field));
  const merged = { ...last, edits: [...kept, ...next.edits], at: next.at };
  return box.map((one) => (one.key === last.key ? merged : one));
}

export const without = (box: readonly Batch[], key: string): Batch[] => box.filter((one) => one.key !== key);

export const changed = (box: readonly Batch[], key: string, to: Partial<Batch>): Batch[] =>
  box.map((one) => (one.key === key ? { ...one, ...to } : one));

/**
 * After `sent` became revision `now`: batches typed on top of it are told so. If nobody else came between, all of
 * them; if somebody did, only entries that the sent batch touches, since the others were typed on top of the old value.
 */
export function rebased(box: readonly Batch[], sent: Batch, now: number): Batch[] {
  const alone = now <= sent.base + 1;
  return without(box, sent.key).flatMap((one) => {
    if (one.caseId !== sent.caseId || one.base !== sent.base || one.state === 'contested') return [one];
    if (alone) return [{ ...one, base: now }];
    const mine = one.edits.filter((edit) => sent.edits.some((old) => sameField(old.field, edit.field)));
    const rest = one.edits.filter((edit) => !mine.includes(edit));
    return [
      ...(rest.length > 0 ? [{ ...one, edits: rest }] : []),
      ...(mine.length > 0 ? [{ ...one, key: `${one.key}+`, base: now, edits: mine }] : []),
    ];
  });
}

/** After a person chose: their own values on top of what is there now, the others' left as they are. */
export function chosen(
  box: readonly Batch[],
  key: string,
  choices: Readonly<Record<string, 'mine' | 'theirs'>>,
): Batch[] {
  return box.flatMap((one) => {
    if (one.key !== key || one.conflicts === undefined) return [one];
    const { conflicts, ...free } = one;
    const contest = (edit: Edit) => conflicts.conflicts.find((found) => sameField(found.field, edit.field));
    const calm = one.edits.filter((edit) => contest(edit) === undefined);
    const mine = one.edits.filter((edit) => {
      const found = contest(edit);
      return found !== undefined && choices[found.field] === 'mine';
    });
    const again = (edits: Edit[], base: number, suffix: string): Batch[] =>
      edits.length > 0 ? [{ ...free, key: one.key + suffix, base, edits, state: 'waiting' }] : [];
    return [...again(calm, one.base, ''), ...again(mine, conflicts.revision, '+')];
  });
}

/** The next batch to send: the first that waits, one at a time, so that order is kept. */
export const upNext = (box: readonly Batch[]): Batch | undefined =>
  box.some((one) => one.state === 'sending') ? undefined : box.find((one) => one.state === 'waiting');
