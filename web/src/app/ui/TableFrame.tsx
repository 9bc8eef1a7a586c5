import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { t } from '../words';

/** Holds a table that may be wider than its place. Only then it can be reached by the keyboard, to push it sideways. */
export function TableFrame({ label, children }: { label?: string; children: ComponentChildren }) {
  const frame = useRef<HTMLDivElement>(null);
  const [wide, setWide] = useState(false);
  useEffect(() => {
    const box = frame.current;
    if (box === null) return undefined;
    const look = new ResizeObserver(() => setWide(box.scrollWidth > box.clientWidth));
    look.observe(box);
    for (const child of box.children) look.observe(child);
    return () => look.disconnect();
  }, []);
  const name = label ?? t('app.table');
  if (!wide) {
    return (
      <div ref={frame} class="table-frame">
        {children}
      </div>
    );
  }
  return (
    // eslint-disable-next-line jsx-a11y/no-noninteractive-tabindex -- or a keyboard could not push it sideways
    <div ref={frame} class="table-frame" role="region" tabIndex={0} aria-label={name}>
      {children}
    </div>
  );
}
