import { cleanup, fireEvent, render, screen } from '@testing-library/preact';
import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { language } from '../../src/app/settings';
import { speak } from '../../src/app/words';
import { Chart } from '../../src/entry/chart/Chart';
import { listWith, moved } from '../../src/entry/chart/lists';
import { draft } from '../../src/entry/core/drafts';
import { handedOn } from '../../src/entry/core/saving';
import { ListTable } from '../../src/entry/grid/ListTable';
import { Readings } from '../../src/entry/grid/Readings';
import { enterGoes } from '../../src/entry/grid/way';
import { EntryBox } from '../../src/entry/parts/EntryBox';
import { FileDoor } from '../../src/entry/parts/FileDoor';
import { frameOf, spotsDrawn } from '../../src/entry/plan/plan';
import { readRest, sectionOf } from '../../src/entry/sections';
import { fault, onTheDesk, settled, type BenchServer } from './bench';

let server: BenchServer;

beforeAll(async () => {
  language.value = 'en';
  await speak('en');
});
beforeEach(async () => {
  enterGoes.value = 'down';
  server = await onTheDesk((bench) => {
    bench.states = ['A', 'B'];
    bench.cells = { 'UR-LR': { A: '36.10', B: '38.05' }, 'UL-LL': { A: '36.05', B: '' } };
    const state = { kind: 'record in' };
    bench.entered = { code: 'K', marks: { states: { A: state, B: state }, readings_mm: '…' } };
  });
});
afterEach(cleanup);

const box = (field: string): HTMLInputElement => {
  const found = [...document.querySelectorAll<HTMLInputElement>('[data-entry]')].find(
    (one) => one.dataset['entry'] === field,
  );
  if (found === undefined) throw new Error(`no box for ${field}`);
  return found;
};
const at = () => (document.activeElement as HTMLElement | null)?.dataset['entry'];
const enter = (text: string) => {
  const here = document.activeElement as HTMLInputElement;
  fireEvent.input(here, { target: { value: text } });
  fireEvent.keyDown(here, { key: 'Enter' });
};
const cell = (pair: string, state: string) => `marks.readings_mm.${pair}.${state}`;

describe('the table of marks', () => {
  const show = () =>
    render(
      <Readings
        caseId={1}
        table="readings_mm"
        caption="Marks"
        corner="pair"
        stateWords={(name) => `state ${name}`}
      />,
    );

  it('is filled with one number a cell: Enter goes down one state, then begins the next', async () => {
    show();
    box(cell('UR-LR', 'A')).focus();
    enter('36,15');
    expect(at()).toBe(cell('UL-LL', 'A'));
    enter('36,00/36,05');
    expect(at()).toBe(cell('UR-LR', 'B'));
    await settled();
    expect(server.saved.map((edits) => edits[0])).toEqual([
      { field: cell('UR-LR', 'A'), value: '36,15' },
      { field: cell('UL-LL', 'A'), value: '36,00/36,05' },
    ]);
  });

  it('goes along a row where one wants it so', () => {
    enterGoes.value = 'right';
    show();
    box(cell('UR-LR', 'A')).focus();
    fireEvent.keyDown(box(cell('UR-LR', 'A')), { key: 'Enter' });
    expect(at()).toBe(cell('UR-LR', 'B'));
  });

  it('puts back with Escape what was there', () => {
    show();
    const here = box(cell('UR-LR', 'B'));
    here.focus();
    fireEvent.input(here, { target: { value: '99' } });
    expect(draft(1, cell('UR-LR', 'B'))).toBe('99');
    fireEvent.keyDown(here, { key: 'Escape' });
    expect(box(cell('UR-LR', 'B')).value).toBe('38.05');
  });

  it('takes a block from a spreadsheet as one entry, and keeps in sight what has no place', async () => {
    show();
    const here = box(cell('UR-LR', 'A'));
    here.focus();
    const data = new DataTransfer();
    data.setData('text/plain', 'pair\tB\tC\nUL-LL\t38,10\t1\nUQ-LQ\t2\t3');
    fireEvent.paste(here, { clipboardData: data });
    await settled();
    expect(server.saved).toEqual([[{ field: cell('UL-LL', 'B'), value: '38,10' }]]);
    expect(screen.getByText(/UQ-LQ/, { selector: 'p' }).textContent).toContain('Add the pair');
    expect(screen.getByText(/No such column/).textContent).toContain('C');
    fireEvent.click(screen.getByText('Seen'));
    expect(screen.queryByText(/No such column/)).toBeNull();
  });

  it('names a cell that the server does not take, and leads to it', async () => {
    server.faulty.set(`${cell('UR-LR', 'B')}=3B`, fault(cell('UR-LR', 'B'), 'no number'));
    show();
    box(cell('UR-LR', 'B')).focus();
    enter('3B');
    await settled();
    const said = screen.getByText(/UR-LR in B:/);
    expect(said.textContent).toContain('no number Put it right');
    expect(box(cell('UR-LR', 'B')).getAttribute('aria-invalid')).toBe('true');
    expect(box(cell('UR-LR', 'B')).value).toBe('3B');
    fireEvent.click(screen.getByText('To UR-LR in B'));
    expect(at()).toBe(cell('UR-LR', 'B'));
  });

  it('says of every cell to those who listen which it is', () => {
    show();
    expect(screen.getByLabelText('UL-LL, B, mm')).toBe(box(cell('UL-LL', 'B')));
    expect(box(cell('UL-LL', 'B')).inputMode).toBe('decimal');
  });
});

