import { useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Outcome } from '../api/outcome';
import type { Answer, Fault, Saved } from '../api/shapes';
import { reload, taken } from '../app/current';
import { momentText } from '../app/moment';
import { Button, Faults, Notice, say } from '../app/ui';
import { t } from '../app/words';

/** The short mark of the line: accepted, or accepted once and out of date since. */
export function AcceptedMark({ answer }: { answer: Answer }) {
  if (answer.accepted === null) return null;
  return answer.accepted.out_of_date ? (
    <strong class="small out-of-date">{t('sheet.out_of_date')}</strong>
  ) : (
    <span class="small quiet">{t('sheet.accepted_by', { who: answer.accepted.who })}</span>
  );
}

type Props = { caseId: number; answer: Answer };

/** What a person accepted, and the buttons to accept and to take it back. */
export function Accept({ caseId, answer }: Props) {
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const [away, setAway] = useState(false);
  const { accepted } = answer;

  const told = (outcome: Outcome<Saved>, words: string) => {
    setAway(outcome.kind === 'away');
    if (outcome.kind === 'ok') say(words);
    if (outcome.kind === 'conflicts') void reload();
    setFaults(
      outcome.kind === 'faults'
        ? outcome.faults
        : outcome.kind === 'conflicts'
          ? outcome.conflicts.faults
          : [],
    );
  };
  const accept = async () => {
    const body = { question: answer.key, digest: answer.digest };
    const call = api.POST('/api/cases/{id}/accept', { params: { path: { id: caseId } }, body });
    told(taken(await ask(call)), t('sheet.accepted_now'));
  };
  const takeBack = async () => {
    const path = { id: caseId, question: answer.key };
    const call = api.DELETE('/api/cases/{id}/accept/{question}', { params: { path } });
    told(taken(await ask(call)), t('sheet.taken_back'));
  };

  if (answer.state !== 'ready' && accepted === null) return null;
  return (
    <div class="accept stack">
      {accepted === null ? null : (
        <Notice kind={accepted.out_of_date ? 'ask' : 'note'}>
          <p>
            {t('sheet.accepted_at', {
              who: accepted.who,
              at: momentText(accepted.at),
              revision: accepted.revision,
            })}
          </p>
          {accepted.out_of_date ? <p>{t('sheet.out_of_date_why')}</p> : null}
        </Notice>
      )}
      <div class="row">
        {accepted === null || accepted.out_of_date ? (
          <Button
            not={answer.state === 'ready' ? undefined : t('sheet.not_ready')}
            onClick={() => void accept()}
          >
            {t(accepted === null ? 'sheet.accept' : 'sheet.accept_again')}
          </Button>
        ) : null}
        {accepted === null ? null : <Button onClick={() => void takeBack()}>{t('sheet.take_back')}</Button>}
      </div>
      <Faults faults={faults} />
      {away ? <Notice kind="ask">{t('app.link.nothing_changed')}</Notice> : null}
    </div>
  );
}
