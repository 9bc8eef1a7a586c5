/** Files that the server makes: fetched, so that what goes wrong can be said, then handed to the browser to keep. */
import { headers } from './client';
import { failure, type Outcome } from './outcome';

const named = (header: string | null): string => /filename="([^"]+)"/.exec(header ?? '')?.[1] ?? 'file';

/** Fetches a file and hands it over. `signal` stops it; a stop counts as `away` and is nobody's fault. */
export async function download(path: string, signal: AbortSignal): Promise<Outcome<string>> {
  try {
    const response = await fetch(path, { headers: headers(), signal, credentials: 'same-origin' });
    if (!response.ok) {
      const body: unknown = await response.json().catch(() => undefined);
      return failure(response.status, body);
    }
    const name = named(response.headers.get('content-disposition'));
    hand(await response.blob(), name);
    return { kind: 'ok', value: name };
  } catch (error) {
    if (error instanceof TypeError || (error instanceof DOMException && error.name === 'AbortError')) {
      return { kind: 'away' };
    }
    throw error;
  }
}

function hand(file: Blob, name: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
