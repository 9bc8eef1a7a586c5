import { beforeEach, describe, expect, it } from 'vitest';
import { sheet, theCase } from '../../src/app/current';
import { drain, outbox } from '../../src/app/outbox';
import { askedNow, keepMine } from '../../src/entry/core/asked';
import { draft, draftsOf } from '../../src/entry/core/drafts';
import { handedOn, handOn, held, put, restore, takeOut, type } from '../../src/entry/core/saving';
import { tried, watchTyping } from '../../src/entry/core/trying';
import { depth, redo, refusal, undo } from '../../src/entry/core/undoing';
import { fault, onTheDesk, settled, type BenchServer } from './bench';

const CELL = 'marks.readings_mm.UR-LR.B';
let server: BenchServer;

beforeEach(async () => {
  server = await onTheDesk((bench) => {
    bench.states = ['A', 'B'];
    bench.cells = { 'UR-LR': { A: '36.10', B: '38.05' } };
    bench.entered = { code: 'K', lab: 'bench 3', marks: { readings_mm: '…' } };
  });
});

describe('what is typed', () => {
  it('is kept in the browser from the first letter, and handed on when its box is left', async () => {
    type(1, 'lab', 'b');
    expect(localStorage.getItem('mountproof.draft.1.lab')).toBe('b');
    expect(server.saved).toEqual([]);
    handOn(1, 'lab', 'where');
    expect([draft(1, 'lab'), handedOn('lab')]).toEqual([undefined, 'b']);
    await settled();
    expect(server.saved).toEqual([[{ field: 'lab', value: 'b' }]]);
    expect(theCase.value?.entered['lab']).toBe('b');
  });

  it('and typed back again leaves nothing to save', async () => {
    type(1, 'lab', 'bench 4');
    type(1, 'lab', 'bench 3');
    expect(draft(1, 'lab')).toBeUndefined();
    type(1, CELL, ' 38.05 ');
    handOn(1, CELL);
    await settled();
    expect([server.saved, draft(1, CELL)]).toEqual([[], undefined]);
  });

  it('stays while the server is away, and is shown as typed', async () => {
    server.up = false;
    put(1, CELL, '38,10/38,05');
    await settled();
    expect(handedOn(CELL)).toBe('38,10/38,05');
    expect(outbox.value.map((batch) => batch.state)).toEqual(['waiting']);
    server.up = true;
    await drain();
    expect(server.cells['UR-LR']?.['B']).toBe('38,10/38,05');
  });

  it('is put back by Escape: first the draft, then what the server refused', async () => {
    server.faulty.set(`${CELL}=380.5`, fault(CELL));
    put(1, CELL, '380.5');
    await settled();
    expect(handedOn(CELL)).toBe('380.5');
    type(1, CELL, '380');
    expect([restore(1, CELL), handedOn(CELL), draft(1, CELL)]).toEqual([true, '380.5', undefined]);
    expect([restore(1, CELL), handedOn(CELL)]).toEqual([true, '38.05']);
    expect(restore(1, CELL)).toBe(false);
  });

  it('empties an entry when nothing is left of it', async () => {
    put(1, 'lab', ' ');
    put(1, CELL, '');
    await settled();
    expect(server.saved.flat()).toEqual([
      { field: 'lab', value: null },
      { field: CELL, value: null },
    ]);
  });
});

describe('a group that is not there yet', () => {
  it('waits for all that it needs, then goes off together', async () => {
    put(1, 'instrument.name', 'no. 2');
    put(1, 'instrument.pin.kind', 'straight');
    expect(held('instrument.name')?.wanting).toEqual(['instrument.pin.ahead_mm']);
    await settled();
    expect(server.saved).toEqual([]);
    put(1, 'instrument.pin.ahead_mm', '110 ± 0,5');
    await settled();
    expect(server.saved).toEqual([
      [
        { field: 'instrument.name', value: 'no. 2' },
        { field: 'instrument.pin.kind', value: 'straight' },
        { field: 'instrument.pin.ahead_mm', value: '110 ± 0,5' },
      ],
    ]);
    expect(draftsOf(1).size).toBe(0);
    put(1, 'instrument.pin.kind', 'curved');
    await settled();
    expect(server.saved.at(-1)).toEqual([{ field: 'instrument.pin.kind', value: 'curved' }]);
  });

  it('of a list becomes one item, and tells where it stands', async () => {
    type(1, 'pin_readings.+.reads', '0,0');
    expect(handOn(1, 'pin_readings.+.reads')).toBeNull();
    type(1, 'pin_readings.+.state', 'G');
    expect(handOn(1, 'pin_readings.+.state')).toBe('pin_readings.1.state');
    await settled();
    expect(server.saved).toEqual([[{ field: 'pin_readings.+', value: { reads: '0,0', state: 'G' } }]]);
  });

  it('of limits takes the other value along as it is assumed', async () => {
    put(1, 'limits.reseat_sd.decent', '0,04');
    await settled();
    expect(server.saved).toEqual([[{ field: 'limits.reseat_sd', value: { decent: '0,04', redo: '0.1' } }]]);
  });

  it('taken out takes its drafts along', async () => {
    put(1, 'marks.states.B', '');
    type(1, 'instrument.name', 'no. 2');
    takeOut(1, 'instrument');
    await settled();
    expect(draftsOf(1).size).toBe(0);
  });
});

