/** Single keys that move around the page. They are silent while somebody types, and can be turned off. */
import { caseHref, go, route, viewHref, type CasePart } from '../route';
import { shortcuts } from '../settings';
import { openWindow, windowOpen } from './windows';

const PART: Readonly<Record<string, CasePart>> = {
  s: 'sheet',
  e: 'enter',
  b: 'bench',
  m: 'space',
  h: 'history',
};
const VIEW = { c: 'cases', p: 'pours' } as const;

/** Keys in the order in which the help lists them. */
export const KEYS = ['c', 'p', 's', 'e', 'b', 'm', 'h', 'n', '/', '?'] as const;
export type Key = (typeof KEYS)[number];

const typing = (target: EventTarget | null) =>
  target instanceof HTMLElement &&
  target.closest('input, textarea, select, [contenteditable], [role="grid"]') !== null;

/** Moves to what carries `data-key`: the search of the list, the list of what to measure next. */
function focusOn(key: Key): boolean {
  const found = document.querySelector<HTMLElement>(`[data-key="${key}"]`);
  found?.scrollIntoView({ block: 'nearest' });
  found?.focus();
  return found !== null;
}

function pressed(key: string): boolean {
  if (key === '?') openWindow('keys');
  else if (key === '/' || key === 'n') return focusOn(key);
  else if (key === 'c' || key === 'p') go(viewHref(VIEW[key]));
  else {
    const part = PART[key];
    const here = route.value;
    if (part === undefined || here.view !== 'case') return false;
    go(caseHref(here.id, part));
  }
  return true;
}

/** Listens to the keyboard. Returns what stops it. */
export function listenToKeys(): () => void {
  const listener = (event: KeyboardEvent) => {
    const free = !event.ctrlKey && !event.metaKey && !event.altKey && !event.defaultPrevented;
    if (shortcuts.value === 'off' || !free || windowOpen() || typing(event.target)) return;
    if (pressed(event.key)) event.preventDefault();
  };
  addEventListener('keydown', listener);
  return () => removeEventListener('keydown', listener);
}
