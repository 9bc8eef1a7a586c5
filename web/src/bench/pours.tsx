import { useEffect } from 'preact/hooks';
import { Button, Faults } from '../app/ui';
import { t } from '../app/words';
import { Ringing } from './wall/Ringing';
import { NewPour } from './wall/NewPour';
import { PourCard } from './wall/PourCard';
import { SoundBar } from './wall/SoundBar';
import { TakeBack, Unsent } from './wall/Slips';
import { watchAlarms } from './wall/alarm';
import { faults, follow, forgotten, going, all } from './wall/list';
import { watchClock } from './wall/now';
import { wake } from './wall/sound';
import { keepAwake } from './wall/wake';
import './wall/wall.css';

/** The first touch or key after a reload lets the browser sound again. */
function useTouch(): void {
  useEffect(() => {
    const touched = () => void wake();
    addEventListener('pointerdown', touched);
    addEventListener('keydown', touched);
    return () => {
      removeEventListener('pointerdown', touched);
      removeEventListener('keydown', touched);
    };
  }, []);
}

/** All pours of all cases, to be read across the room: what comes next, how long until then, one tap to note it. */
export default function Pours() {
  useEffect(watchClock, []);
  useEffect(follow, []);
  useEffect(watchAlarms, []);
  useEffect(keepAwake, []);
  useTouch();
  const [first, ...others] = going.value;
  return (
    <div class="wall">
      <div class="wall-head">
        <h1 tabIndex={-1}>{t('app.view.pours')}</h1>
        <NewPour />
        <SoundBar />
      </div>
      <Faults faults={faults.value} />
      <Ringing />
      <TakeBack />
      <Unsent />
      {first === undefined ? (
        <p class="wall-none">{all.value === null ? t('app.opening') : t('bench.none')}</p>
      ) : (
        <ol class="wall-list" aria-label={t('bench.in_order')}>
          <PourCard key={`${first.case_id} ${first.key}`} pour={first} first />
          {others.map((pour) => (
            <PourCard key={`${pour.case_id} ${pour.key}`} pour={pour} />
          ))}
        </ol>
      )}
      {forgotten.value.length === 0 ? null : (
        <section class="stack">
          <h2>{t('bench.forgotten')}</h2>
          <p class="quiet">{t('bench.forgotten_text')}</p>
          <ul class="wall-old">
            {forgotten.value.map((pour) => (
              <PourCard key={`${pour.case_id} ${pour.key}`} pour={pour} old />
            ))}
          </ul>
        </section>
      )}
      <FullScreen />
    </div>
  );
}

/** The whole screen for the pours, where the browser can. */
function FullScreen() {
  if (!document.fullscreenEnabled) return null;
  const turn = () =>
    void (document.fullscreenElement === null
      ? document.documentElement.requestFullscreen()
      : document.exitFullscreen());
  return (
    <p>
      <Button look="plain" onClick={turn}>
        {t('bench.full_screen')}
      </Button>
    </p>
  );
}
