/** A block of cells from a spreadsheet or a text, and where its cells go in a table of marks. Pure; texts stay texts. */

export type Block = string[][];
export type Target = { pairs: readonly string[]; states: readonly string[] };
export type Landing = {
  /** Cells that have a place in the table. */
  cells: { pair: string; state: string; text: string }[];
  /** Rows and columns of the block for which the table has no place. */
  noPairs: string[];
  noStates: string[];
};

const CORNER = /^(pair|pairs|marks|paar|paare|marken)?$/i;
const NOTHING = new Set(['', '-', '–', '—', '.', '?']);
const READING = /^[+−-]?[\d.,]+(?:\s*\/\s*[+−-]?[\d.,]+)*$/;

const isReading = (text: string) => NOTHING.has(text) || READING.test(text);

/**
 * Cells of a copied text. Tabs part cells, as spreadsheets copy them; without tabs semicolons do, else spaces, with
 * which a text that was lined up by hand is read.
 */
export function blockOf(text: string): Block {
  const lines = text.replace(/\r\n?/g, '\n').replace(/\n+$/, '').split('\n');
  const tabs = lines.some((line) => line.includes('\t'));
  const semicolons = !tabs && lines.some((line) => line.includes(';'));
  const parted = (line: string) =>
    tabs ? line.split('\t') : semicolons ? line.split(';') : line.trim().split(/\s+/);
  return lines.filter((line) => line.trim() !== '').map((line) => parted(line).map((cell) => cell.trim()));
}

/** Whether a copied text is more than one cell. */
export const isBlock = (block: Block): boolean => block.length > 1 || (block[0]?.length ?? 0) > 1;

/** Whether the first line of a block names states, and the first column pairs. */
function named(block: Block, target: Target): { states: boolean; pairs: boolean } {
  const first = block[0] ?? [];
  const known = first.some((cell) => target.states.includes(cell));
  const wordsOnly =
    first.slice(1).length > 0 && first.slice(1).every((cell) => cell !== '' && !isReading(cell));
  const states = known || (wordsOnly && CORNER.test(first[0] ?? ''));
  const body = states ? block.slice(1) : block;
  const pairs =
    body.length > 0 && body.every((row) => row[0] !== undefined && row[0] !== '' && !isReading(row[0]));
  return { states, pairs };
}

/**
 * Where the cells of a block land. Names in its first line and column go before the place it was pasted at; without
 * them it fills the table from there, to the right and down.
 */
export function landing(block: Block, target: Target, at: { row: number; column: number }): Landing {
  const has = named(block, target);
  const head = has.states ? (block[0] ?? []) : [];
  const body = has.states ? block.slice(1) : block;
  const shift = has.pairs ? 1 : 0;
  // A header line may or may not have a word above the pairs.
  const titles = has.states ? head.slice(has.pairs && head.length >= (body[0]?.length ?? 0) ? 1 : 0) : [];
  const width = Math.max(0, ...body.map((row) => row.length - shift));
  const states = Array.from({ length: width }, (_, i) =>
    has.states ? titles[i] : target.states[at.column + i],
  );
  const pairs = body.map((row, i) => (has.pairs ? row[0] : target.pairs[at.row + i]));
  const noState = (i: number) => titles[i] ?? `${at.column + i + 1}`;
  const noPair = (i: number) => (has.pairs ? (body[i]?.[0] ?? '') : `${at.row + i + 1}`);
  const known = (name: string | undefined, names: readonly string[]): name is string =>
    name !== undefined && names.includes(name);
  return {
    cells: body.flatMap((row, r) =>
      row.slice(shift).flatMap((text, c) => {
        const pair = pairs[r];
        const state = states[c];
        if (!known(pair, target.pairs) || !known(state, target.states)) return [];
        return [{ pair, state, text: NOTHING.has(text) ? '' : text }];
      }),
    ),
    noPairs: pairs.flatMap((pair, i) => (known(pair, target.pairs) ? [] : [noPair(i)])),
    noStates: states.flatMap((state, i) => (known(state, target.states) ? [] : [noState(i)])),
  };
}
