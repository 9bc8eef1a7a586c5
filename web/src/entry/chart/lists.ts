/** Teeth in several lists of which each is in one at most: held, dragged, free. Pure. */
import { teethIn } from '../core/values';

/** The lists, as texts, after a tooth was put into one of them (or into none). Only those that changed. */
export function moved(
  lists: Readonly<Record<string, string>>,
  number: string,
  to: string | undefined,
): Record<string, string> {
  const changed: Record<string, string> = {};
  for (const [key, text] of Object.entries(lists)) {
    const teeth = teethIn(text);
    const has = teeth.includes(number);
    if (key === to && !has) changed[key] = [...teeth, number].join(' ');
    if (key !== to && has) changed[key] = teeth.filter((one) => one !== number).join(' ');
  }
  return changed;
}

/** Which list holds a tooth. */
export const listWith = (lists: Readonly<Record<string, string>>, number: string): string | undefined =>
  Object.keys(lists).find((key) => teethIn(lists[key] ?? '').includes(number));
