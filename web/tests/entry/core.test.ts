import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Field } from '../../src/api/shapes';
import { fieldAt, fieldsFrom, neededBelow } from '../../src/entry/core/fields';
import { heldBy, together } from '../../src/entry/core/holding';
import { EVERY, isBelow, NEW, nameOf, parentOf, stepsOf, under } from '../../src/entry/core/names';
import { cellName, isCell, sameText, valueOf } from '../../src/entry/core/reading';
import { cellsOnTheWay, placeOfNew, withEdits } from '../../src/entry/core/typed';
import { measuredParts, measuredText, teethIn, textOf, valueAt } from '../../src/entry/core/values';

const field = (path: string, kind: Field['kind'] = 'number', needed = false): Field => ({
  path,
  label: path,
  what: '',
  unit: '',
  kind,
  choices: [],
  low: null,
  high: null,
  example: '',
  needed,
  assumed: '',
});

const FIELDS = fieldsFrom([
  field('code', 'text', true),
  field('instrument', 'group'),
  field('instrument.name', 'text', true),
  field('instrument.play_mm'),
  field('instrument.pin', 'group', true),
  field('instrument.pin.kind', 'choice', true),
  field('instrument.pin.ahead_mm', 'measured', true),
  field('instrument.pin.calibration', 'list'),
  field('instrument.pin.calibration.*.block_mm', 'number', true),
  field('instrument.pin.calibration.*.reads', 'number', true),
  field('bench', 'group'),
  field('bench.powder_g'),
  field('records', 'list'),
  field('records.*.kind', 'choice', true),
  field('records.*.note', 'text'),
  field('foils', 'list'),
  field('foils.*.where', 'choice', true),
  field('foils.*.held', 'teeth'),
]);

describe('names of entries', () => {
  it('come back as the steps they were made of', () => {
    const step = fc.oneof(fc.string({ minLength: 1 }), fc.stringMatching(/^[A-Za-z0-9_-]+$/));
    fc.assert(
      fc.property(fc.array(step, { minLength: 1, maxLength: 5 }), (steps) => {
        expect(stepsOf(nameOf(...steps))).toEqual(steps);
      }),
    );
  });

  it('are written as the case file writes them', () => {
    expect(nameOf('records', 'record 1', 'kind')).toBe('records."record 1".kind');
    expect(nameOf('foils', 2, 'held')).toBe('foils.2.held');
    expect(nameOf('records', 'a "b" \\')).toBe('records."a \\"b\\" \\\\"');
    expect(under('marks.places', 'U.1')).toBe('marks.places."U.1"');
    expect(stepsOf('marks.readings_mm.UR-LR.B')).toEqual(['marks', 'readings_mm', 'UR-LR', 'B']);
  });

  it('tell an item to be made, and every row, from names that look the same', () => {
    expect(nameOf('foils', NEW)).toBe('foils.+');
    expect(nameOf('records', '+')).toBe('records."+"');
    expect(stepsOf('foils.+.where')).toEqual(['foils', NEW, 'where']);
    expect(stepsOf('records."+"')).toEqual(['records', '+']);
    expect(nameOf(...stepsOf('marks.readings_mm.*.B'))).toBe('marks.readings_mm.*.B');
    expect(stepsOf('a.*')).toEqual(['a', EVERY]);
  });

  it('know what holds them', () => {
    expect(parentOf('records."record 1".kind')).toBe('records."record 1"');
    expect(isBelow('records."record 1".kind', 'records."record 1"')).toBe(true);
    expect(isBelow('records.record 12', 'records.record 1')).toBe(false);
  });

  it('that are none are one step, and found nowhere', () => {
    expect(stepsOf('a..b')).toEqual(['a..b']);
    expect(valueAt({ a: { b: 1 } }, 'a..b')).toBeUndefined();
  });
});

describe('values', () => {
  const entered = { code: 'K', foils: [{ held: [15, 45] }], records: { 'record 1': { kind: 'CR' } } };

  it('are found by their names, items counted from 1', () => {
    expect(valueAt(entered, 'foils.1.held')).toEqual([15, 45]);
    expect(valueAt(entered, 'foils.0.held')).toBeUndefined();
    expect(valueAt(entered, 'foils.2')).toBeUndefined();
    expect(valueAt(entered, 'records."record 1".kind')).toBe('CR');
    expect(valueAt(entered, 'constructor')).toBeUndefined();
  });

  it('are shown as typed', () => {
    expect(textOf('38.10')).toBe('38.10');
    expect(textOf(36)).toBe('36');
    expect(textOf([15, 45])).toBe('15 45');
    expect(textOf({ value: '110', u: '0,5' })).toBe('110 ± 0,5');
  });

  it('with their uncertainty come apart and together again', () => {
    for (const text of ['110 +- 0.5', '110 ± 0.5', '110+/-0.5']) {
      expect(measuredParts(text)).toEqual({ value: '110', u: '0.5' });
    }
    expect(measuredParts('-12,5')).toEqual({ value: '-12,5', u: '' });
    expect(measuredText('62', ' 0,5 ')).toBe('62 ± 0,5');
    expect(measuredText('62', ' ')).toBe('62');
  });

  it('of teeth are taken apart however they were written', () => {
    expect(teethIn(' 17, 16;15/14 17 ')).toEqual(['17', '16', '15', '14']);
  });

  it('travel as typed', () => {
    expect(valueOf('number', ' 38,05 ')).toBe('38,05');
    expect(valueOf('number', ' ')).toBeNull();
    expect(valueOf('flag', 'true')).toBe(true);
    expect(valueOf('teeth', '15 45')).toEqual(['15', '45']);
    expect(valueOf('row', ' 52,30 / 52,35  52.30 ')).toEqual(['52,30', '52,35', '52.30']);
    expect(valueOf('row', 'upper lower')).toEqual(['upper', 'lower']);
    expect(valueOf('row', ' ')).toBeNull();
    expect(valueOf('table', '38.05 / 38.00/')).toBe('38.05/38.00');
    expect(sameText('table', '38.05 /38.00', '38.05/38.00')).toBe(true);
    expect(sameText('number', '38.0', '38.00')).toBe(false);
  });

  it('of a table of readings are cells', () => {
    expect(isCell(cellName('readings_mm', 'UR-LR', 'B'))).toBe(true);
    expect(isCell('marks.readings_mm')).toBe(false);
    expect(isCell('marks.places.UR.ahead_mm')).toBe(false);
  });
});

