import type { Step } from '../../api/shapes';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { under } from '../../entry/core/names';
import { change, leaveOut, move } from './list';
import { takeOut } from './own';
import { TypedLine, TypedMoment } from './Typed';

type Props = { caseId: number; step: Step; first: boolean; last: boolean };

/** Everything about a step that is changed less often: when and by whom, a note, its words, its place. */
export function EditStep({ caseId, step, first, last }: Props) {
  const entry = (name: string) => ({ caseId, field: under(step.field, name) });
  const gate = (
    <Button aria-pressed={step.gate} onClick={() => change(caseId, step, { gate: !step.gate })}>
      {t('bench.is_gate')}
    </Button>
  );
  return (
    <div class="step-more">
      <TypedLine
        label={t('bench.note')}
        entry={entry('note')}
        value={step.note}
        onValue={(note) => change(caseId, step, { note: note === '' ? null : note })}
      />
      <TypedMoment
        label={t('bench.at')}
        what={t('bench.at_what')}
        entry={entry('at')}
        value={step.at}
        onValue={(at) => change(caseId, step, { at })}
      />
      <TypedLine
        label={t('bench.by')}
        entry={entry('by')}
        value={step.by}
        onValue={(by) => change(caseId, step, { by: by === '' ? null : by })}
      />
      <TypedLine
        label={t('bench.words')}
        what={t('bench.words_what')}
        entry={entry('words')}
        value={step.words}
        onValue={(words) => change(caseId, step, { words: words === '' ? null : words })}
      />
      <div class="row">
        {gate}
        <Button aria-pressed={step.left_out} onClick={() => leaveOut(caseId, step, !step.left_out)}>
          {t('bench.leave_out')}
        </Button>
        <Button not={first ? t('bench.is_first') : undefined} onClick={() => move(caseId, step, -1)}>
          {t('bench.earlier')}
        </Button>
        <Button not={last ? t('bench.is_last') : undefined} onClick={() => move(caseId, step, 1)}>
          {t('bench.later')}
        </Button>
        {step.own === '' ? null : (
          <Button look="plain" onClick={() => takeOut(caseId, step)}>
            {t('bench.take_out')}
          </Button>
        )}
      </div>
    </div>
  );
}
