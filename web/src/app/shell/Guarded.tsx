import type { ComponentChildren } from 'preact';
import { useErrorBoundary } from 'preact/hooks';
import { Button, Notice } from '../ui';
import { t } from '../words';

/** Keeps a view that goes wrong from taking the page with it: entries on their way go on, other views open. */
export function Guarded({ children }: { children: ComponentChildren }) {
  const [error] = useErrorBoundary((wrong: unknown) => console.error(wrong)) as [unknown, () => void];
  if (error === undefined) return <>{children}</>;
  return (
    <div class="stack">
      <h1 tabIndex={-1}>{t('app.broken')}</h1>
      <Notice kind="fault">
        <p>{t('app.broken.text', { error: error instanceof Error ? error.message : '' })}</p>
      </Notice>
      <div>
        <Button onClick={() => location.reload()}>{t('app.again')}</Button>
      </div>
    </div>
  );
}
