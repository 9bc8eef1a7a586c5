/** The stream of what happens at the server: revisions, answers, long work. Comes back by itself. */
import { effect, signal, untracked } from '@preact/signals';
import { api, ask } from '../api/client';
import type { Shapes, Work } from '../api/shapes';
import { openId, reload, reloadSheet, theCase } from './current';
import { drain, isSending } from './outbox';
import { language } from './settings';

export type Happened = Shapes['EventOut'];

/** Whether the server answers. `asking` until the first time. */
export const link = signal<'asking' | 'up' | 'down'>('asking');
/** Long work that is known of, by name. */
export const works = signal<ReadonlyMap<string, Work>>(new Map());

/** The newest revision of a case that the stream told of. */
const told = signal<{ id: number; revision: number } | null>(null);

/** Asks for the case where the stream told of a revision that is not shown. What this page is sending comes back by itself. */
function follow(): void {
  const news = told.value;
  if (news === null || news.id !== openId.value || isSending(news.id)) return;
  const known = theCase.value?.revision ?? 0;
  untracked(() => {
    told.value = null;
    if (news.revision > known) void reload();
  });
}

const listeners = new Set<(event: Happened) => void>();

/** Calls `listener` for every event until the function given back is called. */
export function onEvent(listener: (event: Happened) => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function heard(event: Happened): void {
  if (event.work) works.value = new Map(works.value).set(event.work.name, event.work);
  const here = event.case_id === openId.value;
  if (here && event.kind === 'revision')
    told.value = { id: event.case_id ?? 0, revision: event.revision ?? 0 };
  const ended = event.work && event.work.state !== 'going on' && event.work.case_id === openId.value;
  if ((here && event.kind === 'answer') || ended) void reloadSheet();
  if ((here && event.kind === 'state') || event.kind === 'anew') void reload();
  for (const listener of listeners) listener(event);
}

function cameUp(): void {
  const back = link.value === 'down';
  link.value = 'up';
  void drain();
  if (back) void reload();
}

const WAIT_MS = [500, 1000, 2000, 5000];

/** Opens the stream and keeps it open, in the language chosen. Returns what closes it. */
export function listen(): () => void {
  let source: EventSource | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let failed = 0;

  const read = (event: MessageEvent<string>) => heard(JSON.parse(event.data) as Happened);
  const open = () => {
    source?.close();
    source = new EventSource(`/api/events?lang=${language.value}`);
    source.onopen = () => {
      failed = 0;
      cameUp();
    };
    source.onmessage = read;
    source.onerror = () => {
      link.value = 'down';
      // The browser tries again by itself after a break of the line, but gives up after a refusal.
      if (source?.readyState !== EventSource.CLOSED) return;
      void ask(api.GET('/api/about')); // says whether this browser may still come in
      clearTimeout(timer);
      timer = setTimeout(open, WAIT_MS[failed] ?? WAIT_MS.at(-1));
      failed += 1;
    };
  };
  const stops = [effect(open), effect(follow)];
  return () => {
    for (const stop of stops) stop();
    clearTimeout(timer);
    source?.close();
  };
}
