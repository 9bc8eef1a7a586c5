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
 * Adds a batch. A value typed over one that is not saved takes its place: in the last batch that waits; in one that was
 * refused, which then waits again; in one that is contested, of which the rest stays. All else goes to the end, in the
 * order it was typed.
 */
export function added(box: readonly Batch[], next: Batch): Batch[] {
  if (!plain(next.edits)) return [...box, next];
  const fields = new Set(next.edits.map((edit) => edit.field));
  const over = (one: Batch) => one.caseId === next.caseId && one.edits.some((edit) => fields.has(edit.field));
  const refused = box.find((one) => one.state === 'refused' && over(one));
  const kept = box.flatMap((one) => {
    if (one === refused) return [];
    return one.state === 'contested' && over(one) ? uncontested(one, fields) : [one];
  });
  if (refused === undefined) return joined(kept, next);
  const others = refused.edits.filter((edit) => !fields.has(edit.field));
  return joined(kept, { ...next, base: refused.base, edits: [...others, ...next.edits] });
}

/** A contested batch without some of its entries: it waits again where none of the others is contested. */
function uncontested(batch: Batch, fields: ReadonlySet<string>): Batch[] {
  const edits = batch.edits.filter((edit) => !fields.has(edit.field));
  const { conflicts, faults: _, ...free } = batch;
  const left = (conflicts?.conflicts ?? []).filter((one) =>
    edits.some((edit) => sameField(one.field, edit.field)),
  );
  if (edits.length === 0) return [];
  if (conflicts === undefined || left.length === 0) return [{ ...free, edits, state: 'waiting' }];
  return [{ ...batch, edits, conflicts: { ...conflicts, conflicts: left } }];
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

/** Fields typed anew behind a batch: what it holds of them is no longer what the person wants. */
function typedAnew(box: readonly Batch[], batch: Batch): Set<string> {
  const behind = box.slice(box.findIndex((one) => one.key === batch.key) + 1);
  const mine = behind.filter((one) => one.caseId === batch.caseId && plain(one.edits));
  return new Set(mine.flatMap((one) => one.edits.map((edit) => edit.field)));
}

/** After the server contested or refused a batch: it stays with what came of it, less what was typed anew meanwhile. */
export function stopped(
  box: readonly Batch[],
  batch: Batch,
  what: { state: 'contested'; conflicts: Conflicts } | { state: 'refused'; faults: Fault[] },
): Batch[] {
  const fields = typedAnew(box, batch);
  const held: Batch = { ...batch, ...what };
  const overtaken = plain(batch.edits) && batch.edits.some((edit) => fields.has(edit.field));
  return box.flatMap((one) => {
    if (one.key !== batch.key) return [one];
    return overtaken ? uncontested(held, fields) : [held];
  });
}

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
      ...(mine.length > 0
        ? [{ ...one, key: rest.length > 0 ? `${one.key}+` : one.key, base: now, edits: mine }]
        : []),
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
