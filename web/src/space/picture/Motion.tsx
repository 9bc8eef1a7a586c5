import type { Shapes } from '../../api/shapes';
import { entryHref } from '../../app/route';
import { Button, Notice, TableFrame, say } from '../../app/ui';
import { t } from '../../app/words';
import { at, choose, motions, movement, shown, type Movement } from './motion';

/** What moves the lower: closing with the gap in bands, or one of the movements that the answers worked out. */
export function Choice({ gaps }: { gaps: boolean }) {
  const found = motions.value?.movements ?? [];
  return (
    <fieldset class="views-group">
      <legend class="field-label">{t('space.motion')}</legend>
      <div class="ways motion-ways">
        {gaps ? (
          <One words={t('space.motion_gaps')} on={shown.value === null} onOn={() => choose(null)} />
        ) : null}
        {found.map(({ key, title }) => (
          <One key={key} words={title} on={shown.value === key} onOn={() => choose(key)} />
        ))}
      </div>
      {found.length === 0 ? <p class="small quiet">{t('space.motion_waiting')}</p> : null}
    </fieldset>
  );
}

const One = ({ words, on, onOn }: { words: string; on: boolean; onOn: () => void }) => (
  <label class="tick">
    <input type="radio" name="space-motion-of" checked={on} onChange={onOn} />
    <span>{words}</span>
  </label>
);

/** The movement in hand: its slider, what is seen where it stands, and what is missing for it. */
export function Motion({ caseId }: { caseId: number }) {
  const of = movement.value;
  if (of === null) return null;
  return (
    <section class="motion stack" aria-label={of.title}>
      <Positions of={of} />
      <Needs caseId={caseId} of={of} />
      {of.steps.length === 0 ? null : (
        <p class="small quiet">
          {of.about} {t('space.motion_snaps')}
        </p>
      )}
      {of.notes.map((note) => (
        <p key={note} class="small quiet">
          {note}
        </p>
      ))}
    </section>
  );
}

/** Every position by hand, by key, or one after the other. It stops at nothing that was not worked out. */
export function Positions({ of }: { of: Movement }) {
  const step = of.steps[at.value];
  if (step === undefined) return null;
  const last = of.steps.length - 1;
  const go = (to: number) => {
    at.value = to;
    const line = of.steps[to]?.line;
    if (line !== undefined) say(line);
  };
  return (
    <>
      <div class="slider">
        <label class="field-label" htmlFor="space-motion">
          {of.title}
        </label>
        <p class="slider-shown" aria-hidden="true">
          <strong>{step.label}</strong>
        </p>
        <input
          id="space-motion"
          class="slider-range"
          type="range"
          min={0}
          max={last}
          step={1}
          list="space-motion-steps"
          value={at.value}
          aria-valuetext={step.line}
          onInput={(event) => (at.value = event.currentTarget.valueAsNumber)}
        />
        <datalist id="space-motion-steps">
          {of.steps.map((one, k) => (
            <option key={one.label} value={k} label={one.label} />
          ))}
        </datalist>
        <p class="motion-ends small quiet" aria-hidden="true">
          <span>{of.steps[0]?.label}</span>
          <span>{of.steps[last]?.label}</span>
        </p>
        <div class="row">
          <Button
            onClick={() => go(at.value - 1)}
            not={at.value === 0 ? t('space.motion_at_start') : undefined}
          >
            {t('space.motion_before')}
          </Button>
          <Button
            onClick={() => go(at.value + 1)}
            not={at.value === last ? t('space.motion_at_end') : undefined}
          >
            {t('space.motion_after')}
          </Button>
        </div>
      </div>
      <p class="motion-line">{step.line}</p>
    </>
  );
}

function Needs({ caseId, of }: { caseId: number; of: Movement }) {
  if (of.needs.length === 0) return null;
  return (
    <Notice kind={of.steps.length === 0 ? 'ask' : 'note'}>
      <p>{of.steps.length === 0 ? t('space.motion_missing') : t('space.motion_more')}</p>
      <ul>
        {of.needs.map((need) => (
          <li key={need.reading}>
            {need.field === '' ? need.reading : <a href={entryHref(caseId, need.field)}>{need.reading}</a>}:{' '}
            {need.why}
          </li>
        ))}
      </ul>
    </Notice>
  );
}

/** What the picture marks at the position in hand, as tables. */
export function Marked({ step }: { step: Shapes['MotionStepOut'] }) {
  return (
    <div class="motion-tables">
      <TableFrame label={t('space.motion_places')}>
        <table class="table">
          <caption>
            {t('space.motion_places')}: {step.label}
          </caption>
          <thead>
            <tr>
              {(['number', 'teeth', 'along'] as const).map((name) => (
                <th key={name} scope="col">
                  {t(`space.column.${name}`)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {step.places.map((place, rank) => (
              <tr key={`${place.pair} ${rank}`}>
                <td>{rank + 1}</td>
                <th scope="row">{place.pair}</th>
                <td>{place.gap}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </TableFrame>
      {step.gaps.length === 0 ? null : (
        <details class="motion-gaps">
          <summary>{t('space.motion_gaps_each')}</summary>
          <ul>
            {step.gaps.map((one) => (
              <li key={one.tooth}>
                <strong>{one.tooth}</strong> {one.gap}
              </li>
            ))}
          </ul>
        </details>
      )}
    </div>
  );
}
