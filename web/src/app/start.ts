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
  ];
  return () => {
    for (const stop of stops.reverse()) stop();
  };
}
