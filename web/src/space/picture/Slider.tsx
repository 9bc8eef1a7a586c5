import { useMemo } from 'preact/hooks';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { slide, step, type SceneOut } from './scene';

/** How far the lower is closed: every place in words, by hand, by key, or from one stop to the next. */
export function Slider({ of }: { of: SceneOut }) {
  // The stops as marks at the slider: the same nodes while it moves, so that nothing is compared.
  const marks = useMemo(() => <Marks of={of} />, [of]);
  const at = of.steps[step.value];
  if (at === undefined) return null;
  const before = of.stops.filter((one) => one < step.value).at(-1);
  const after = of.stops.find((one) => one > step.value);
  const go = (to: number | undefined) => {
    if (to !== undefined) slide(to);
  };
  const record = of.steps.findIndex((one) => one.closed_rad === 0);
  return (
    <div class="slider">
      <label class="field-label" htmlFor="space-close">
        {t('space.slider')}
      </label>
      <p class="slider-shown" aria-hidden="true">
        <strong>{at.shown}</strong>
        {at.pin ? <span class="slider-pin">{at.pin}</span> : null}
      </p>
      <input
        id="space-close"
        class="slider-range"
        type="range"
        min={0}
        max={of.steps.length - 1}
        step={1}
        list="space-stops"
        value={step.value}
        aria-valuetext={[at.shown, at.pin].filter(Boolean).join(', ')}
        onInput={(event) => slide(event.currentTarget.valueAsNumber)}
      />
      {marks}
      <div class="row">
        <Button onClick={() => go(before)} not={before === undefined ? t('space.at_start') : undefined}>
          {t('space.stop_before')}
        </Button>
        <Button onClick={() => go(after)} not={after === undefined ? t('space.at_end') : undefined}>
          {t('space.stop_after')}
        </Button>
        <Button onClick={() => go(record)} aria-pressed={step.value === record}>
          {t('space.to_record')}
        </Button>
        {of.first === null ? null : (
          <Button onClick={() => go(of.first ?? undefined)} aria-pressed={step.value === of.first}>
            {t('space.to_contact')}
          </Button>
        )}
      </div>
    </div>
  );
}

const Marks = ({ of }: { of: SceneOut }) => (
  <datalist id="space-stops">
    {of.stops.map((one) => (
      <option key={one} value={one} label={of.steps[one]?.shown} />
    ))}
  </datalist>
);
