/** Readings that the others contradict, as the server asks about them: take what it suggests, or keep one's own. */
import { useEffect, useRef } from 'preact/hooks';
import { Button, say } from '../../app/ui';
import { t } from '../../app/words';
import { askedNow, keepMine, wrongNow, type Asked, type Wrong } from '../core/asked';
import { handOn, put } from '../core/saving';
import { focusEntry } from '../core/focus';
import { isBelow, nameOf, stepsOf } from '../core/names';
import type { TableName } from './shape';
import { useHeard } from '../core/listen';
import { useShown } from '../core/shown';
import { rested } from '../core/trying';

export function Questions({ caseId, table }: { caseId: number; table: TableName }) {
  const here = (one: { field: string }) => isBelow(one.field, nameOf('marks', table));
  const asked = rested.value ? askedNow.value.filter(here) : [];
  const wrong = wrongNow.value.filter(here);
  const heard = useRef('');
  const first = wrong[0]?.what ?? asked[0]?.asked ?? '';
  useEffect(() => {
    if (first !== '' && first !== heard.current) say(first);
    heard.current = first;
  }, [first]);
  if (asked.length === 0 && wrong.length === 0) return null;
  return (
    <section class="questions" aria-label={t('entry.look_again')}>
      <h4>{t('entry.look_again')}</h4>
      {wrong.map((one) => (
        <WrongCell key={one.field} one={one} />
      ))}
      {asked.map((one) => (
        <Question key={one.field} caseId={caseId} one={one} />
      ))}
      <p class="small quiet">{t('entry.question_key')}</p>
    </section>
  );
}

function WrongCell({ one }: { one: Wrong }) {
  const box = useRef<HTMLDivElement>(null);
  const [, , pair = '', state = ''] = stepsOf(one.field);
  const back = () => void focusEntry(box.current?.closest('.entry') ?? document, one.field);
  return (
    <div ref={box} class="question" data-question={one.field}>
      <p class="field-fault">
        {t('entry.in_cell', { pair, state })} {one.what}
      </p>
      <Button onClick={back}>{t('entry.to_cell', { pair, state })}</Button>
    </div>
  );
}

function Question({ caseId, one }: { caseId: number; one: Asked }) {
  const shown = useShown(caseId, one.field);
  const box = useRef<HTMLDivElement>(null);
  const back = () => {
    const form = box.current?.closest('.entry') ?? document;
    focusEntry(form, one.field);
  };
  const takeIt = () => {
    back();
    put(caseId, one.field, one.suggestion, `${one.pair}, ${one.state}`);
  };
  const keepIt = () => {
    back();
    keepMine(caseId, one.field, shown.text);
    handOn(caseId, one.field, `${one.pair}, ${one.state}`);
  };
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.key !== 'Escape') return;
    event.preventDefault();
    event.stopPropagation();
    back();
  };
  // Left without a choice: what was typed is handed on, as from any other box.
  useHeard(box, 'focusout', (event) => {
    const to = event.relatedTarget;
    const stays =
      to instanceof HTMLElement && (box.current?.contains(to) === true || to.dataset['entry'] === one.field);
    if (!stays) handOn(caseId, one.field, `${one.pair}, ${one.state}`);
  });
  useHeard(box, 'keydown', onKeyDown);
  return (
    <div ref={box} class="question" data-question={one.field}>
      <p>{one.asked}</p>
      <div class="row">
        {one.suggestion === '' ? null : (
          <Button look="main" onClick={takeIt}>
            {t('entry.take_suggestion', { value: one.suggestion })}
          </Button>
        )}
        <Button onClick={keepIt}>{t('entry.keep_mine', { value: shown.text })}</Button>
        <Button look="plain" onClick={back}>
          {t('entry.to_cell', { pair: one.pair, state: one.state })}
        </Button>
      </div>
    </div>
  );
}
