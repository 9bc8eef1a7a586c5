/** The fields of a case, asked for once in each language. */
import { effect, signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { Fault, Field } from '../../api/shapes';
import { link } from '../../app/events';
import { language, type Language } from '../../app/settings';
import { fieldsFrom, type Fields } from './fields';

const known = signal<{ language: Language; fields: Fields } | null>(null);
export const notKnown = signal<readonly Fault[]>([]);

/** What is known of the entries; null until the server has said. */
export const fields = (): Fields | null => known.value?.fields ?? null;

/** Takes a list of fields as known. */
export function know(list: readonly Field[], lang: Language): void {
  known.value = { language: lang, fields: fieldsFrom(list) };
}

async function fetchFields(lang: Language): Promise<void> {
  const got = await ask(api.GET('/api/fields'));
  if (language.peek() !== lang) return;
  notKnown.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind === 'ok') know(got.value, lang);
}

/** Keeps the fields known in the language chosen: asks again when the server comes back. Returns what stops it. */
export function learn(): () => void {
  return effect(() => {
    const lang = language.value;
    if (link.value === 'down' || known.value?.language === lang) return;
    void fetchFields(lang);
  });
}
