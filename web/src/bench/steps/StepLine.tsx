import { useState } from 'preact/hooks';
import type { Step } from '../../api/shapes';
import { Button, Faults } from '../../app/ui';
import { t } from '../../app/words';
import { EditStep } from './EditStep';
import { onItsWay, tick, ticked, untick } from './list';

type Props = { caseId: number; step: Step; first: boolean; last: boolean };

/** What stands before a step: a sign for its state, so that colour never carries it alone. */
const SIGNS: Readonly<Record<Step['state'], string>> = {
  'to come': '○',
  met: '✓',
  'not met': '✕',
  'passed over': '…',
  asked: '?',
  'left out': '–',
};

const OPEN: readonly Step['state'][] = ['not met', 'passed over', 'asked', 'left out'];

/** One step: what is done, whether it is met, when and by whom; a gate says what keeps it shut. */
export function StepLine({ caseId, step, first, last }: Props) {
  const [open, setOpen] = useState(false);
  const late = onItsWay(caseId, step);
  const met = late === undefined ? ticked(step) : late.met;
  const shut = step.gate && OPEN.includes(step.state);
  const press = (value: boolean) => (met === value ? untick(caseId, step) : tick(caseId, step, value));
  return (
    <li
      class={`step step-${step.state.replace(' ', '-')}${step.gate ? ' step-gate' : ''}`}
      data-entry={step.field}
    >
      <span class="step-sign" aria-hidden="true">
        {SIGNS[step.state]}
      </span>
      <div class="step-said">
        <h3 class="step-words">
          {step.words} {step.gate ? <span class="gate-tag">{t('bench.gate')}</span> : null}
          {step.own === '' ? null : <span class="own-tag">{t(`bench.own_${step.own}`)}</span>}
        </h3>
        {step.why ? <p class="small quiet">{step.why}</p> : null}
        {step.closes ? <p class="small">{t('bench.closes', { what: step.closes })}</p> : null}
        {step.found ? <p class="small">{t('bench.found', { what: step.found })}</p> : null}
        {step.note ? <p class="step-note">{step.note}</p> : null}
        <p class="step-state">
          {late === undefined ? (
            <>
              {step.state_words}
              {step.at_shown || step.by ? ` · ${[step.at_shown, step.by].filter(Boolean).join(' · ')}` : null}
            </>
          ) : (
            t(`app.entry.${late.state}`)
          )}
        </p>
        <Faults faults={late?.faults ?? []} />
        {step.asked ? <p class="step-asked">{t('bench.asked', { what: step.asked })}</p> : null}
        {shut ? <p class="gate-shut">{t('bench.gate_shut')}</p> : null}
      </div>
      <div class="step-taps">
        <Button
          aria-pressed={met === true}
          aria-label={t('bench.met_of', { step: step.words })}
          onClick={() => press(true)}
        >
          {t('bench.met')}
        </Button>
        <Button
          aria-pressed={met === false}
          aria-label={t('bench.not_met_of', { step: step.words })}
          onClick={() => press(false)}
        >
          {t('bench.not_met')}
        </Button>
        <Button
          look="plain"
          aria-expanded={open}
          aria-label={t('bench.more_of', { step: step.words })}
          onClick={() => setOpen(!open)}
        >
          {t('bench.more')}
        </Button>
      </div>
      {open ? <EditStep caseId={caseId} step={step} first={first} last={last} /> : null}
    </li>
  );
}
