import { useEffect, useRef } from 'preact/hooks';
import { locked } from '../api/client';
import { theCase } from './current';
import { route, type Route } from './route';
import { CaseBar } from './shell/CaseBar';
import { CaseGate } from './shell/CaseGate';
import { Guarded } from './shell/Guarded';
import { Foot } from './shell/Foot';
import { Head } from './shell/Head';
import { Windows } from './shell/windows';
import './shell/shell.css';
import { Live, say } from './ui';
import { Locked, View } from './views';
import { ready, t, type WordKey } from './words';

/** The part of an address whose change means another view: further parts are the view's own affair. */
const viewOf = (at: Route) => (at.view === 'case' ? `case ${at.id} ${at.part}` : at.view);

function titleOf(at: Route): string {
  const part: WordKey = at.view === 'case' ? `app.part.${at.part}` : `app.view.${at.view}`;
  const code = at.view === 'case' ? theCase.value?.code : undefined;
  return [code, t(part), t('app.name')].filter(Boolean).join(' · ');
}

/** Gives the focus to the heading of a view, once it is there; not if the person went somewhere else meanwhile. */
function focusHeading(): () => void {
  const main = document.querySelector('main');
  const arrived = () => {
    const heading = main?.querySelector<HTMLElement>('h1');
    heading?.focus({ preventScroll: true });
    return heading !== null && heading !== undefined;
  };
  if (main === null || arrived()) return () => undefined;
  main.focus();
  const watcher = new MutationObserver(() => {
    const still = document.activeElement === main || document.activeElement === document.body;
    if (!still || arrived()) watcher.disconnect();
  });
  watcher.observe(main, { childList: true, subtree: true });
  return () => watcher.disconnect();
}

/** On another view: its title is said, its heading gets the focus, and it is read from its top. */
function useArrival(at: Route): void {
  const first = useRef(true);
  const view = viewOf(at);
  useEffect(() => {
    if (first.current) {
      first.current = false;
      return;
    }
    scrollTo(0, 0);
    say(document.title);
    return focusHeading();
  }, [view]);
}

function Page() {
  const at = route.value;
  const title = titleOf(at);
  useEffect(() => {
    document.title = title;
  }, [title]);
  useArrival(at);
  return (
    <>
      <a class="skip" href="#main" onClick={skip}>
        {t('app.skip')}
      </a>
      <Head at={at} />
      {at.view === 'case' && !locked.value ? <CaseBar id={at.id} part={at.part} /> : null}
      <main id="main" tabIndex={-1}>
        {locked.value ? (
          <Locked />
        ) : at.view === 'case' ? (
          <CaseGate>
            <Guarded key={viewOf(at)}>
              <View at={at} />
            </Guarded>
          </CaseGate>
        ) : (
          <Guarded key={viewOf(at)}>
            <View at={at} />
          </Guarded>
        )}
      </main>
      <Foot />
      <Windows />
      <Live />
    </>
  );
}

/** The address is the router's: the skip link moves the focus by hand. */
function skip(event: Event): void {
  event.preventDefault();
  document.querySelector('main')?.focus();
}

export function App() {
  return ready.value ? <Page /> : null;
}
