import fc from 'fast-check';
import { beforeEach, describe, expect, it, vi } from 'vitest';
import { who } from '../src/app/settings';
import { choose, contested, discard, drain, enter, outbox, pending } from '../src/app/outbox';
import { GONE_MS, orphans, ownTab, readBox, writeBox } from '../src/app/outbox/keep';
import type { Batch } from '../src/app/outbox/batch';
import { SmallServer } from './server';

let server: SmallServer;

function start(): SmallServer {
  for (const batch of outbox.value) discard(batch.key);
  server = new SmallServer();
  vi.stubGlobal('fetch', server.fetch);
  who.value = 'ab';
  return server;
}
beforeEach(() => void start());

const type = (field: string, value: unknown, base = server.revision) => enter(1, base, [{ field, value }]);
const idle = () => new Promise((resolve) => setTimeout(resolve, 0));

describe('an entry', () => {
  it('is saved, and then no longer waits', async () => {
    const got = await type('pin.ahead_mm', '110');
    expect(got.kind).toBe('ok');
    expect(server.value('pin.ahead_mm')).toBe('110');
    expect(outbox.value).toEqual([]);
  });

  it('waits while the server is down, across a reload, and is sent when it is back', async () => {
    server.up = false;
    expect((await type('a', '1')).kind).toBe('away');
    expect(pending(1, 'a')?.batch.state).toBe('waiting');
    const tab = sessionStorage.getItem('mountproof.tab') ?? '';
    expect(readBox(tab).flatMap((batch) => batch.edits)).toEqual([{ field: 'a', value: '1' }]);
    server.up = true;
    await drain();
    expect(server.value('a')).toBe('1');
    expect(readBox(tab)).toEqual([]);
  });

  it('typed twice while the server is down is sent once, as last typed', async () => {
    server.up = false;
    await type('a', '1');
    await type('a', '2');
    await type('b', '3');
    server.up = true;
    await drain();
    expect([server.value('a'), server.value('b'), server.posts]).toEqual(['2', '3', 1]);
  });

  it('typed again before the answer is there does not contest itself', async () => {
    const first = type('a', '1', 1);
    const second = type('a', '2', 1);
    expect([(await first).kind, (await second).kind]).toEqual(['ok', 'ok']);
    expect(server.value('a')).toBe('2');
  });

  it('that was refused stays, with its faults, until it is typed anew', async () => {
    server.refuses.add('x');
    await type('a', 'x');
    expect(pending(1, 'a')).toMatchObject({ batch: { state: 'refused' }, edit: { value: 'x' } });
    expect(pending(1, 'a')?.faults).toHaveLength(1);
    await type('a', '1');
    expect(server.value('a')).toBe('1');
    expect(outbox.value).toEqual([]);
  });

  it('whose answer was lost is sent again and changes nothing', async () => {
    server.losesAnswer = true;
    await type('a', '1');
    await drain();
    expect(outbox.value).toEqual([]);
    expect(server.value('a')).toBe('1');
  });

  it('is not sent without initials, and not lost', async () => {
    who.value = '';
    void type('a', '1');
    await idle();
    expect([server.posts, outbox.value.length]).toEqual([0, 1]);
    who.value = 'cd';
    await drain();
    expect(server.value('a')).toBe('1');
  });
});

describe('an item at the end of a list', () => {
  it('is made as often as it was asked for', async () => {
    server.up = false;
    await type('foils.+', { tooth: 11 });
    await type('foils.+', { tooth: 21 });
    server.up = true;
    await drain();
    expect(server.posts).toBe(2);
  });
});

describe('an entry that somebody else changed', () => {
  it('is contested: both values stay until a person chooses', async () => {
    const seen = server.revision;
    server.other('a', '7');
    expect((await type('a', '1', seen)).kind).toBe('conflicts');
    expect(server.value('a')).toBe('7');
    const [batch] = contested(1);
    expect(batch?.conflicts?.conflicts[0]).toMatchObject({ mine: '1', theirs: '7' });
    choose(batch?.key ?? '', { a: 'mine' });
    await drain();
    await idle();
    expect(server.value('a')).toBe('1');
    expect(outbox.value).toEqual([]);
  });

  it('and that is typed once more takes the newer value along', async () => {
    const seen = server.revision;
    server.other('a', '7');
    await enter(1, seen, [
      { field: 'a', value: '1' },
      { field: 'b', value: '2' },
    ]);
    await type('a', '5', server.revision);
    await drain();
    await idle();
    expect([server.value('a'), server.value('b'), outbox.value.length]).toEqual(['5', '2', 0]);
  });

  it('is left to the others where the person says so, and the rest of the batch is saved', async () => {
    const seen = server.revision;
    server.other('a', '7');
    await enter(1, seen, [
      { field: 'a', value: '1' },
      { field: 'b', value: '2' },
    ]);
    choose(contested(1)[0]?.key ?? '', { a: 'theirs' });
    await drain();
    await idle();
    expect([server.value('a'), server.value('b')]).toEqual(['7', '2']);
    expect(outbox.value).toEqual([]);
  });
});

