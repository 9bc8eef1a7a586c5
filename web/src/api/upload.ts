/** Sends a file as it is, with progress and a way to stop. */
import { headers } from './client';
import { failure, type Outcome } from './outcome';

export type Sending<T> = { done: Promise<Outcome<T> | { kind: 'stopped' }>; stop: () => void };

function parsed(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return text;
  }
}

/**
 * Sends `file` to `path`. `onPart` is told how much of it has left, from 0 to 1.
 * An XMLHttpRequest, because fetch cannot tell how far an upload is.
 */
export function upload<T>(
  method: 'POST' | 'PUT',
  path: string,
  file: Blob,
  onPart: (part: number) => void = () => undefined,
): Sending<T> {
  const request = new XMLHttpRequest();
  const done = new Promise<Outcome<T> | { kind: 'stopped' }>((resolve) => {
    request.upload.onprogress = (event) => event.lengthComputable && onPart(event.loaded / event.total);
    request.onerror = () => resolve({ kind: 'away' });
    request.onabort = () => resolve({ kind: 'stopped' });
    request.onload = () => {
      const body = parsed(request.responseText);
      const good = request.status >= 200 && request.status < 300;
      resolve(good ? { kind: 'ok', value: body as T } : failure(request.status, body));
    };
  });
  request.open(method, path);
  for (const [name, value] of Object.entries(headers())) request.setRequestHeader(name, value);
  request.setRequestHeader('Content-Type', 'application/octet-stream');
  request.send(file);
  return { done, stop: () => request.abort() };
}
