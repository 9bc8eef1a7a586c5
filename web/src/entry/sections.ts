/** The forms of a case, which entries each holds, and which answers each bears on. Pure. */
import { isBelow } from './core/names';

export const SECTIONS = [
  'case',
  'teeth',
  'instrument',
  'facebow',
  'caliper',
  'casts',
  'records',
  'marks',
  'reseat',
  'pin',
  'stone',
  'foils',
  'proof',
  'settings',
  'space',
  'change',
  'prescription',
  'followups',
  'bases',
  'steps',
  'limits',
] as const;
export type Section = (typeof SECTIONS)[number];

export const HOLDS: Readonly<Record<Section, readonly string[]>> = {
  case: ['code', 'date', 'lab', 'by', 'course', 'note', 'schema_version'],
  teeth: ['dentition', 'teeth_at'],
  instrument: ['instrument', 'plane'],
  caliper: ['caliper'],
  facebow: ['facebow'],
  casts: ['casts', 'push'],
  records: ['records', 'mounted_on', 'record_repeat_mm', 'record_repeat_dof', 'visit_repeat_mm'],
  reseat: ['marks.reseat_mm', 'marks.reseat_record'],
  marks: ['marks'],
  pin: ['pin_readings'],
  stone: ['bench'],
  foils: ['foils'],
  proof: ['proof'],
  settings: ['settings'],
  space: ['space'],
  change: ['change'],
  prescription: ['prescription'],
  followups: ['followups'],
  bases: ['few_teeth'],
  steps: ['doubt'],
  limits: ['limits'],
};

/** Answers that a form bears on, by their keys, in the order of the sheet. */
export const BEARS_ON: Readonly<Record<Section, readonly string[]>> = {
  case: [],
  teeth: ['pin', 'mounting', 'contacts'],
  instrument: ['pin', 'mounting', 'guidance'],
  facebow: ['record', 'mounting'],
  caliper: ['pin', 'record'],
  casts: ['mounting', 'contacts'],
  records: ['record', 'mounting', 'contacts'],
  marks: ['pin', 'record', 'mounting'],
  reseat: ['record'],
  pin: ['pin', 'mounting'],
  stone: ['stone'],
  foils: ['mounting', 'contacts'],
  proof: ['mounting'],
  settings: ['guidance'],
  space: ['change'],
  change: ['change', 'doubt'],
  prescription: [],
  followups: ['doubt'],
  bases: ['record', 'mounting'],
  steps: ['doubt'],
  limits: ['pin', 'stone', 'record', 'mounting', 'contacts'],
};

const isSection = (name: string): name is Section => (SECTIONS as readonly string[]).includes(name);

/** The form that holds an entry; the table of marks where none is known to. */
export function sectionOf(field: string): Section {
  const holding = SECTIONS.filter((section) => HOLDS[section].some((top) => isBelow(field, top)));
  // The seatings of a record stand under the marks, and have a form of their own.
  return holding.includes('reseat') ? 'reseat' : (holding[0] ?? 'marks');
}

/** What an address behind `enter/` asks for: a form, and an entry to go to in it. */
export function readRest(rest: readonly string[]): { section: Section; field: string } {
  const [first = '', second = ''] = rest;
  if (first === 'field' && second !== '') return { section: sectionOf(second), field: second };
  return { section: isSection(first) ? first : 'case', field: '' };
}
