/** Values as the case file writes them, without its marks: texts without quotes, measured values with their ±. */

const MEASURED = /^\{ *value *= *([^,{}]+?) *, *u *= *([^,{}]+?) *\}$/;
const TEXT = /^"((?:[^"\\]|\\.)*)"$/;

const unquoted = (text: string) => text.replace(/\\(["\\])/g, '$1');

/** The value as a person would write it. What is neither is shown as it stands in the file. */
export function plainly(value: string): string {
  const measured = MEASURED.exec(value);
  if (measured !== null) return `${measured[1]} ± ${measured[2]}`;
  const text = TEXT.exec(value);
  return text === null ? value : unquoted(text[1] ?? '');
}
