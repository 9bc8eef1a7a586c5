import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { ringing, seen, words } from './alarm';

/** What was just passed, large across the page until somebody has seen it. What listens was told already. */
export function Ringing() {
  const shown = ringing.value;
  if (shown.length === 0) return null;
  return (
    <div class="ringing">
      <ul>
        {shown.map((alarm) => (
          <li key={`${alarm.pour.case_id} ${alarm.pour.key} ${alarm.at}`}>{words(alarm)}</li>
        ))}
      </ul>
      <Button onClick={seen}>{t('bench.seen')}</Button>
    </div>
  );
}