describe('a list', () => {
  it('gets an item when its line is left, and a new line to go on with', async () => {
    render(
      <ListTable caseId={1} list="pin_readings" caption="Pin" item="reading" steps={['state', 'reads']} />,
    );
    box('pin_readings.+.state').focus();
    enter('B');
    expect(at()).toBe('pin_readings.+.reads');
    expect(server.saved).toEqual([]);
    enter('-0,5');
    await settled();
    expect(server.saved).toEqual([[{ field: 'pin_readings.+', value: { state: 'B', reads: '-0,5' } }]]);
    expect([at(), box('pin_readings.+.state').value]).toEqual(['pin_readings.+.state', '']);
    expect(box('pin_readings.1.reads').value).toBe('-0,5');
  });

  it('leads to what is wanting where a line is not whole', () => {
    render(
      <ListTable caseId={1} list="pin_readings" caption="Pin" item="reading" steps={['state', 'reads']} />,
    );
    box('pin_readings.+.reads').focus();
    enter('3');
    expect(at()).toBe('pin_readings.+.state');
    expect(box('pin_readings.+.reads').value).toBe('3');
  });
});

describe('a list of items of which nothing is needed', () => {
  const show = () =>
    render(
      <ListTable
        caseId={1}
        list="proof.attempts"
        caption="Mountings"
        item="mounting"
        steps={['date', 'record', 'why']}
      />,
    );

  it('takes a line as a whole, even where its first entry is left empty', async () => {
    show();
    box('proof.attempts.+.record').focus();
    enter('record 1');
    expect(at()).toBe('proof.attempts.+.why');
    expect(server.saved).toEqual([]);
    enter('it agreed');
    await settled();
    expect(server.saved).toEqual([
      [{ field: 'proof.attempts.+', value: { record: 'record 1', why: 'it agreed' } }],
    ]);
    expect(box('proof.attempts.1.why').value).toBe('it agreed');
    expect(box('proof.attempts.+.record').value).toBe('');
  });
});

describe('a yes or no that may be left open', () => {
  it('can be said both ways, and taken back', async () => {
    const choices = [
      { value: 'true', words: 'it fits' },
      { value: 'false', words: 'it does not' },
    ];
    render(<EntryBox caseId={1} field="few_teeth.index_fits" choices={choices} />);
    const field = box('few_teeth.index_fits');
    for (const [text, value] of [
      ['false', false],
      ['true', true],
      ['', null],
    ] as const) {
      fireEvent.change(field, { target: { value: text } });
      await settled();
      expect(server.saved.at(-1)).toEqual([{ field: 'few_teeth.index_fits', value }]);
    }
  });
});

