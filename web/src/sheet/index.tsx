import { useEffect } from 'preact/hooks';
import { sheet, theCase } from '../app/current';
import { caseHref } from '../app/route';
import { Button, Faults, Notice } from '../app/ui';
import { t } from '../app/words';
import { Exports } from './Exports';
import { Gates } from './Gates';
import { Next } from './Next';
import { openAll, openOne, opened } from './opened';
import { Question } from './Question';
import './sheet.css';
import { Standing } from './Standing';
import { Working } from './Working';

/** The eight answers of the case in hand. `rest` may name one that is to be open. */
export function SheetView({ caseId, rest }: { caseId: number; rest: readonly string[] }) {
  const shown = sheet.value;
  const asked = rest[0];
  const there = shown !== null;
  useEffect(() => {
    if (asked === undefined || !there) return;
    openOne(asked, true);
    document.getElementById(`question-${asked}`)?.scrollIntoView({ block: 'start' });
  }, [asked, there]);
  if (shown === null) return <p class="quiet">{t('app.opening')}</p>;
  const keys = shown.answers.map((answer) => answer.key);
  const all = keys.every((key) => opened.value.has(key));
  return (
    <div class="sheet">
      <div class="sheet-head">
        <h1 tabIndex={-1}>{t('sheet.title')}</h1>
        <Button onClick={() => openAll(keys, !all)}>{t(all ? 'sheet.fold_all' : 'sheet.open_all')}</Button>
        <Standing caseId={caseId} state={theCase.value?.state} />
      </div>
      <Next caseId={caseId} needs={shown.next} answers={shown.answers} />
      <div class="sheet-main stack">
        <Faults faults={shown.faults} />
        {shown.faults.length > 0 ? (
          <p>
            <a href={caseHref(caseId, 'enter')}>{t('sheet.to_entries')}</a>
          </p>
        ) : null}
        <Working work={shown.work} answers={shown.answers} caseId={caseId} />
        <Gates caseId={caseId} gates={shown.gates} />
        <Remarks title={t('sheet.questioned')} lines={shown.questions} kind="ask" />
        <ol class="questions">
          {shown.answers.map((answer) => (
            <Question key={answer.key} caseId={caseId} answer={answer} />
          ))}
        </ol>
        <Remarks title={t('sheet.read_as')} lines={shown.echoes} kind="note" />
        <Exports caseId={caseId} />
        <Remarks title={t('sheet.cautions')} lines={shown.cautions} kind="note" />
      </div>
    </div>
  );
}

function Remarks({ title, lines, kind }: { title: string; lines: readonly string[]; kind: 'ask' | 'note' }) {
  if (lines.length === 0) return null;
  return (
    <Notice kind={kind}>
      <h2>{title}</h2>
      <ul>
        {lines.map((line) => (
          <li key={line}>{line}</li>
        ))}
      </ul>
    </Notice>
  );
}
