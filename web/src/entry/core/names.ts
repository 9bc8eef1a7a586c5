/** Names of entries, as the case file and its faults write them: `records."record 1".kind`, items counted from 1. */

/** Stands in a name for an item that is to be made at the end of a list: `foils.+`. No name can be typed that is the same. */
export const NEW = '\ue000+';
/** Stands in a name for every row of a table: `marks.readings_mm.*.B` is a column. */
export const EVERY = '\ue000*';

const PLAIN = /^[A-Za-z0-9_-]+$/;

const quoted = (step: string) =>
  step === NEW || step === EVERY
    ? step.slice(1)
    : PLAIN.test(step)
      ? step
      : `"${step.replace(/\\/g, '\\\\').replace(/"/g, '\\"')}"`;

/** The name of an entry, from its steps. */
export const nameOf = (...steps: readonly (string | number)[]): string =>
  steps.map((step) => quoted(`${step}`)).join('.');

/** The name of an entry below another one. */
export const under = (field: string, ...steps: readonly (string | number)[]): string =>
  field === '' ? nameOf(...steps) : [field, nameOf(...steps)].join('.');

const bare = (step: string | undefined) => (step === '+' ? NEW : step === '*' ? EVERY : step);

/** The steps of a name. What is no name comes back as one step, so that it is found nowhere. */
export function stepsOf(field: string): string[] {
  const steps: string[] = [];
  let rest = field;
  while (rest !== '') {
    const found = /^(?:([^."]+)|"((?:[^"\\]|\\.)*)")(?:\.(?=.)|$)/.exec(rest);
    if (found === null) return [field];
    steps.push(bare(found[1]) ?? (found[2] ?? '').replace(/\\(.)/g, '$1'));
    rest = rest.slice(found[0].length);
  }
  return steps;
}

/** The name of what holds an entry; empty for the case itself. */
export const parentOf = (field: string): string => nameOf(...stepsOf(field).slice(0, -1));

/** Whether an entry is another one, or stands below it. */
export const isBelow = (field: string, top: string): boolean => field === top || field.startsWith(`${top}.`);
