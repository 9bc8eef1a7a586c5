import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Answer, Revision, Sheet } from '../api/shapes';
import { theCase } from '../app/current';
import { language } from '../app/settings';
import { caseHref, go } from '../app/route';
import { momentText } from '../app/moment';
import { ChoiceField, Faults, Verdict, TableFrame } from '../app/ui';
import { t } from '../app/words';
import { Changes } from './Changes';
import { changesBetween } from './compare';
import { useHistory } from './useHistory';

/** The sheet of one revision, asked for in the language shown. */
function useSheet(caseId: number, revision: number): Sheet | null {
  const [found, setFound] = useState<Sheet | null>(null);
  const lang = language.value;
  useEffect(() => {
    let wanted = true;
    setFound(null);
    const params = { path: { id: caseId }, query: { revision } };
    void ask(api.GET('/api/cases/{id}/sheet', { params })).then((got) => {
      if (wanted && got.kind === 'ok') setFound(got.value);
    });
    return () => {
      wanted = false;
    };
  }, [caseId, revision, lang]);
  return found;
}

function Said({ answer }: { answer: Answer | undefined }) {
  if (answer === undefined) return <p class="quiet">{t('app.opening')}</p>;
  if (answer.state === 'working') return <p class="quiet">{t('sheet.state.working')}</p>;
  return (
    <>
      <p>{answer.headline}</p>
      <p class="row">
        {answer.state === 'ready' ? (
          <Verdict verdict={answer.verdict} word={answer.verdict_word} mark={answer.mark} />
        ) : null}
        <span class="small quiet">{answer.interval}</span>
      </p>
    </>
  );
}

/** The answers of both revisions side by side; those that say the same are left out. */
function Answers({ a, b, from, to }: { a: Sheet | null; b: Sheet | null; from: number; to: number }) {
  const both = (a ?? b)?.answers ?? [];
  const of = (sheet: Sheet | null, key: string) => sheet?.answers.find((answer) => answer.key === key);
  const same = (key: string) => {
    const [one, other] = [of(a, key), of(b, key)];
    return (
      one?.headline === other?.headline &&
      one?.interval === other?.interval &&
      one?.verdict === other?.verdict
    );
  };
  const changed = both.filter((answer) => !same(answer.key));
  if (changed.length === 0) return <p>{t('history.same_answers')}</p>;
  return (
    <TableFrame>
      <table class="table compare">
        <thead>
          <tr>
            <th scope="col">{t('history.question')}</th>
            <th scope="col">{t('app.revision', { revision: from })}</th>
            <th scope="col">{t('app.revision', { revision: to })}</th>
          </tr>
        </thead>
        <tbody>
          {changed.map((answer) => (
            <tr key={answer.key}>
              <th scope="row">
                {answer.number} {answer.question}
              </th>
              <td>
                <Said answer={of(a, answer.key)} />
              </td>
              <td>
                <Said answer={of(b, answer.key)} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </TableFrame>
  );
}

type Pair = { caseId: number; revisions: readonly Revision[]; from: number; to: number };

function Both({ caseId, revisions, from, to }: Pair) {
  const a = useSheet(caseId, from);
  const b = useSheet(caseId, to);
  return (
    <>
      <h2>{t('history.changed_answers')}</h2>
      <Answers a={a} b={b} from={from} to={to} />
      <h2>{t('history.changed_entries')}</h2>
      <Changes caseId={caseId} changes={changesBetween(revisions, from, to)} />
    </>
  );
}

/** Two revisions side by side: what they answer, and what was entered otherwise. */
export function Compare({
  caseId,
  from,
  to,
}: {
  caseId: number;
  from?: string | undefined;
  to?: string | undefined;
}) {
  const { revisions, faults } = useHistory(caseId);
  if (revisions === null) {
    return faults.length > 0 ? <Faults faults={faults} /> : <p class="quiet">{t('app.opening')}</p>;
  }
  const numbers = new Map(revisions.map((one) => [`${one.number}`, one.number]));
  const newest = theCase.value?.revision ?? 1;
  const b = numbers.get(to ?? '') ?? newest;
  const a = numbers.get(from ?? '') ?? revisions.find((one) => one.number < b)?.number ?? b;
  const choices = revisions.map((one) => ({
    value: `${one.number}`,
    words: t('history.choice', { revision: one.number, what: one.what, at: momentText(one.at) }),
  }));
  const choose = (left: string, right: string) => go(caseHref(caseId, 'history', 'compare', left, right));
  return (
    <>
      <Faults faults={faults} />
      <div class="compare-choice">
        <ChoiceField
          label={t('history.from')}
          value={`${a}`}
          choices={choices}
          onValue={(value) => choose(value, `${b}`)}
        />
        <ChoiceField
          label={t('history.to')}
          value={`${b}`}
          choices={choices}
          onValue={(value) => choose(`${a}`, value)}
        />
      </div>
      <Both caseId={caseId} revisions={revisions} from={a} to={b} />
    </>
  );
}
