import { signal } from '@preact/signals';

const said = signal('');

/** Tells those who listen to the page, without moving the focus. */
export function say(text: string): void {
  said.value = '';
  queueMicrotask(() => {
    said.value = text;
  });
}

/** Where `say` speaks. Once in the page. */
export const Live = () => (
  <div role="status" class="unseen">
    {said.value}
  </div>
);
