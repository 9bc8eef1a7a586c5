import { caseHref } from '../../app/route';
import { t } from '../../app/words';
import { digits, dueOf, isNear, ms, stretch, type Due, type Pour } from './clock';
import { now } from './now';
import { PourTaps } from './PourTaps';

const looksOf = (due: Due | null, at: number): string => {
  if (due === null) return 'over';
  if (due.kind === 'waits') return due.marks[0]?.key === 'hands_off' ? 'act' : 'ready';
  return isNear(due, at) ? 'near' : 'comes';
};

/** What is to come or waits, in words. Assumed times are marked as such wherever they stand. */
function DueWords({ due }: { due: Due }) {
  const assumed = due.marks.some((mark) => mark.assumed);
  return (
    <p class="pour-what">
      {due.kind === 'waits' && due.marks[0]?.key === 'hands_off'
        ? t('bench.hands_off_now')
        : due.marks.map((mark) => mark.words).join(' · ')}{' '}
      <span class="pour-at">{due.marks[0]?.at_shown}</span>{' '}
      {assumed ? <span class="assumed">{t('bench.assumed')}</span> : null}
    </p>
  );
}

/** The moments of a pour in a row, those that are over struck through. */
function Moments({ pour }: { pour: Pour }) {
  const at = now.value;
  return (
    <ul class="pour-marks">
      {pour.marks.map((mark) => (
        <li key={mark.key} class={ms(mark.at) <= at ? 'pour-over' : undefined}>
          {mark.words} {mark.at_shown}
        </li>
      ))}
    </ul>
  );
}

/** One pour. The first stands largest. `old`: nobody waits for it any more. */
export function PourCard({
  pour,
  first = false,
  old = false,
}: {
  pour: Pour;
  first?: boolean;
  old?: boolean;
}) {
  const at = now.value;
  const due = dueOf(pour, at);
  const name = `${pour.code} ${pour.words}`;
  return (
    <li
      class={`pour pour-${looksOf(due, at)}${first ? ' pour-first' : ''}${old ? ' pour-old' : ''}`}
      data-pour={`${pour.case_id} ${pour.key}`}
    >
      <h2 class="pour-name">
        <a href={caseHref(pour.case_id, 'bench')}>{pour.code}</a> <span>{pour.words}</span>
      </h2>
      {due === null || old ? null : (
        <p class="pour-digits" role="timer" aria-live="off" aria-label={name}>
          {digits(due, at)}
        </p>
      )}
      <div class="pour-side">
        {due === null ? (
          <p class="pour-what">{t('bench.since', { time: stretch(at - ms(pour.begun)) })}</p>
        ) : (
          <DueWords due={due} />
        )}
        {pour.asked.map((text) => (
          <p key={text} class="pour-asked">
            {text}
          </p>
        ))}
        {first ? <Moments pour={pour} /> : null}
        <div class="pour-taps">
          <PourTaps pour={pour} />
        </div>
      </div>
    </li>
  );
}
