import type { Answer } from '../api/shapes';
import { Fold, Verdict } from '../app/ui';
import { t } from '../app/words';
import { Accept, AcceptedMark } from './Accept';
import { Evidence } from './Evidence';
import { opened, openOne } from './opened';

/** What stands where the verdict stands. */
function Outcome({ answer }: { answer: Answer }) {
  if (answer.state === 'working') return <span class="verdict verdict-tell">{t('sheet.state.working')}</span>;
  if (answer.state === 'stopped') return <span class="verdict verdict-tell">{t('sheet.state.stopped')}</span>;
  if (answer.state === 'not built')
    return <span class="verdict verdict-tell">{t('sheet.state.not_built')}</span>;
  return <Verdict verdict={answer.verdict} word={answer.verdict_word} mark={answer.mark} />;
}

/** One question: a line when folded, everything behind it when open. */
export function Question({ caseId, answer }: { caseId: number; answer: Answer }) {
  const open = opened.value.has(answer.key);
  const assumed = answer.assumptions.length > 0;
  const head = (
    <span class="question-line">
      <span class="question-number">{answer.number}</span>
      <span class="question-words">
        <span class="question-asked">{answer.question}</span>
        <span class={open ? 'question-headline' : 'question-headline question-short'}>{answer.headline}</span>
      </span>
      <span class="question-end">
        <Outcome answer={answer} />
        {assumed ? (
          <span class="assumed">{t('sheet.assumes', { count: answer.assumptions.length })}</span>
        ) : null}
        <AcceptedMark answer={answer} />
        {answer.interval ? <span class="small quiet question-interval">{answer.interval}</span> : null}
      </span>
    </span>
  );
  return (
    <li id={`question-${answer.key}`} class="question">
      <Fold level={2} head={head} open={open} onOpen={(now) => openOne(answer.key, now)}>
        <Evidence caseId={caseId} answer={answer} open={open} />
        <Accept caseId={caseId} answer={answer} />
      </Fold>
    </li>
  );
}
