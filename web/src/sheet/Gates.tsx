import type { Shapes } from '../api/shapes';
import { caseHref } from '../app/route';
import { Notice } from '../app/ui';
import { t } from '../app/words';

/** Steps that everything after them rests on, and that are not met. */
export function Gates({ caseId, gates }: { caseId: number; gates: readonly Shapes['GateOut'][] }) {
  if (gates.length === 0) return null;
  return (
    <Notice kind="ask">
      <h2>{t('sheet.gates')}</h2>
      <ul>
        {gates.map((gate) => (
          <li key={gate.key}>
            <strong>{gate.words}</strong> {gate.why}
          </li>
        ))}
      </ul>
      <p>
        <a href={caseHref(caseId, 'bench')}>{t('sheet.to_steps')}</a>
      </p>
    </Notice>
  );
}
