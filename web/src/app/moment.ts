/** A moment as the clock on this wall says it. The only place where the page writes a number: the server knows no time zone of a tablet. */
import { language, type Language } from './settings';

/** Days before months and hours up to 24, as in the laboratories that the languages are for. */
const CLOCK: Record<Language, string> = { en: 'en-GB', de: 'de' };

/** `at` is a moment with its offset, as the server sends it. An unreadable one is shown as it came. */
export function momentText(at: string): string {
  const when = new Date(at);
  if (isNaN(when.getTime())) return at;
  return when.toLocaleString(CLOCK[language.value], { dateStyle: 'medium', timeStyle: 'short' });
}