describe('the door for a scan of a record', () => {
  it('asks what it shows and its unit before anything leaves', () => {
    const sent = vi.spyOn(XMLHttpRequest.prototype, 'send').mockImplementation(() => undefined);
    const opened = vi.spyOn(XMLHttpRequest.prototype, 'open').mockImplementation(() => undefined);
    vi.spyOn(XMLHttpRequest.prototype, 'setRequestHeader').mockImplementation(() => undefined);
    render(
      <FileDoor
        caseId={1}
        door="record"
        more={{ record: 'record 1' }}
        asked={[{ name: 'shows', field: 'records.x.scan.shows' }]}
        unitField="records.x.scan.unit"
        done="there"
      />,
    );
    const input = document.querySelector<HTMLInputElement>('input[type=file]');
    const file = new File(['solid'], 'a.stl');
    Object.defineProperty(input, 'files', { value: [file] });
    if (input !== null) fireEvent.change(input);
    const bring = () => screen.getByRole('button', { name: /Bring it in/ });
    fireEvent.click(bring());
    expect(sent).not.toHaveBeenCalled();
    fireEvent.change(screen.getByLabelText('shows'), { target: { value: 'the record' } });
    fireEvent.click(bring());
    expect(sent).not.toHaveBeenCalled();
    fireEvent.change(screen.getByLabelText('unit'), { target: { value: 'mm' } });
    fireEvent.click(bring());
    expect(sent).toHaveBeenCalledTimes(1);
    const [method, path] = opened.mock.calls[0] ?? [];
    const asked = new URL(`${path}`, 'http://x').searchParams;
    expect([method, asked.get('record'), asked.get('shows'), asked.get('unit')]).toEqual([
      'PUT',
      'record 1',
      'the record',
      'mm',
    ]);
  });
});

describe('a box', () => {
  it('says its unit, what it is for, and what the answers take for it while it is empty', async () => {
    render(<EntryBox caseId={1} field="caliper.sd_mm" />);
    const field = box('caliper.sd_mm');
    const told = (field.getAttribute('aria-describedby') ?? '')
      .split(' ')
      .map((id) => document.getElementById(id)?.textContent);
    expect(told.join(' ')).toContain('what caliper.sd_mm is for');
    expect(told.join(' ')).toContain('assumed: 0.05 mm');
    expect(screen.getByText('mm')).toBeTruthy();
    fireEvent.input(field, { target: { value: '0.04' } });
    await settled();
    expect(screen.queryByText(/assumed/)).toBeNull();
  });

  it('of a group that is not whole says that it is kept, and what is wanting', async () => {
    render(<EntryBox caseId={1} field="instrument.name" />);
    const field = box('instrument.name');
    field.focus();
    fireEvent.input(field, { target: { value: 'no. 2' } });
    fireEvent.blur(field);
    await settled();
    expect(screen.getByText(/Still needed/).textContent).toContain('kind, ahead_mm');
    expect(server.saved).toEqual([]);
  });

  it('of a measured value is one entry in two boxes', () => {
    server.entered['instrument'] = { name: 'no. 2', pin: { kind: 'straight', ahead_mm: '110 +- 0.5' } };
    render(<EntryBox caseId={1} field="instrument.pin.ahead_mm" />);
    const [value, u] = [...document.querySelectorAll<HTMLInputElement>('input')];
    if (value === undefined || u === undefined) throw new Error('two boxes');
    value.focus();
    fireEvent.input(value, { target: { value: '110' } });
    fireEvent.input(u, { target: { value: '0,4' } });
    expect(draft(1, 'instrument.pin.ahead_mm')).toBe('110 ± 0,4');
    expect(u.getAttribute('aria-label')).toContain('standard uncertainty');
  });
});