describe('fields', () => {
  it('are found whatever the name or number of an item', () => {
    expect(fieldAt(FIELDS, 'records."record 1".kind')?.path).toBe('records.*.kind');
    expect(fieldAt(FIELDS, 'instrument.pin.calibration.+.reads')?.path).toBe(
      'instrument.pin.calibration.*.reads',
    );
    expect(fieldAt(FIELDS, 'nothing.here')).toBeUndefined();
  });

  it('tell what a group needs, that of groups it needs included', () => {
    expect(neededBelow(FIELDS, 'instrument')).toEqual([['name'], ['pin', 'kind'], ['pin', 'ahead_mm']]);
    expect(neededBelow(FIELDS, 'bench')).toEqual([]);
    expect(neededBelow(FIELDS, 'foils.+')).toEqual([['where']]);
  });
});

describe('an entry waits for what its group needs', () => {
  const typed =
    (...names: string[]) =>
    (name: string) =>
      names.includes(name);

  it('until all of it is typed', () => {
    const held = heldBy(FIELDS, {}, 'instrument.pin.kind', typed('instrument.pin.kind', 'instrument.name'));
    expect(held).toEqual({ whole: 'instrument', wanting: ['instrument.pin.ahead_mm'] });
  });

  it('goes off alone where the group is there, or needs nothing', () => {
    const there = { instrument: { name: 'no. 2', pin: { kind: 'straight', ahead_mm: 110 } } };
    expect(heldBy(FIELDS, there, 'instrument.play_mm', typed())).toBeUndefined();
    expect(heldBy(FIELDS, {}, 'bench.powder_g', typed())).toBeUndefined();
    expect(heldBy(FIELDS, {}, 'code', typed())).toBeUndefined();
  });

  it('as one item of a list, with everything typed for it', () => {
    expect(heldBy(FIELDS, {}, 'foils.+.held', typed('foils.+.where'))).toEqual({
      whole: 'foils.+',
      wanting: [],
    });
    const values = new Map<string, unknown>([
      ['foils.+.where', 'mouth'],
      ['foils.+.held', ['15']],
      ['foils.+.note', null],
      ['records.x.kind', 'CR'],
    ]);
    expect(together('foils.+', values)).toEqual({ where: 'mouth', held: ['15'] });
    expect(together('instrument', new Map([['instrument.pin.kind', 'straight']]))).toEqual({
      pin: { kind: 'straight' },
    });
  });
});

describe('the case as it will be', () => {
  const entered = { foils: [{ where: 'mouth' }, { where: 'mounting' }], code: 'K' };

  it('has the edits on top, in order', () => {
    const edits = [
      { field: 'foils.1', value: null },
      { field: 'foils.+', value: { where: 'casts by hand' } },
      { field: 'foils.1.where', value: 'mouth' },
      { field: 'instrument.pin.kind', value: 'curved' },
      { field: 'lab', value: null },
    ];
    expect(withEdits(entered, edits)).toEqual({
      foils: [{ where: 'mouth' }, { where: 'casts by hand' }],
      code: 'K',
      instrument: { pin: { kind: 'curved' } },
    });
    expect(entered.foils).toHaveLength(2);
  });

  it('takes a name out, and its place stays where it was not', () => {
    expect(withEdits({ a: { b: 1 } }, [{ field: 'a.b', value: null }])).toEqual({ a: {} });
    expect(withEdits({ a: {} }, [{ field: 'b.c', value: null }])).toEqual({ a: {} });
  });

  it('keeps cells of tables apart, whose text only the server writes', () => {
    const edits = [{ field: 'marks.readings_mm.UR-LR.B', value: '38.05' }];
    expect(withEdits({ marks: { readings_mm: 'A\nUR-LR 36' } }, edits)).toEqual({
      marks: { readings_mm: 'A\nUR-LR 36' },
    });
    expect([...cellsOnTheWay(edits)]).toEqual([['marks.readings_mm.UR-LR.B', '38.05']]);
  });

  it('names the place of a new item', () => {
    expect(placeOfNew(entered, 'foils.+.where')).toBe('foils.3.where');
    expect(placeOfNew({}, 'foils.+')).toBe('foils.1');
    expect(placeOfNew({}, 'code')).toBe('code');
  });
});