describe('taking back', () => {
  it('goes entry by entry through the server, and forward again', async () => {
    put(1, CELL, '38.10', 'first');
    await settled();
    put(1, 'lab', 'bench 4', 'second');
    await settled();
    expect(depth.value.undo).toBeGreaterThanOrEqual(2);
    expect(await undo(1)).toEqual(['lab']);
    expect([handedOn('lab'), handedOn(CELL)]).toEqual(['bench 3', '38.10']);
    expect(await undo(1)).toEqual([CELL]);
    expect(handedOn(CELL)).toBe('38.05');
    expect(server.undone).toEqual([server.first + 2, server.first + 1]);
    expect(await redo(1)).toEqual([CELL]);
    expect(handedOn(CELL)).toBe('38.10');
  });

  it('of an entry that has not left yet types the old value over it', async () => {
    server.up = false;
    put(1, CELL, '38.10');
    await settled();
    expect(await undo(1)).toEqual([CELL]);
    expect(handedOn(CELL)).toBe('38.05');
    server.up = true;
    await drain();
    expect(server.cells['UR-LR']?.['B']).toBe('38.05');
  });

  it('that the server refuses says why and changes nothing', async () => {
    put(1, 'lab', 'bench 9');
    await settled();
    server.changedSince = true;
    expect(await undo(1)).toEqual([]);
    expect(refusal.value.map((one) => one.what)).toEqual(['changed since']);
    expect(handedOn('lab')).toBe('bench 9');
  });

  it('passes over what the server refused: it was never saved', async () => {
    put(1, 'lab', 'bench 9');
    await settled();
    server.faulty.set(`${CELL}=1`, fault(CELL));
    put(1, CELL, '1');
    await settled();
    expect(await undo(1)).toEqual(['lab']);
  });
});

describe('while one types', () => {
  const rest = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

  it('the answers follow, the newest last, one question at a time', async () => {
    const stop = watchTyping();
    let release: () => void = () => undefined;
    server.hold = new Promise((resolve) => (release = resolve));
    type(1, CELL, '4');
    await rest(40);
    type(1, CELL, '42');
    await rest(40);
    type(1, CELL, '42.6');
    await rest(40);
    expect(server.tries).toHaveLength(1);
    server.hold = null;
    release();
    await rest(60);
    expect(server.tries.map((edits) => edits[0]?.value)).toEqual(['4', '42.6']);
    expect(tried.value?.out?.sheet.answers[0]?.headline).toBe('with 42.6');
    expect(sheet.value?.answers[0]?.headline).toBe('as saved');
    handOn(1, CELL);
    await rest(60);
    expect(tried.value).toBeNull();
    stop();
  });

  it('a fault is told, and the answer from before stays', async () => {
    const stop = watchTyping();
    server.faulty.set(`${CELL}=4O`, fault(CELL, 'no number'));
    type(1, CELL, '40');
    await rest(60);
    type(1, CELL, '4O');
    await rest(60);
    expect(tried.value?.faults.map((one) => one.what)).toEqual(['no number']);
    expect(tried.value?.out?.sheet.answers[0]?.headline).toBe('with 40');
    restore(1, CELL);
    await rest(10);
    expect(tried.value).toBeNull();
    stop();
  });

  it('a doubtful reading is asked about, and keeping it ends the question for this reading only', async () => {
    const stop = watchTyping();
    server.asked.set(`${CELL}=83.05`, { asked: 'Two digits swapped: 38.05?', suggestion: '38.05' });
    server.asked.set(`${CELL}=83.50`, { asked: 'Really?', suggestion: '' });
    type(1, CELL, '83.05');
    await rest(60);
    expect(askedNow.value).toEqual([
      { field: CELL, pair: 'UR-LR', state: 'B', asked: 'Two digits swapped: 38.05?', suggestion: '38.05' },
    ]);
    keepMine(1, CELL, '83.05');
    expect(askedNow.value).toEqual([]);
    type(1, CELL, '83.50');
    await rest(60);
    expect(askedNow.value.map((one) => one.asked)).toEqual(['Really?']);
    restore(1, CELL);
    stop();
  });
});