describe('the tooth chart', () => {
  const states = [
    { key: 'held', words: 'held', letter: 'H', pattern: 'solid' },
    { key: 'drags', words: 'drags', letter: 'D', pattern: 'lines' },
  ] as const;
  const set: [string, string | undefined][] = [];
  const tooth = (iso: string): SVGGElement => {
    const found = document.querySelector<SVGGElement>(`[data-tooth="${iso}"]`);
    if (found === null) throw new Error(iso);
    return found;
  };
  const show = (numbering: 'iso3950' | 'universal' = 'iso3950') => {
    set.length = 0;
    const lists = { held: '15', drags: '11' };
    render(
      <Chart
        label="foil"
        numbering={numbering}
        states={states}
        stateOf={(number) => listWith(lists, number)}
        others={{ words: 'free', letter: 'f' }}
        missing={['18']}
        onState={(number, state) => set.push([number, state])}
      />,
    );
  };

  it('taps through the states and back to nothing', () => {
    show();
    fireEvent.click(tooth('14'));
    fireEvent.click(tooth('15'));
    fireEvent.click(tooth('11'));
    expect(set).toEqual([
      ['14', 'held'],
      ['15', 'drags'],
      ['11', undefined],
    ]);
  });

  it('is walked and set by keys; a missing tooth is not', async () => {
    show();
    tooth('11').focus();
    fireEvent.keyDown(tooth('11'), { key: 'ArrowLeft' });
    expect(document.activeElement).toBe(tooth('12'));
    fireEvent.keyDown(tooth('12'), { key: 'd' });
    fireEvent.keyDown(tooth('12'), { key: 'Delete' });
    fireEvent.keyDown(tooth('18'), { key: 'h' });
    fireEvent.click(tooth('18'));
    expect(set).toEqual([
      ['12', 'drags'],
      ['12', undefined],
    ]);
    await settled();
    expect(tooth('18').getAttribute('tabindex')).toBe('0');
    expect(document.querySelectorAll('[data-tooth][tabindex="0"]')).toHaveLength(1);
  });

  it('says which tooth, where, and what, in the numbers of the case', () => {
    show();
    expect(tooth('15').getAttribute('aria-label')).toBe('15, upper right second premolar: held');
    expect(tooth('36').getAttribute('aria-label')).toBe('36, lower left first molar: free');
    expect(tooth('18').getAttribute('aria-label')).toBe('18, upper right third molar: missing');
    cleanup();
    show('universal');
    expect(tooth('15').getAttribute('data-number')).toBe('4');
    expect(tooth('15').getAttribute('aria-label')).toContain('4, upper right second premolar');
  });

  it('shows a letter beside the colour, writes sides and jaws', () => {
    show();
    expect(document.querySelector('[data-letter="15"]')?.textContent).toBe('H');
    for (const words of ['Upper', 'Lower', 'patient’s right', 'patient’s left'])
      expect(screen.getByText(words)).toBeTruthy();
  });

  it('keeps each tooth in one list at most', () => {
    const lists = { held: '15 45', drags: '11', free: '' };
    expect(moved(lists, '15', 'free')).toEqual({ held: '45', free: '15' });
    expect(moved(lists, '15', undefined)).toEqual({ held: '45' });
    expect(moved(lists, '15', 'held')).toEqual({});
  });
});

describe('the base from above', () => {
  it("has the patient's right on the viewer's left, the front above, and shows only what is typed whole", () => {
    const spot = (key: string, ahead: string, right: string) => ({
      key,
      label: key,
      ahead,
      right,
      kind: 'luted' as const,
    });
    const shown = spotsDrawn([
      spot('a', '90', '2,5'),
      spot('b', '56', '−27'),
      spot('c', '55', '-'),
      spot('d', '', '1'),
    ]);
    expect(shown.map(({ key, x, y }) => [key, x, y])).toEqual([
      ['a', -2.5, -90],
      ['b', 27, -56],
    ]);
    const frame = frameOf(shown);
    expect(frame.left).toBeLessThan(-2.5);
    expect(frame.top).toBeLessThan(-90);
    const far = frameOf(spotsDrawn([spot('a', '200', '120')]));
    expect(far.top).toBeLessThan(-200);
    expect(far.left).toBeLessThan(-120);
  });
});

describe('addresses of entries', () => {
  it.each([
    ['marks.readings_mm.UR-LR.B', 'marks'],
    ['marks.reseat_mm', 'reseat'],
    ['instrument.pin.calibration', 'instrument'],
    ['plane', 'instrument'],
    ['records."record 1".kind', 'records'],
    ['mounted_on', 'records'],
    ['bench.sheet.set_min', 'stone'],
    ['foils.2.held', 'foils'],
    ['teeth_at', 'teeth'],
    ['limits.reseat_sd', 'limits'],
    ['caliper.block_mm', 'caliper'],
    ['pin_readings', 'pin'],
    ['change.budgets.1.most_mm', 'change'],
    ['space.wanted', 'space'],
    ['prescription.scheme', 'prescription'],
    ['followups.1.held', 'followups'],
    ['proof.attempts', 'proof'],
    ['somewhere.new', 'marks'],
  ])('%s is in the form %s', (name, section) => {
    expect(sectionOf(name)).toBe(section);
    expect(readRest(['field', name])).toEqual({ section, field: name });
  });

  it('name a form, or the first one', () => {
    expect(readRest(['foils'])).toEqual({ section: 'foils', field: '' });
    expect(readRest(['nothing'])).toEqual({ section: 'case', field: '' });
    expect(readRest([])).toEqual({ section: 'case', field: '' });
  });

  it('show what is handed on', () => {
    expect(handedOn('code')).toBe('K');
  });
});
