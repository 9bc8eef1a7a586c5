import { beforeEach, expect, it, vi } from 'vitest';
import { openCase, openId, reload, reloadSheet, sheet, take, theCase } from '../src/app/current';
import type { Case, Sheet } from '../src/api/shapes';

type Asked = { url: string; answer: (body: unknown) => Promise<void> };
let asked: Asked[] = [];

const settled = () => new Promise((resolve) => setTimeout(resolve, 0));

beforeEach(async () => {
  asked = [];
  const fetch = (request: Request) =>
    new Promise<Response>((resolve) => {
      const answer = async (body: unknown) => {
        const headers = { 'Content-Type': 'application/json' };
        resolve(new Response(JSON.stringify(body), { status: 200, headers }));
        await settled();
        await settled();
      };
      asked.push({ url: new URL(request.url).pathname, answer });
    });
  vi.stubGlobal('fetch', fetch);
  await openCase(null);
});

const caseAt = (id: number, revision: number, state = 'open') => ({ id, revision, state }) as unknown as Case;
const sheetAt = (case_id: number, revision: number, code = '') =>
  ({ case_id, revision, code }) as unknown as Sheet;

it('answers about the sheet never pass each other: the last question has the last word', async () => {
  void openCase(1);
  await settled();
  void reloadSheet();
  void reloadSheet();
  const sheets = () => asked.filter((one) => one.url.endsWith('/sheet'));
  expect(sheets()).toHaveLength(1);
  await sheets()[0]?.answer(sheetAt(1, 1, 'older'));
  expect(sheets()).toHaveLength(2);
  await sheets()[1]?.answer(sheetAt(1, 1, 'newer'));
  expect(sheet.value?.code).toBe('newer');
  expect(sheets()).toHaveLength(2);
});

it('what a change brought is not overwritten by an answer from before, which is asked for once more', async () => {
  void openCase(2);
  await settled();
  const [first] = asked.filter((one) => one.url.endsWith('/sheet'));
  take({ case: caseAt(2, 1), sheet: sheetAt(2, 1, 'accepted') });
  await first?.answer(sheetAt(2, 1, 'not yet accepted'));
  expect(sheet.value?.code).toBe('accepted');
  await asked.filter((one) => one.url.endsWith('/sheet'))[1]?.answer(sheetAt(2, 1, 'accepted, once more'));
  expect(sheet.value?.code).toBe('accepted, once more');
});

it('an older revision never comes back, and another case never lands on the desk', async () => {
  void openCase(3);
  await settled();
  take({ case: caseAt(3, 5), sheet: sheetAt(3, 5) });
  take({ case: caseAt(3, 4), sheet: sheetAt(3, 4) });
  take({ case: caseAt(4, 9), sheet: sheetAt(4, 9) });
  expect([theCase.value?.id, theCase.value?.revision, sheet.value?.revision]).toEqual([3, 5, 5]);
});

it('a case that was left is not shown when its answer comes late', async () => {
  void openCase(5);
  await settled();
  void openCase(6);
  await settled();
  const of = (id: number) => asked.filter((one) => one.url.startsWith(`/api/cases/${id}`));
  const answerAll = async (id: number) => {
    for (const one of of(id)) await one.answer(one.url.endsWith('/sheet') ? sheetAt(id, 1) : caseAt(id, 1));
  };
  // The newer case does not wait for the older one.
  expect([of(5).length, of(6).length]).toEqual([2, 2]);
  await answerAll(5);
  expect([openId.value, theCase.value, sheet.value]).toEqual([6, null, null]);
  await answerAll(6);
  expect([theCase.value?.id, sheet.value?.case_id]).toEqual([6, 6]);
});

it('asking without a case on the desk asks nothing', async () => {
  await reload();
  expect(asked).toEqual([]);
});
