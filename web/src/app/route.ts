/** Addresses of the page: `#/cases`, `#/case/ID`, `#/case/ID/PART/…`, `#/pours`, `#/practice`, `#/devices`. */
import { computed, signal } from '@preact/signals';

export const CASE_PARTS = ['sheet', 'enter', 'bench', 'space', 'history'] as const;
export type CasePart = (typeof CASE_PARTS)[number];

export type Route =
  | { view: 'cases' | 'pours' | 'practice' | 'devices'; rest: string[] }
  | { view: 'case'; id: number; part: CasePart; rest: string[] }
  | { view: 'nowhere'; address: string };

function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part; // an address cut off in the middle of an escape is read as it stands
  }
}

/** Reads an address. Anything unknown is `nowhere`, with the address to show. */
export function readRoute(hash: string): Route {
  const parts = hash
    .replace(/^#?\/?/, '')
    .split('/')
    .filter((part) => part !== '')
    .map(decoded);
  const [first = 'cases', second, third, ...more] = parts;
  if (first === 'cases' || first === 'pours' || first === 'practice' || first === 'devices') {
    return { view: first, rest: parts.slice(1) };
  }
  if (first === 'case' && second !== undefined && /^[1-9][0-9]{0,14}$/.test(second)) {
    const id = parseInt(second, 10);
    const part = CASE_PARTS.find((name) => name === (third ?? 'sheet'));
    if (part !== undefined) return { view: 'case', id, part, rest: more };
  }
  return { view: 'nowhere', address: hash };
}

const join = (...parts: string[]) => `#/${parts.map(encodeURIComponent).join('/')}`;

/** Address of a part of a case: `caseHref(7)`, `caseHref(7, 'enter', 'foils')`. */
export function caseHref(id: number, part: CasePart = 'sheet', ...rest: string[]): string {
  return part === 'sheet' && rest.length === 0 ? join('case', `${id}`) : join('case', `${id}`, part, ...rest);
}

/**
 * Address where an entry of the case file is made, by its name there: scans in space, steps and pours at the
 * bench, all else in the forms (`enter/field/NAME`).
 */
export function entryHref(id: number, field: string): string {
  const top = field.split('.')[0] ?? '';
  if (top === 'scans') return caseHref(id, 'space', 'field', field);
  if (top === 'procedure' || top === 'pours') return caseHref(id, 'bench', 'field', field);
  return field === '' ? caseHref(id, 'enter') : caseHref(id, 'enter', 'field', field);
}

export const viewHref = (view: 'cases' | 'pours' | 'practice' | 'devices', ...rest: string[]) =>
  join(view, ...rest);

const hash = signal(location.hash);
addEventListener('hashchange', () => {
  hash.value = location.hash;
});

/** Where the page is. */
export const route = computed<Route>(() => readRoute(hash.value));

/** Goes to an address made by one of the functions here. */
export function go(href: string): void {
  location.hash = href;
}
