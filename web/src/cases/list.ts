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

async function page(after: string | null) {
  const { search, state, order } = asked.value;
  const query = { search, order, ...(state === '' ? {} : { state }), ...(after === null ? {} : { after }) };
  return ask(api.GET('/api/cases', { params: { query } }));
}

/** Asks for the first page. An answer that comes after a later question is dropped. */
export async function refresh(): Promise<void> {
  const mine = (newest = {});
  const got = await page(null);
  if (newest !== mine) return;
  faults.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind !== 'ok') return;
  found.value = got.value.cases;
  more.value = got.value.next;
}

/** Asks for the page behind what is shown. */
export async function showMore(): Promise<void> {
  const mine = newest;
  const got = await page(more.value);
  if (newest !== mine) return;
  faults.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind !== 'ok') return;
  found.value = [...(found.value ?? []), ...got.value.cases];
  more.value = got.value.next;
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
  const stopHearing = onEvent((event) => {
    if (event.kind === 'revision' || event.kind === 'state' || event.kind === 'anew') soon();
  });
  return () => {
    stopAsking();
    stopHearing();
    clearTimeout(timer);
  };
}
