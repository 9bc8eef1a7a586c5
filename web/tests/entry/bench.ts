/** A small server for the forms: it keeps one case, takes edits, says what they would do, and takes them back. */
import { vi } from 'vitest';
import type { Case, Edit, Fault, Field, Sheet, Shapes } from '../../src/api/shapes';
import { openCase, sheet, take, theCase } from '../../src/app/current';
import { discard, outbox } from '../../src/app/outbox';
import { who } from '../../src/app/settings';
import { withEdits } from '../../src/entry/core/typed';
import { know } from '../../src/entry/core/knowledge';
import { draftsOf, dropDraft } from '../../src/entry/core/drafts';

export const field = (path: string, kind: Field['kind'], more: Partial<Field> = {}): Field => ({
  path,
  label: path.split('.').at(-1) ?? path,
  what: `what ${path} is for`,
  unit: '',
  kind,
  choices: [],
  low: null,
  high: null,
  example: '',
  needed: false,
  assumed: '',
  ...more,
});

const words = (...values: string[]) => values.map((value) => ({ value, words: value }));

export const FIELDS: Field[] = [
  field('code', 'text', { needed: true }),
  field('lab', 'text'),
  field('note', 'text'),
  field('instrument', 'group'),
  field('instrument.name', 'text', { needed: true }),
  field('instrument.pin', 'group', { needed: true }),
  field('instrument.pin.kind', 'choice', { needed: true, choices: words('straight', 'curved') }),
  field('instrument.pin.ahead_mm', 'measured', { needed: true, unit: 'mm' }),
  field('caliper', 'group', { needed: false }),
  field('caliper.sd_mm', 'number', { unit: 'mm' }),
  field('marks', 'group'),
  field('marks.states', 'list'),
  field('marks.states.*.kind', 'choice', { needed: true, choices: words('MIP by hand', 'record in') }),
  field('marks.states.*.record', 'text'),
  field('pin_readings', 'list'),
  field('pin_readings.*.state', 'text', { needed: true }),
  field('pin_readings.*.reads', 'number', { needed: true, low: -1000 }),
  field('foils', 'list'),
  field('foils.*.held', 'teeth'),
  field('proof', 'group'),
  field('proof.attempts', 'list'),
  field('proof.attempts.*.date', 'date'),
  field('proof.attempts.*.record', 'text'),
  field('proof.attempts.*.kept', 'flag'),
  field('proof.attempts.*.why', 'text'),
  field('few_teeth', 'group'),
  field('few_teeth.index_fits', 'flag'),
  field('records', 'list'),
  field('records.*.kind', 'text', { needed: true }),
  field('records.*.scan', 'group'),
  field('records.*.scan.shows', 'choice', { needed: true, choices: words('the record', 'joined') }),
  field('records.*.scan.unit', 'choice', { needed: true, choices: words('mm', 'inch') }),
  field('limits', 'group'),
  field('limits.reseat_sd', 'group'),
  field('limits.reseat_sd.decent', 'number', { needed: true, assumed: '0.05', unit: 'mm' }),
  field('limits.reseat_sd.redo', 'number', { needed: true, assumed: '0.1', unit: 'mm' }),
];

export const fault = (at: string, what = 'this cannot be'): Fault => ({
  code: 'case.out_of_range',
  what,
  todo: 'Put it right',
  where: '',
  line: null,
  field: at,
  got: '',
  allowed: '',
});

type Cells = Record<string, Record<string, string>>;

export class BenchServer {
  /** Each server counts on from the last: what one test did is never taken back in another. */
  static last = 0;
  readonly first = (BenchServer.last += 1000);
  revision = this.first;
  up = true;
  /** Refuses to take anything back. */
  changedSince = false;
  entered: Record<string, unknown> = { code: 'K' };
  cells: Cells = {};
  states: string[] = [];
  /** Faults for values, by what was sent: `field=value`. */
  faulty = new Map<string, Fault>();
  /** Questions by cell and text. */
  asked = new Map<string, { asked: string; suggestion: string }>();
  tries: Edit[][] = [];
  saved: Edit[][] = [];
  undone: number[] = [];
  /** Holds answers to tries back until it is called. */
  hold: Promise<void> | null = null;
  private before = new Map<number, { entered: Record<string, unknown>; cells: Cells }>();

