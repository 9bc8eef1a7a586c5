import { useEffect } from 'preact/hooks';
import { signal } from '@preact/signals';
import { api, ask } from '../../api/client';
import type { About } from '../../api/shapes';
import { link } from '../events';
import { Button } from '../ui';
import { t } from '../words';
import { openWindow } from './windows';

/** What the server says of itself; null until it has. */
export const about = signal<About | null>(null);

/** The line at the bottom: what this is for, and which version speaks. */
export function Foot() {
  const up = link.value;
  useEffect(() => {
    if (up === 'down') return;
    void ask(api.GET('/api/about')).then((got) => {
      if (got.kind === 'ok') about.value = got.value;
    });
  }, [up]);
  return (
    <footer class="foot">
      <p>{t('app.foot')}</p>
      <p>
        {about.value ? t('app.version', { version: about.value.version }) : null}{' '}
        {about.value?.store ? t('app.store', { folder: about.value.store }) : null}
      </p>
      <Button look="plain" onClick={() => openWindow('keys')}>
        {t('app.keys.title')}
      </Button>
    </footer>
  );
}
