/** A server as small as the outbox can see: entries, revisions, and the rule that nobody's value is overwritten unseen. */
import { vi } from 'vitest';

type Written = { revision: number; value: unknown; by: string };
type Sent = { based_on: number; edits: { field: string; value: unknown }[] };

const json = (status: number, body: unknown) =>
  new Response(JSON.stringify(body), { status, headers: { 'Content-Type': 'application/json' } });
const fault = (what: string) => ({
  code: 'x',
  what,
  todo: '',
  where: '',
  line: null,
  field: '',
  got: '',
  allowed: '',
});

export class SmallServer {
  up = true;
  /** The next answer is lost on its way, after the server has saved. */
  losesAnswer = false;
  revision = 1;
  readonly entries = new Map<string, Written>();
  readonly refuses = new Set<unknown>();
  /** Every value that was overwritten, with who saw what when overwriting it. */
  readonly unseen: string[] = [];
  posts = 0;

  /** Somebody else's change. */
  other(field: string, value: unknown): void {
    this.revision += 1;
    this.entries.set(field, { revision: this.revision, value, by: 'other' });
  }

  value(field: string): unknown {
    return this.entries.get(field)?.value;
  }

  private save(sent: Sent): Response {
    this.posts += 1;
    const bad = sent.edits.filter((edit) => this.refuses.has(edit.value));
    if (bad.length > 0)
      return json(422, { faults: bad.map((edit) => ({ ...fault('no such value'), field: edit.field })) });
    const contested = sent.edits.filter((edit) => {
      const there = this.entries.get(edit.field);
      return there !== undefined && there.revision > sent.based_on && there.value !== edit.value;
    });
    if (contested.length > 0) {
      const conflicts = contested.map((edit) => ({
        field: edit.field,
        base: null,
        mine: String(edit.value),
        theirs: String(this.value(edit.field)),
        who: 'other',
        at: '2026-01-01T00:00:00Z',
        revision: this.revision,
      }));
      return json(409, { faults: [fault('changed meanwhile')], conflicts, revision: this.revision });
    }
    this.revision += 1;
    for (const edit of sent.edits) {
      this.entries.set(edit.field, { revision: this.revision, value: edit.value, by: 'me' });
    }
    return json(200, {
      case: { id: 1, revision: this.revision },
      sheet: { case_id: 1, revision: this.revision },
    });
  }

  /** Stands in for `fetch`. */
  readonly fetch = vi.fn(async (request: Request): Promise<Response> => {
    if (!this.up) throw new TypeError('nothing answers');
    const answer = this.save(JSON.parse(await request.text()) as Sent);
    if (this.losesAnswer) {
      this.losesAnswer = false;
      throw new TypeError('the line broke');
    }
    return answer;
  });
}
