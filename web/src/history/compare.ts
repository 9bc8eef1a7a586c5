/** What changed from one revision to another, read off the changes of those between. No value is computed. */
import type { Change, Revision } from '../api/shapes';

/** Entries whose value in revision `to` is another one than in `from`, with both, in the order they were first changed. */
export function changesBetween(revisions: readonly Revision[], from: number, to: number): Change[] {
  const [low, high] = from <= to ? [from, to] : [to, from];
  const between = revisions.filter((one) => one.number > low && one.number <= high);
  const oldestFirst = [...between].sort((a, b) => (a.number < b.number ? -1 : 1));
  const net = new Map<string, Change>();
  for (const change of oldestFirst.flatMap((one) => one.changes)) {
    const before = net.get(change.field);
    net.set(change.field, before === undefined ? change : { ...before, new: change.new });
  }
  const found = [...net.values()].filter((change) => change.old !== change.new);
  return from <= to ? found : found.map((change) => ({ ...change, old: change.new, new: change.old }));
}