  case(entered = this.entered, cells = this.cells): Case {
    const rows = Object.entries(cells).map(([pair, row]) => ({
      pair,
      field: `marks.readings_mm.${pair}`,
      cells: this.states.map((state) => {
        const at = `marks.readings_mm.${pair}.${state}`;
        const shown = row[state] ?? '';
        const question = this.asked.get(`${at}=${shown}`) ?? { asked: '', suggestion: '' };
        return { field: at, shown, repeats: [], ...question };
      }),
    }));
    const states = this.states.map((name) => ({
      name,
      kind: 'record in',
      kind_words: 'record in',
      record: null,
      note: '',
    }));
    const marks: Shapes['MarkGridOut'][] = rows.length === 0 ? [] : [{ table: 'readings_mm', states, rows }];
    return {
      id: 1,
      revision: this.revision,
      code: 'K',
      state: 'open',
      who: 'ab',
      at: '2026-03-02T10:00:00Z',
      numbering: 'iso3950',
      newest: true,
      entered,
      marks,
      files: [],
      scans: [],
    };
  }

  sheet(headline = 'as saved'): Sheet {
    const answer = {
      key: 'pin',
      number: 1,
      question: 'How far?',
      state: 'ready',
      headline,
      verdict: 'agrees',
      verdict_word: 'agrees',
      mark: '=',
      interval: '1 to 2 mm',
      reasons: [],
      quantities: [],
      needs: [],
      assumptions: [
        { what: 'SD of one reading', value: '0.05 mm', source: 'common practice', field: 'caliper.sd_mm' },
      ],
      tables: [],
      notes: [],
      cautions: [],
      sources: [],
      digest: '',
      accepted: null,
    } satisfies Sheet['answers'][number];
    return {
      case_id: 1,
      revision: this.revision,
      code: 'K',
      answers: [answer],
      next: [],
      questions: [],
      echoes: [],
      faults: [],
      cautions: [],
      gates: [],
      work: null,
    };
  }

  private applied(edits: Edit[]): { entered: Record<string, unknown>; cells: Cells } {
    const cells = structuredClone(this.cells);
    for (const edit of edits) {
      const found = /^marks\.readings_mm\.([^.]+)\.([^.]+)$/.exec(edit.field);
      if (found?.[1] !== undefined && found[2] !== undefined) {
        (cells[found[1]] ??= {})[found[2]] = typeof edit.value === 'string' ? edit.value : '';
      }
    }
    return { entered: withEdits(this.entered, edits) as Record<string, unknown>, cells };
  }

  private faultsOf(edits: Edit[]): Fault[] {
    return edits.flatMap((edit) => this.faulty.get(`${edit.field}=${String(edit.value)}`) ?? []);
  }

  readonly fetch = async (request: Request): Promise<Response> => {
    const path = new URL(request.url).pathname.replace('/api/cases/1/', '');
    if (!this.up) throw new TypeError('no network');
    const body = (await request.json()) as { based_on: number; edits: Edit[]; number: number };
    const answer = (status: number, value: unknown) => new Response(JSON.stringify(value), { status });
    if (path === 'undo') {
      const before = this.before.get(body.number);
      if (before === undefined || this.changedSince)
        return answer(409, { faults: [fault('', 'changed since')], conflicts: [], revision: 1 });
      this.undone.push(body.number);
      return this.keep(before);
    }
    const faults = this.faultsOf(body.edits);
    if (path === 'try') {
      this.tries.push(body.edits);
      await this.hold;
      if (faults.length > 0) return answer(422, { faults });
      const would = this.applied(body.edits);
      const headline = `with ${body.edits.map((edit) => String(edit.value)).join(' ')}`;
      return answer(200, { case: this.case(would.entered, would.cells), sheet: this.sheet(headline) });
    }
    if (faults.length > 0) return answer(422, { faults });
    this.saved.push(body.edits);
    return this.keep(this.applied(body.edits));
  };

  private keep(next: { entered: Record<string, unknown>; cells: Cells }): Response {
    const now = { entered: this.entered, cells: this.cells };
    if (JSON.stringify(now) !== JSON.stringify(next)) {
      this.revision += 1;
      this.before.set(this.revision, now);
    }
    this.entered = next.entered;
    this.cells = next.cells;
    return new Response(JSON.stringify({ case: this.case(), sheet: this.sheet() }), { status: 200 });
  }
}

/** Puts a case on the desk, with its server behind it and nothing left from before. */
export async function onTheDesk(
  prepare: (server: BenchServer) => void = () => undefined,
): Promise<BenchServer> {
  for (const batch of outbox.value) discard(batch.key);
  for (const name of draftsOf(1).keys()) dropDraft(1, name);
  localStorage.clear();
  const server = new BenchServer();
  prepare(server);
  vi.stubGlobal('fetch', () => Promise.reject(new TypeError('not now')));
  await openCase(null);
  await openCase(1);
  vi.stubGlobal('fetch', server.fetch);
  who.value = 'ab';
  theCase.value = null;
  sheet.value = null;
  take({ case: server.case(), sheet: server.sheet() });
  know(FIELDS, 'en');
  return server;
}

export const settled = async (): Promise<void> => {
  for (let turn = 0; turn < 30; turn += 1) await new Promise((resolve) => setTimeout(resolve, 0));
};
