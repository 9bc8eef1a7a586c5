import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { backward, onward, placeFor, type Place, type Way } from '../../src/entry/grid/moves';
import { blockOf, isBlock, landing } from '../../src/entry/grid/paste';

const sizes = fc.record({ rows: fc.integer({ min: 1, max: 15 }), columns: fc.integer({ min: 1, max: 11 }) });
const ways = fc.constantFrom<Way>('down', 'right');
const key = (name: string, more = {}) => ({
  key: name,
  ctrlKey: false,
  metaKey: false,
  shiftKey: false,
  altKey: false,
  ...more,
});
const all = { start: 0, end: 5, length: 5 };

describe('Enter', () => {
  it('passes every cell once, from the first to the last', () => {
    fc.assert(
      fc.property(sizes, ways, (size, way) => {
        const passed: string[] = [];
        for (let at: Place | null = { row: 0, column: 0 }; at !== null; at = onward(at, size, way)) {
          passed.push(`${at.row} ${at.column}`);
        }
        expect(new Set(passed).size).toBe(size.rows * size.columns);
        expect(passed).toHaveLength(size.rows * size.columns);
      }),
    );
  });

  it('goes back the way it came with the shift key', () => {
    fc.assert(
      fc.property(sizes, ways, fc.nat(), fc.nat(), (size, way, a, b) => {
        const at = { row: a % size.rows, column: b % size.columns };
        const next = onward(at, size, way);
        if (next !== null) expect(backward(next, size, way)).toEqual(at);
      }),
    );
  });

  it('measures one state at all pairs first, unless told otherwise', () => {
    const size = { rows: 2, columns: 2 };
    expect(placeFor(key('Enter'), { row: 1, column: 0 }, size, 'down', all)).toEqual({ row: 0, column: 1 });
    expect(placeFor(key('Enter'), { row: 1, column: 0 }, size, 'right', all)).toEqual({ row: 1, column: 1 });
    expect(placeFor(key('Enter'), { row: 1, column: 1 }, size, 'down', all)).toBe('end');
  });
});

describe('arrows', () => {
  const size = { rows: 3, columns: 3 };
  const middle = { row: 1, column: 1 };

  it('stay inside the table', () => {
    fc.assert(
      fc.property(
        sizes,
        ways,
        fc.nat(),
        fc.nat(),
        fc.constantFrom('ArrowUp', 'ArrowDown', 'ArrowLeft', 'ArrowRight'),
        (of, way, a, b, name) => {
          const to = placeFor(key(name), { row: a % of.rows, column: b % of.columns }, of, way, all);
          expect(to).toSatisfy(
            (place: Place) =>
              place.row >= 0 && place.row < of.rows && place.column >= 0 && place.column < of.columns,
          );
        },
      ),
    );
  });

  it('move the caret while it is inside a number', () => {
    const inside = { start: 2, end: 2, length: 5 };
    expect(placeFor(key('ArrowLeft'), middle, size, 'down', inside)).toBeUndefined();
    expect(placeFor(key('ArrowRight'), middle, size, 'down', inside)).toBeUndefined();
    expect(placeFor(key('ArrowLeft'), middle, size, 'down', { start: 0, end: 0, length: 5 })).toEqual({
      row: 1,
      column: 0,
    });
    expect(
      placeFor(key('ArrowRight'), middle, size, 'down', { start: 0, end: 0, length: 5 }),
    ).toBeUndefined();
    expect(placeFor(key('ArrowUp'), middle, size, 'down', inside)).toEqual({ row: 0, column: 1 });
  });

  it('leave stretches and words to the browser', () => {
    expect(placeFor(key('ArrowLeft', { shiftKey: true }), middle, size, 'down', all)).toBeUndefined();
    expect(placeFor(key('a'), middle, size, 'down', all)).toBeUndefined();
    expect(placeFor(key('ArrowUp', { altKey: true }), middle, size, 'down', all)).toBeUndefined();
    expect(placeFor(key('End', { ctrlKey: true }), middle, size, 'down', all)).toEqual({ row: 2, column: 2 });
  });
});

describe('a pasted block', () => {
  const target = { pairs: ['UR-LR', 'UA-LA', 'UL-LL'], states: ['A', 'B', 'C'] };
  const at = (row: number, column: number) => ({ row, column });
  const texts = (block: string, row = 0, column = 0) =>
    landing(blockOf(block), target, at(row, column)).cells.map(
      (cell) => `${cell.pair} ${cell.state} ${cell.text}`,
    );

  it('fills the table from where it was pasted, texts as they were', () => {
    expect(texts('38,05\t38.10\r\n42,60\t-\r\n', 1, 1)).toEqual([
      'UA-LA B 38,05',
      'UA-LA C 38.10',
      'UL-LL B 42,60',
      'UL-LL C ',
    ]);
  });

  it('with names goes where they say, wherever it was pasted', () => {
    const block = 'pair\tB\tA\nUL-LL\t38.10\t36.05\nUR-LR\t38.05/38.00\t36.10';
    expect(texts(block, 2, 2)).toEqual([
      'UL-LL B 38.10',
      'UL-LL A 36.05',
      'UR-LR B 38.05/38.00',
      'UR-LR A 36.10',
    ]);
  });

  it('may be the table of a case file, lined up with spaces', () => {
    expect(texts('      A      B\nUR-LR 36.10  38.05\n')).toEqual(['UR-LR A 36.10', 'UR-LR B 38.05']);
    expect(texts('A B\n36.10 38.05')).toEqual(['UR-LR A 36.10', 'UR-LR B 38.05']);
  });

  it('tells what has no place', () => {
    const found = landing(blockOf('pair;B;X\nUR-LR;38.05;1\nUQ-LQ;2;3'), target, at(0, 0));
    expect(found.cells).toEqual([{ pair: 'UR-LR', state: 'B', text: '38.05' }]);
    expect(found.noPairs).toEqual(['UQ-LQ']);
    expect(found.noStates).toEqual(['X']);
    const below = landing(blockOf('1\n2\n3'), target, at(1, 0));
    expect(below.cells).toHaveLength(2);
    expect(below.noPairs).toEqual(['4']);
  });

  it('of one cell is ordinary typing', () => {
    expect(isBlock(blockOf('38.05\n'))).toBe(false);
    expect(isBlock(blockOf('38.05/38.00'))).toBe(false);
    expect(isBlock(blockOf('38.05\t38.10'))).toBe(true);
  });

  it('never invents or loses a cell that has a place', () => {
    const cell = fc.stringMatching(/^\d{2}[.,]\d{2}$/);
    fc.assert(
      fc.property(
        fc.array(fc.array(cell, { minLength: 3, maxLength: 3 }), { minLength: 1, maxLength: 3 }),
        (rows) => {
          const found = landing(blockOf(rows.map((row) => row.join('\t')).join('\n')), target, at(0, 0));
          expect(found.cells.map((one) => one.text)).toEqual(rows.flat());
        },
      ),
    );
  });
});
