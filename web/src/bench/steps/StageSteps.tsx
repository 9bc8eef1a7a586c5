import { t } from '../../app/words';
import { AddStep } from './AddStep';
import { ofStage, type Stage } from './list';
import { StepLine } from './StepLine';

/** One part of the mounting with its steps in order. */
export function StageSteps({ caseId, stage }: { caseId: number; stage: Stage }) {
  const here = ofStage(stage);
  return (
    <section aria-labelledby={`stage-${stage}`} class="stage">
      <h2 id={`stage-${stage}`}>{here[0]?.stage_words ?? t(`bench.stage_${stage}`)}</h2>
      <ol class="steps">
        {here.map((step, at) => (
          <StepLine
            key={step.key}
            caseId={caseId}
            step={step}
            first={at === 0}
            last={here[at + 1] === undefined}
          />
        ))}
      </ol>
      <AddStep caseId={caseId} stage={stage} />
    </section>
  );
}
