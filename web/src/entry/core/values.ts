/** What stands in a case, found by the name of its entry, and as the text that a form shows. Nothing is computed. */
import { stepsOf } from './names';

export type Json = unknown;
export type Group = Readonly<Record<string, Json>>;

export const isGroup = (value: Json): value is Group =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function stepInto(here: Json, step: string): Json {
  if (Array.isArray(here)) return (here as Json[]).find((_, at) => `${at + 1}` === step);
  return isGroup(here) && Object.hasOwn(here, step) ? here[step] : undefined;
}

/** What stands at an entry; undefined where nothing does. Items of lists count from 1. */
export const valueAt = (entered: Json, field: string): Json =>
  field === '' ? entered : stepsOf(field).reduce(stepInto, entered);

/** Items of a list, or nothing. */
export const itemsAt = (entered: Json, field: string): readonly Json[] => {
  const found = valueAt(entered, field);
  return Array.isArray(found) ? found : [];
};

/** Names in a group, in their order. */
export const namesAt = (entered: Json, field: string): string[] => {
  const found = valueAt(entered, field);
  return isGroup(found) ? Object.keys(found) : [];
};

/** A value as the text of a form: as typed. Lists become words; a measured value its two parts. */
export function textOf(value: Json): string {
  if (value === undefined || value === null) return '';
  if (typeof value === 'string') return value;
  if (typeof value === 'number' || typeof value === 'boolean') return `${value}`;
  // Rows of a matrix stand below each other.
  if (Array.isArray(value)) return value.map(textOf).join(value.some(Array.isArray) ? '\n' : ' ');
  if (isGroup(value) && 'value' in value) {
    const u = textOf(value['u']);
    return u === '' ? textOf(value['value']) : `${textOf(value['value'])} ± ${u}`;
  }
  return '';
}

const PLUS_MINUS = /\s*(?:\+\/?-|±)\s*/;

/** The parts of a measured value as typed: what was measured, and its standard uncertainty. */
export function measuredParts(text: string): { value: string; u: string } {
  const [value = '', ...rest] = text.split(PLUS_MINUS);
  return { value: value.trim(), u: rest.join(' ').trim() };
}

/** The text of a measured value from its parts. */
export const measuredText = (value: string, u: string): string =>
  u.trim() === '' ? value.trim() : `${value.trim()} ± ${u.trim()}`;

/** Tooth numbers in a text: whatever separates them, each once, as typed. */
export const teethIn = (text: string): string[] => [
  ...new Set(text.split(/[\s,;/.]+/).filter((word) => word !== '')),
];

/** Rows of numbers in a text, as typed: a line a row, or sixteen numbers in one line as four rows of four. */
export function rowsIn(text: string): string[][] {
  const words = (line: string) => line.split(/[\s;[\]]+|,(?=\s)/).filter((word) => word !== '');
  const rows = text
    .split('\n')
    .map(words)
    .filter((row) => row.length > 0);
  const all = rows.flat();
  if (all.length !== 16) return rows;
  return [0, 4, 8, 12].map((start) => all.slice(start, start + 4));
}
