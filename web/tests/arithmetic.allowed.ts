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
  { path: 'space/', kinds: ['arithmetic', 'Math'], why: 'drawing: places, cameras, shaders' },
];
