import { useEffect } from 'preact/hooks';
import { viewHref } from '../app/route';
import { Faults, LinkButton } from '../app/ui';
import { t } from '../app/words';
import { CasePours } from './steps/CasePours';
import { StageSteps } from './steps/StageSteps';
import { faults, follow, STAGES, steps } from './steps/list';
import './steps/steps.css';

/** The mounting at the bench: its pours, and its steps one after the other. */
export default function Bench({ caseId, rest }: { caseId: number; rest: readonly string[] }) {
  useEffect(() => follow(caseId), [caseId]);
  const there = steps.value !== null;
  const wanted = rest[0] === 'field' ? (rest[1] ?? '') : '';
  useEffect(() => {
    if (!there || wanted === '') return;
    const at = [...document.querySelectorAll<HTMLElement>('[data-entry]')].find((one) =>
      wanted.startsWith(one.dataset['entry'] ?? ' '),
    );
    at?.scrollIntoView({ block: 'center' });
    at?.querySelector<HTMLElement>('button, a, input')?.focus({ preventScroll: true });
  }, [there, wanted]);
  return (
    <div class="bench stack">
      <div class="bench-head">
        <h1 tabIndex={-1}>{t('app.part.bench')}</h1>
        <LinkButton href={viewHref('pours')}>{t('bench.to_wall')}</LinkButton>
      </div>
      <Faults faults={faults.value} />
      <CasePours caseId={caseId} />
      {there ? (
        STAGES.map((stage) => <StageSteps key={stage} caseId={caseId} stage={stage} />)
      ) : (
        <p class="quiet">{t('app.opening')}</p>
      )}
    </div>
  );
}