/** Anything that can happen: typing, another person, breaks of the line, lost answers, sending. */
const happening = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.record({
      what: fc.constant('type' as const),
      field: fc.constantFrom('a', 'b', 'c'),
      value: fc.nat(99),
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      what: fc.constant('other' as const),
      field: fc.constantFrom('a', 'b', 'c'),
      value: fc.integer({ min: 100, max: 199 }),
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      what: fc.constantFrom(
        'down' as const,
        'up' as const,
        'lose' as const,
        'wait' as const,
        'look' as const,
      ),
    }),
  },
);

it('nothing typed is lost, and nothing of others is overwritten unseen, whatever happens', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(happening, { maxLength: 25 }), async (happenings) => {
      start();
      let seen = server.revision;
      const typed = new Map<string, number>();
      const others = new Map<string, { value: number; revision: number }>();
      const seenWhenTyped = new Map<string, number>();
      for (const one of happenings) {
        if (one.what === 'type') {
          void type(one.field, one.value, seen);
          seenWhenTyped.set(one.field, seen);
          typed.set(one.field, one.value);
        } else if (one.what === 'other') {
          server.other(one.field, one.value);
          others.set(one.field, { value: one.value, revision: server.revision });
        } else if (one.what === 'wait') await idle();
        else if (one.what === 'look') seen = server.revision;
        else if (one.what === 'lose') server.losesAnswer = true;
        else server.up = one.what === 'up';
      }
      server.up = true;
      server.losesAnswer = false;
      for (let round = 0; round < 6; round += 1) {
        await drain();
        await idle();
      }
      for (const [field, value] of typed) {
        const waits = pending(1, field);
        if (waits !== undefined) {
          expect([waits.batch.state, waits.edit.value]).toEqual(['contested', value]);
        } else if (server.value(field) !== value) {
          // Only somebody else who wrote after it was saved may stand there now.
          expect(server.value(field)).toBe(others.get(field)?.value);
        }
      }
      for (const [field, other] of others) {
        const stands = server.entries.get(field);
        if (stands?.by === 'me' && stands.revision > other.revision) {
          // Somebody else's value was overwritten: only by a person who had seen it.
          expect(seenWhenTyped.get(field)).toBeGreaterThanOrEqual(other.revision);
        }
      }
    }),
    { numRuns: 150 },
  );
});

describe('boxes of tabs', () => {
  const batch: Batch = {
    key: 'k',
    caseId: 1,
    base: 1,
    edits: [{ field: 'a', value: '1' }],
    what: '',
    who: 'ab',
    at: '2026-01-01',
    state: 'sending',
  };

  it('of a tab that is gone is taken over once', () => {
    writeBox('gone', [batch]);
    localStorage.setItem('mountproof.alive.gone', '1000');
    expect(orphans('mine', 1000 + GONE_MS - 1)).toEqual([]);
    expect(orphans('mine', 1000 + GONE_MS)).toEqual([{ ...batch, state: 'waiting' }]);
    expect(orphans('mine', 1000 + GONE_MS)).toEqual([]);
  });

  it('a duplicate of a living tab gets a box of its own, a reloaded tab its old one', () => {
    const tab = ownTab(5000);
    expect(ownTab(5000)).toBe(tab);
    localStorage.setItem(`mountproof.alive.${tab}`, '5000');
    expect(ownTab(5001)).not.toBe(tab);
  });

  it('that cannot be read is kept aside', () => {
    localStorage.setItem('mountproof.outbox.broken', '[{');
    expect(readBox('broken')).toEqual([]);
    expect(localStorage.getItem('mountproof.unreadable.broken')).toBe('[{');
  });
});
