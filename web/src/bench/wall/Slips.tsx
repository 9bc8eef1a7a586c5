import { Button, Notice } from '../../app/ui';
import { t } from '../../app/words';
import { ms, stretch } from './clock';
import { unsent } from './list';
import { now } from './now';
import { takeBack, tapped } from './taps';

/** The last tap, to be taken back. */
export function TakeBack() {
  const last = tapped.value;
  if (last === null) return null;
  return (
    <p class="row taken">
      <span>{t(`bench.tapped_${last.what}`, { code: last.code, cast: t(`bench.cast_${last.cast}`) })}</span>
      <Button onClick={() => void takeBack(last)}>{t('bench.take_back')}</Button>
      <Button look="plain" onClick={() => (tapped.value = null)}>
        {t('bench.leave')}
      </Button>
    </p>
  );
}

/** Pours that were begun here and that the server does not know of yet. */
export function Unsent() {
  const waiting = unsent.value;
  if (waiting.length === 0) return null;
  return (
    <Notice kind="ask">
      <ul>
        {waiting.map((one) => (
          <li key={one.key}>
            {t('bench.unsent', {
              id: one.caseId,
              cast: t(one.cast === 'upper' ? 'bench.cast_upper' : 'bench.cast_lower'),
              time: stretch(now.value - ms(one.begun)),
            })}
          </li>
        ))}
      </ul>
    </Notice>
  );
}
