import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { openCase, theCase } from '../src/app/current';
import { listen, type Happened } from '../src/app/events';
import { discard, enter, outbox } from '../src/app/outbox';
import { who } from '../src/app/settings';

/** A stream of events that the test speaks through. */
class Stream {
  static last: Stream | null = null;
  static CLOSED = 2;
  readyState = 1;
  onopen: (() => void) | null = null;
  onmessage: ((event: { data: string }) => void) | null = null;
  onerror: (() => void) | null = null;
  constructor(readonly url: string) {
    Stream.last = this;
  }
  close(): void {
    this.readyState = Stream.CLOSED;
  }
}

type Asked = { method: string; path: string; answer: (status: number, body: unknown) => Promise<void> };
let asked: Asked[] = [];
let stop: () => void;

const settled = () => new Promise((resolve) => setTimeout(resolve, 0));
const says = (event: Partial<Happened>) => Stream.last?.onmessage?.({ data: JSON.stringify(event) });
const revision = (case_id: number, number: number) => says({ kind: 'revision', case_id, revision: number });
const saved = (id: number, number: number) => ({
  case: { id, revision: number },
  sheet: { case_id: id, revision: number },
});
const shown = async (number: number) => {
  for (const one of asked.filter(({ method }) => method === 'GET')) {
    const { case: theCaseThen, sheet } = saved(1, number);
    await one.answer(200, one.path.endsWith('/sheet') ? sheet : theCaseThen);
  }
  asked = [];
};
const gets = () => asked.filter((one) => one.method === 'GET').map((one) => one.path);

beforeEach(async () => {
  asked = [];
  vi.stubGlobal('EventSource', Stream);
  vi.stubGlobal(
    'fetch',
    (request: Request) =>
      new Promise<Response>((resolve) => {
        const answer = async (status: number, body: unknown) => {
          resolve(
            new Response(JSON.stringify(body), { status, headers: { 'Content-Type': 'application/json' } }),
          );
          await settled();
          await settled();
        };
        asked.push({ method: request.method, path: new URL(request.url).pathname, answer });
      }),
  );
  for (const batch of outbox.value) discard(batch.key);
  who.value = 'ab';
  await openCase(null);
  stop = listen();
  void openCase(1);
  await settled();
  await shown(5);
});

afterEach(() => stop());

it('asks for the case when somebody else changed it, and not for what is shown already', async () => {
  revision(1, 5);
  revision(2, 9);
  await settled();
  expect(gets()).toEqual([]);
  revision(1, 6);
  await settled();
  expect(gets()).toEqual(['/api/cases/1', '/api/cases/1/sheet']);
  await shown(6);
});

it('does not ask for what its own entry brings back', async () => {
  void enter(1, 5, [{ field: 'note', value: 'x' }]);
  await settled();
  const [post] = asked;
  revision(1, 6); // told before the answer to the entry is there
  await settled();
  expect(gets()).toEqual([]);
  await post?.answer(200, saved(1, 6));
  expect(theCase.value?.revision).toBe(6);
  expect(gets()).toEqual([]);
});

it('asks after its own entry where the answer is older than what was told, or never came', async () => {
  void enter(1, 5, [{ field: 'note', value: 'x' }]);
  await settled();
  revision(1, 7);
  await asked[0]?.answer(200, saved(1, 6));
  expect(gets()).toEqual(['/api/cases/1', '/api/cases/1/sheet']);
  await shown(7);
  void enter(1, 7, [{ field: 'note', value: 'y' }]);
  await settled();
  revision(1, 8);
  await asked[0]?.answer(500, { faults: [] });
  expect(gets()).toEqual(['/api/cases/1', '/api/cases/1/sheet']);
  await shown(8);
  expect(theCase.value?.revision).toBe(8);
});
