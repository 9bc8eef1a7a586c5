/**
 * Words of the page in the language chosen: `t('sheet.title')`, `t('cases.found', { count })`.
 * Keys are checked by the compiler; a test holds the languages, places and uses together.
 */
import { computed, signal } from '@preact/signals';
import { language, type Language } from '../settings';
import { fill, type Values } from './table';

type Words = (typeof import('./en'))['default'];
type KeyOf<Area extends keyof Words> = `${Area}.${Extract<keyof Words[Area], string>}`;
export type WordKey = { [Area in keyof Words]: KeyOf<Area> }[keyof Words];

const LOAD: Record<Language, () => Promise<{ default: Words }>> = {
  en: () => import('./en'),
  de: () => import('./de'),
};

const loaded = signal<Readonly<Record<string, string>>>({});

const flat = (words: Words): Record<string, string> =>
  Object.fromEntries(
    Object.entries(words).flatMap(([area, table]) =>
      Object.entries(table).map(([name, text]) => [`${area}.${name}`, text]),
    ),
  );

/** Loads the words of a language and shows them; the page's language says so to screen readers. */
export async function speak(lang: Language): Promise<void> {
  const words = await LOAD[lang]();
  if (language.peek() !== lang) return; // somebody chose again meanwhile
  loaded.value = flat(words.default);
  document.documentElement.lang = lang;
}

/** Whether there are words to show. */
export const ready = computed(() => Object.keys(loaded.value).length > 0);

/** The words of a key, with its places filled. Follows the language chosen. */
export function t(key: WordKey, values?: Values): string {
  return fill(loaded.value[key] ?? key, values);
}
