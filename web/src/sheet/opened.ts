/** Which questions are open: kept while the page is, so that coming back finds the sheet as it was left. */
import { signal } from '@preact/signals';

export const opened = signal<ReadonlySet<string>>(new Set());

export function openOne(key: string, open: boolean): void {
  const next = new Set(opened.value);
  if (open) next.add(key);
  else next.delete(key);
  opened.value = next;
}

export function openAll(keys: readonly string[], open: boolean): void {
  opened.value = new Set(open ? keys : []);
}
