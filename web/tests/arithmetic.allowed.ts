/** Files (or folders, ending on `/`) of `src` that may do arithmetic, what kind, and why. Never on a quantity of an answer. */
export type Kind = 'arithmetic' | 'Math' | 'reading numbers' | 'formatting';

export const ALLOWED: readonly { path: string; kinds: readonly Kind[]; why: string }[] = [
  { path: 'api/upload.ts', kinds: ['arithmetic'], why: 'how much of a file has left, for the bar' },
  {
    path: 'app/moment.ts',
    kinds: ['formatting'],
    why: 'a clock: moments as the clock on this wall says them',
  },
  { path: 'app/route.ts', kinds: ['reading numbers'], why: 'the number of a case in an address' },
  {
    path: 'app/outbox/keep.ts',
    kinds: ['reading numbers', 'arithmetic'],
    why: 'a clock: how old a sign of life is',
  },
  { path: 'devices/left.ts', kinds: ['arithmetic', 'Math'], why: 'a clock: how long a code is still good' },
  {
    path: 'bench/wall/',
    kinds: ['arithmetic', 'Math'],
    why: 'a clock: how long until a moment, and the tones planned for it',
  },
  { path: 'entry/chart/', kinds: ['arithmetic', 'Math'], why: 'drawing: a tooth chart' },
  {
    path: 'entry/plan/',
    kinds: ['arithmetic', 'Math', 'reading numbers'],
    why: 'drawing: places in the outline of a base',
  },
  { path: 'entry/grid/moves.ts', kinds: ['arithmetic', 'Math'], why: 'which cell of a table comes next' },
  { path: 'entry/grid/paste.ts', kinds: ['arithmetic', 'Math'], why: 'how many columns a pasted block has' },
  { path: 'entry/grid/Table.tsx', kinds: ['reading numbers'], why: 'which cell of a table the cursor is in' },
  { path: 'space/', kinds: ['arithmetic', 'Math'], why: 'drawing: places, cameras, shaders' },
  {
    path: 'space/scans/numbers.ts',
    kinds: ['reading numbers'],
    why: 'drawing: a mark where a typed place lies on the cast',
  },
];
