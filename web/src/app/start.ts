/** What runs as long as the page is open: words, the case of the address, events, the outbox, keys. */
import { effect } from '@preact/signals';
import { openCase, reload } from './current';
import { listen } from './events';
import { watch } from './outbox';
import { route } from './route';
import { language } from './settings';
import { listenToKeys } from './shell/keys';
import { speak } from './words';

/** Starts all of it. Returns what stops it. */
export function start(): () => void {
  const stops = [
    effect(() => {
      void speak(language.value);
      void reload(); // the server writes its texts in the language chosen
    }),
    effect(() => {
      const here = route.value;
      void openCase(here.view === 'case' ? here.id : null);
    }),
    watch(),
    listen(),
    listenToKeys(),
    keepDropsHere(),
  ];
  return () => {
    for (const stop of stops.reverse()) stop();
  };
}

/** A file dropped beside its place would make the browser leave the page: here it does nothing. */
function keepDropsHere(): () => void {
  const ignore = (event: Event) => event.preventDefault();
  addEventListener('dragover', ignore);
  addEventListener('drop', ignore);
  return () => {
    removeEventListener('dragover', ignore);
    removeEventListener('drop', ignore);
  };
}
