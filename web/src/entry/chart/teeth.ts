/** Teeth by their place in the mouth, and what a case calls them. Numbers are names here: nothing is counted with. */

export type Numbering = 'iso3950' | 'universal';
export type Jaw = 'upper' | 'lower';
export type ToothClass = 'incisor' | 'canine' | 'premolar' | 'molar';
export type Tooth = { iso: string; jaw: Jaw; class: ToothClass };

const CLASS: readonly ToothClass[] = [
  'incisor',
  'incisor',
  'canine',
  'premolar',
  'premolar',
  'molar',
  'molar',
  'molar',
];

const quarter = (number: string, jaw: Jaw): Tooth[] =>
  CLASS.map((kind, at) => ({ iso: `${number}${at + 1}`, jaw, class: kind }));

/** Each jaw from the patient's right to the left, as one sees it standing before the patient. */
export const UPPER: readonly Tooth[] = [...quarter('1', 'upper').reverse(), ...quarter('2', 'upper')];
export const LOWER: readonly Tooth[] = [...quarter('4', 'lower').reverse(), ...quarter('3', 'lower')];
export const TEETH: readonly Tooth[] = [...UPPER, ...LOWER];

/** In the 1-32 system the upper teeth come first, from the right to the left, then the lower from left to right. */
const ORDER_1_32 = [...UPPER, ...[...LOWER].reverse()].map((tooth) => tooth.iso);

/** What a case calls a tooth. */
export const numberOf = (tooth: Tooth, numbering: Numbering): string =>
  numbering === 'iso3950' ? tooth.iso : `${ORDER_1_32.indexOf(tooth.iso) + 1}`;

/** The tooth that a case calls so; undefined where the chart has none (a deciduous tooth, a slip). */
export const toothCalled = (number: string, numbering: Numbering): Tooth | undefined =>
  TEETH.find((tooth) => numberOf(tooth, numbering) === number);

/** Where an arrow leads on the chart. `x` runs to the viewer's right, which is the patient's left. */
export function neighbour(tooth: Tooth, key: string): Tooth | undefined {
  const row = tooth.jaw === 'upper' ? UPPER : LOWER;
  const at = row.indexOf(tooth);
  if (key === 'ArrowLeft') return row[at - 1];
  if (key === 'ArrowRight') return row[at + 1];
  if (key === 'Home') return row[0];
  if (key === 'End') return row.at(-1);
  if (key === 'ArrowUp' && tooth.jaw === 'lower') return UPPER[at];
  return key === 'ArrowDown' && tooth.jaw === 'upper' ? LOWER[at] : undefined;
}
