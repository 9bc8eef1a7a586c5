/**
 * Keeps a tab's outbox in the browser's storage, so that closing the tab or losing power loses nothing.
 * Each tab has a box of its own, or two tabs would send the same entry twice. A box whose tab is gone (its sign of
 * life is old) is taken over by the next tab that looks.
 */
import type { Batch } from './batch';

const BOX = 'mountproof.outbox.';
const ALIVE = 'mountproof.alive.';
const TAB = 'mountproof.tab';
/** A tab says that it lives every BEAT_MS; after GONE_MS without a sign it is gone. */
export const BEAT_MS = 2000;
export const GONE_MS = 12_000;

/** A name that no other tab has. (`randomUUID` would need a page from this computer itself or over TLS.) */
export function newKey(): string {
  return [...crypto.getRandomValues(new Uint8Array(12))]
    .map((byte) => byte.toString(16).padStart(2, '0'))
    .join('');
}

const livesNow = (tab: string, now: number): boolean => {
  const sign = localStorage.getItem(ALIVE + tab);
  return sign !== null && now - parseInt(sign, 10) < GONE_MS;
};

/** This tab's name: the same after a reload, a new one in a duplicate of a tab that lives. */
export function ownTab(now: number): string {
  const known = sessionStorage.getItem(TAB);
  const tab = known !== null && !livesNow(known, now) ? known : newKey();
  sessionStorage.setItem(TAB, tab);
  return tab;
}

export const beat = (tab: string, now: number) => localStorage.setItem(ALIVE + tab, `${now}`);
/** Said when the page goes away in good order, so that its reload knows itself again at once. */
export const rest = (tab: string) => localStorage.removeItem(ALIVE + tab);

export function readBox(tab: string): Batch[] {
  const text = localStorage.getItem(BOX + tab);
  if (text === null) return [];
  try {
    const found = JSON.parse(text) as Batch[];
    // What was on its way when the page went is sent again: the server finds its own value there and changes nothing.
    return found.map((one) => (one.state === 'sending' ? { ...one, state: 'waiting' } : one));
  } catch {
    // Unreadable is not gone: it stays under another name for a person to look at.
    localStorage.setItem(`mountproof.unreadable.${tab}`, text);
    return [];
  }
}

/** Writes the box. Returns false where the browser's storage takes nothing: the entry then lives in this tab only. */
export function writeBox(tab: string, box: readonly Batch[]): boolean {
  try {
    if (box.length === 0) localStorage.removeItem(BOX + tab);
    else localStorage.setItem(BOX + tab, JSON.stringify(box));
    return true;
  } catch {
    return false;
  }
}

/** Takes over what tabs that are gone have left, oldest first. */
export function orphans(own: string, now: number): Batch[] {
  const tabs = Object.keys(localStorage)
    .filter((key) => key.startsWith(BOX))
    .map((key) => key.slice(BOX.length))
    .filter((tab) => tab !== own && !livesNow(tab, now));
  const found = tabs.flatMap((tab) => {
    const box = readBox(tab);
    localStorage.removeItem(BOX + tab);
    localStorage.removeItem(ALIVE + tab);
    return box;
  });
  return found.sort((a, b) => a.at.localeCompare(b.at));
}
