/** Surfaces come once for what they were made from, and stay while this page is open: coming back costs nothing. */
import { headers } from '../../api/client';

export type Got = { buffer: ArrayBuffer } | { failed: 'away' | 'refused' | 'stopped' };

const KEPT = 4;
const kept = new Map<string, ArrayBuffer>();

/** What is kept of an address, whichever revision asked for it. */
const nameOf = (url: string) => url.replace(/revision=\d+&?/, '');

function keep(name: string, buffer: ArrayBuffer): void {
  kept.delete(name);
  kept.set(name, buffer);
  for (const oldest of kept.keys()) {
    if (kept.size <= KEPT) break;
    kept.delete(oldest);
  }
}

async function whole(answer: Response, bytes: number, onBytes: (more: number) => void): Promise<ArrayBuffer> {
  const stream = answer.body?.getReader();
  if (stream === undefined) return answer.arrayBuffer();
  const found = new Uint8Array(bytes);
  let at = 0;
  for (;;) {
    const { done, value } = await stream.read();
    if (done) break;
    if (at + value.length > bytes) return new ArrayBuffer(0);
    found.set(value, at);
    at += value.length;
    onBytes(value.length);
  }
  return at === bytes ? found.buffer : new ArrayBuffer(0);
}

/** Fetches the bytes of a surface. `onBytes` hears of every portion; `signal` stops it. */
export async function surfaceBytes(
  url: string,
  bytes: number,
  signal: AbortSignal,
  onBytes: (more: number) => void,
): Promise<Got> {
  const name = nameOf(url);
  const known = kept.get(name);
  if (known !== undefined) {
    onBytes(bytes);
    return { buffer: known };
  }
  try {
    const answer = await fetch(url, { signal, headers: headers(), credentials: 'same-origin' });
    if (!answer.ok) return { failed: 'refused' };
    const buffer = await whole(answer, bytes, onBytes);
    if (buffer.byteLength !== bytes) return { failed: 'away' };
    keep(name, buffer);
    return { buffer };
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return { failed: 'stopped' };
    if (error instanceof TypeError) return { failed: 'away' };
    throw error;
  }
}
