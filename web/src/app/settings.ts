/** What this browser remembers of the person in front of it: language, look, initials, single-key shortcuts. */
import { effect, signal, type Signal } from '@preact/signals';

export const LANGUAGES = ['en', 'de'] as const;
export type Language = (typeof LANGUAGES)[number];
export const LOOKS = ['auto', 'light', 'dark'] as const;
export type Look = (typeof LOOKS)[number];

const key = (name: string) => `mountproof.${name}`;

function kept<T extends string>(name: string, start: T, allowed?: readonly T[]): Signal<T> {
  const found = localStorage.getItem(key(name)) as T | null;
  const fits = found !== null && (allowed === undefined || allowed.includes(found));
  const held = signal<T>(fits ? found : start);
  effect(() => localStorage.setItem(key(name), held.value));
  return held;
}

const spoken: Language = navigator.language.toLowerCase().startsWith('de') ? 'de' : 'en';

export const language = kept<Language>('language', spoken, LANGUAGES);
export const look = kept<Look>('look', 'auto', LOOKS);
/** Initials of who works; empty until somebody has said. */
export const who = kept<string>('who', '');
export const shortcuts = kept<'on' | 'off'>('shortcuts', 'on', ['on', 'off']);

effect(() => {
  document.documentElement.dataset['look'] = look.value;
});
