import { effect, signal } from '@preact/signals';
import { whoAsked } from '../../api/client';
import { who } from '../settings';
import { KeysWindow } from './KeysWindow';
import { OutboxWindow } from './OutboxWindow';
import { SettingsWindow } from './SettingsWindow';
import { WhoWindow } from './WhoWindow';

export type WindowName = 'who' | 'settings' | 'keys' | 'outbox';

const opened = signal<WindowName | null>(who.peek() === '' ? 'who' : null);

effect(() => {
  if (whoAsked.value > 0) opened.value = 'who';
});

export function openWindow(name: WindowName): void {
  opened.value = name;
}

/** Whether a window stands over the page. */
export const windowOpen = () => opened.value !== null;

const WINDOW = { who: WhoWindow, settings: SettingsWindow, keys: KeysWindow, outbox: OutboxWindow };

/** The window that is open, if one is. */
export function Windows() {
  if (opened.value === null) return null;
  const Window = WINDOW[opened.value];
  return <Window onClose={() => (opened.value = null)} />;
}
