/** Filling words: `{name}` in a text is replaced by the value of that name. */
export type Values = Readonly<Record<string, string | number>>;

const PLACE = /\{(\w+)\}/g;

/** Names of the places that a text leaves open, in order, each once. */
export function places(text: string): string[] {
  return [...new Set([...text.matchAll(PLACE)].map((found) => found[1] ?? ''))].sort();
}

/** Fills the places of a text; a place without a value stays visible, so that it is noticed. */
export function fill(text: string, values: Values = {}): string {
  return text.replace(PLACE, (place, name: string) =>
    Object.hasOwn(values, name) ? `${values[name]}` : place,
  );
}
