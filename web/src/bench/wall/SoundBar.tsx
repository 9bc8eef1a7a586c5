import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { sound, state, wake, wanted } from './sound';
import { staysOn } from './wake';

/** Sound on or off, a tone to try, and whether it can be heard at all. */
export function SoundBar() {
  const on = wanted.value === 'on';
  const turn = () => {
    wanted.value = on ? 'off' : 'on';
    if (!on) void wake().then(() => sound('near'));
  };
  return (
    <div class="row sound-bar">
      <Button look={on ? 'usual' : 'main'} aria-pressed={on} onClick={turn}>
        {on ? t('bench.sound_on') : t('bench.sound_off')}
      </Button>
      {on ? (
        <Button onClick={() => void wake().then(() => sound('act'))}>{t('bench.sound_test')}</Button>
      ) : null}
      <span class="small quiet">
        {!on ? null : state.value === 'running' ? null : state.value === 'none' ? (
          t('bench.sound_none')
        ) : (
          <strong class="sound-asleep">{t('bench.sound_asleep')}</strong>
        )}{' '}
        {staysOn.value ? t('bench.stays_on') : null}
      </span>
    </div>
  );
}
