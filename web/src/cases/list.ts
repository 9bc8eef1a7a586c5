/** The list of cases as asked for: first page, further pages, asked again when something changes. */
import { computed, signal } from '@preact/signals';
import { api, ask } from '../api/client';
import type { Case, Fault, Listed } from '../api/shapes';
import { link, onEvent } from '../app/events';
import { language } from '../app/settings';

export type Asked = { search: string; state: Case['state'] | ''; order: 'changed' | 'code' };

export const asked = signal<Asked>({ search: '', state: '', order: 'changed' });
export const found = signal<readonly Listed[] | null>(null);
export const more = signal<string | null>(null);
export const faults = signal<readonly Fault[]>([]);

let newest: object = {};
/** How many pages are shown: a list that is asked for again stays as long as it was. */
let pages = 1;

async function page(after: string | null) {
  const { search, state, order } = asked.value;
  const query = { search, order, ...(state === '' ? {} : { state }), ...(after === null ? {} : { after }) };
  return ask(api.GET('/api/cases', { params: { query } }));
}

/** Asks for pages from one on, as many as there are to be. An answer that comes after a later question is dropped. */
async function fetchPages(begin: readonly Listed[], after: string | null, count: number): Promise<void> {
  const mine = (newest = {});
  let cases = begin;
  let next = after;
  for (let at = 0; at < count && (at === 0 || next !== null); at += 1) {
    const got = await page(next);
    if (newest !== mine) return;
    faults.value = got.kind === 'faults' ? got.faults : [];
    if (got.kind !== 'ok') return;
    cases = [...cases, ...got.value.cases];
    next = got.value.next;
  }
  found.value = cases;
  more.value = next;
}

/** Asks for what is shown once more. */
export const refresh = (): Promise<void> => fetchPages([], null, pages);

/** Another question begins with one page. */
function begin(): void {
  pages = 1;
}

/** Asks for the page behind what is shown. */
export function showMore(): Promise<void> {
  pages += 1;
  return fetchPages(found.value ?? [], more.value, 1);
}

/** Keeps the list up to date while it is looked at. Returns what stops it. */
export function follow(): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => void refresh(), 150);
  };
  const questions = computed(() => ({ asked: asked.value, language: language.value, link: link.value }));
  const stopAsking = questions.subscribe(soon);
  const stopBeginning = asked.subscribe(begin);
  const stopHearing = onEvent((event) => {
    if (event.kind === 'revision' || event.kind === 'state' || event.kind === 'anew') soon();
  });
  return () => {
    stopAsking();
    stopBeginning();
    stopHearing();
    clearTimeout(timer);
  };
}
