/** The answers that a form bears on, a line each, as they are with what is being typed. */
import type { Answer } from '../api/shapes';
import { sheet } from '../app/current';
import { Verdict } from '../app/ui';
import { t } from '../app/words';
import { caseHref } from '../app/route';
import { asking, tried } from './core/trying';

export function Strip({ caseId, keys }: { caseId: number; keys: readonly string[] }) {
  const trial = tried.value?.caseId === caseId ? tried.value : null;
  const shown = trial?.out?.sheet ?? sheet.value;
  const answers = (shown?.answers ?? []).filter(
    (answer) => keys.includes(answer.key) && answer.state !== 'not built',
  );
  if (answers.length === 0) return null;
  const now =
    trial !== null && trial.faults.length > 0
      ? 'entry.strip_faults'
      : trial !== null
        ? 'entry.strip_tried'
        : 'entry.strip_saved';
  return (
    <aside class="strip" aria-label={t('entry.strip')}>
      <p class="small quiet strip-now" data-busy={asking.value}>
        {t(now)}
      </p>
      <ul>
        {answers.map((answer) => (
          <li key={answer.key}>
            <StripLine caseId={caseId} answer={answer} />
          </li>
        ))}
      </ul>
    </aside>
  );
}

function StripLine({ caseId, answer }: { caseId: number; answer: Answer }) {
  const ready = answer.state === 'ready';
  return (
    <div class="strip-line" data-answer={answer.key}>
      <div class="strip-head">
        <a href={caseHref(caseId, 'sheet', answer.key)} class="small">
          {answer.question}
        </a>
        {ready ? <Verdict verdict={answer.verdict} word={answer.verdict_word} mark={answer.mark} /> : null}
      </div>
      {ready ? (
        <>
          <p class="strip-headline">{answer.headline}</p>
          {answer.interval === '' ? null : <p class="small quiet">{answer.interval}</p>}
        </>
      ) : (
        <p class="small quiet">
          {t(answer.state === 'working' ? 'entry.strip_working' : 'entry.strip_stopped')}
        </p>
      )}
    </div>
  );
}
