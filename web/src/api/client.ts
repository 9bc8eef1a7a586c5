/** The one door to the server: `await ask(api.GET('/api/cases/{id}', { params: { path: { id: id } } }))`. */
import createClient, { type Middleware } from 'openapi-fetch';
import { language, who } from '../app/settings';
import { signal } from '@preact/signals';
import { failure, type Outcome } from './outcome';
import type { paths } from './types';

/** Headers that go with everything sent: in which language to answer, and who works. */
export function headers(as: string = who.value): Record<string, string> {
  const sent: Record<string, string> = { 'Accept-Language': language.value };
  if (as !== '') sent['X-Who'] = encodeURIComponent(as);
  return sent;
}

const withHeaders: Middleware = {
  onRequest({ request }) {
    for (const [name, value] of Object.entries(headers())) {
      if (!request.headers.has(name)) request.headers.set(name, value);
    }
    return request;
  },
};

export const api = createClient<paths>({
  baseUrl: location.origin,
  credentials: 'same-origin',
  // Looked up at each call, so that a test can stand in for the server.
  fetch: (request: Request) => globalThis.fetch(request),
});
api.use(withHeaders);

/** True while the server wants nothing from this browser before it is let in (a tablet that is not paired). */
export const locked = signal(false);

/** Counts how often the server asked who works here: the page then asks the person. */
export const whoAsked = signal(0);

type Answered<T> = { data?: T; error?: unknown; response: Response };

/** Turns a call into an outcome; never throws. */
export async function ask<T>(call: Promise<Answered<T>>): Promise<Outcome<T>> {
  try {
    const { data, error, response } = await call;
    locked.value = response.status === 401;
    if (response.ok) return { kind: 'ok', value: data as T };
    const failed = failure(response.status, error);
    if (failed.kind === 'faults' && failed.faults.some((fault) => fault.code === 'request.who'))
      whoAsked.value += 1;
    return failed;
  } catch (error) {
    // fetch throws a TypeError when nothing answers; a body that is no JSON comes from something in between.
    if (error instanceof TypeError || error instanceof SyntaxError) return { kind: 'away' };
    throw error;
  }
}
