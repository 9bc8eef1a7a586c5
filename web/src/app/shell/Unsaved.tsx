import { locked } from '../../api/client';
import { link } from '../events';
import { kept, outbox } from '../outbox';
import { Button } from '../ui';
import { t } from '../words';
import { openWindow } from './windows';

/** Whether the server answers and whether all is saved; opens the list of what is not. */
export function Unsaved() {
  const count = outbox.value.flatMap((batch) => batch.edits).length;
  const down = link.value === 'down' && !locked.value;
  if (count === 0 && !down) return null;
  return (
    <span class="unsaved" role="status">
      {down ? <span>{t('app.link.down')}</span> : null}
      {count > 0 ? (
        <Button onClick={() => openWindow('outbox')}>{t('app.outbox.count', { count })}</Button>
      ) : null}
      {kept.value ? null : <strong>{t('app.outbox.full')}</strong>}
    </span>
  );
}
