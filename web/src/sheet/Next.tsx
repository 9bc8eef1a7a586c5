import { useState } from 'preact/hooks';
import type { Answer, Need } from '../api/shapes';
import { entryHref } from '../app/route';
import { Button } from '../app/ui';
import { t } from '../app/words';

type Props = { caseId: number; needs: readonly Need[]; answers: readonly Answer[] };

/** What to measure next, always in sight: the most useful reading first, each a way to where it is entered. */
export function Next({ caseId, needs, answers }: Props) {
  const [all, setAll] = useState(false);
  const numberOf = (key: string) => answers.find((answer) => answer.key === key)?.number ?? '';
  return (
    <aside class={all ? 'next next-all' : 'next'} aria-labelledby="next-title">
      <h2 id="next-title" tabIndex={-1} data-key="n">
        {t('sheet.next')}
      </h2>
      {needs.length === 0 ? <p>{t('sheet.nothing_next')}</p> : null}
      <ol class="next-list">
        {needs.map((need) => (
          <li key={need.question + need.field + need.reading}>
            <a href={entryHref(caseId, need.field)}>{need.reading}</a>
            <div class="small quiet">
              {t('sheet.for_question', { number: numberOf(need.question) })}
              {need.why ? `: ${need.why}` : null}
            </div>
          </li>
        ))}
      </ol>
      {needs.length > 1 ? (
        <div class="next-more">
          <Button look="plain" aria-expanded={all} onClick={() => setAll(!all)}>
            {t(all ? 'sheet.next_less' : 'sheet.next_more', { count: needs.length })}
          </Button>
        </div>
      ) : null}
    </aside>
  );
}
