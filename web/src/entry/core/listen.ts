/** Listening at a part of the page to what its boxes do not take for themselves. */
import type { RefObject } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

/** Calls `heard` for events that bubble up to an element. The newest function is called, without listening anew. */
export function useHeard<Name extends keyof HTMLElementEventMap>(
  at: RefObject<HTMLElement | null>,
  name: Name,
  heard: (event: HTMLElementEventMap[Name]) => void,
): void {
  const newest = useRef(heard);
  newest.current = heard;
  useEffect(() => {
    const element = at.current;
    const listener = (event: HTMLElementEventMap[Name]) => newest.current(event);
    element?.addEventListener(name, listener);
    return () => element?.removeEventListener(name, listener);
  }, [at, name]);
}
