/** The server's clock, as well as this browser knows it. It goes on through sleep and through a clock that is set. */
import { signal } from '@preact/signals';
import { advance, heard, type Reading } from './clock';

const steady = () => performance.now();
const start = (): Reading => ({ wall: Date.now(), steady: steady(), server: Date.now() });

let last: Reading = start();

/** Now, by the server's clock, in ms. Moves while somebody watches. */
export const now = signal(last.server);

const jumps = new Set<() => void>();

/** Calls `listener` when the device slept or its clock was set, until the function given back is called. */
export function onJump(listener: () => void): () => void {
  jumps.add(listener);
  return () => jumps.delete(listener);
}

/** Looks at the clock. */
export function look(): number {
  const { jumped, ...next } = advance(last, Date.now(), steady());
  last = next;
  now.value = next.server;
  if (jumped) for (const listener of jumps) listener();
  return next.server;
}

/** Sets the clock by an answer of the server; `asked` is when it was asked, by `performance.now()`. */
export function setBy(server: string, asked: number): void {
  const got = steady();
  last = { wall: Date.now(), steady: got, server: heard(server, asked, got) };
  now.value = last.server;
}

const EVERY_MS = 200;
let watchers = 0;
let timer: ReturnType<typeof setInterval> | undefined;

/** Keeps the clock moving until the function given back is called. */
export function watchClock(): () => void {
  watchers += 1;
  if (watchers === 1) {
    timer = setInterval(look, EVERY_MS);
    document.addEventListener('visibilitychange', look);
  }
  look();
  return () => {
    watchers -= 1;
    if (watchers > 0) return;
    clearInterval(timer);
    document.removeEventListener('visibilitychange', look);
  };
}
