/** Which way Enter goes on, as this browser remembers it. */
import { effect, signal } from '@preact/signals';
import type { Way } from './moves';

const KEY = 'mountproof.enter';

export const enterGoes = signal<Way>(localStorage.getItem(KEY) === 'right' ? 'right' : 'down');
effect(() => {
  try {
    localStorage.setItem(KEY, enterGoes.value);
  } catch {
    // Chosen again next time.
  }
});
