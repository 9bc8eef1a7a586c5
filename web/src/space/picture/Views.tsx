import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { VIEWS, type View } from '../gl/panes';
import { bands, grey, numbers, only, view } from './view';

const show = (next: View) => {
  only.value = {};
  view.value = next;
};

/** From where to look. */
export function From({ casts }: { casts: number }) {
  const possible = casts === 2 ? VIEWS : VIEWS.filter((name) => name !== 'both');
  return (
    <fieldset class="row views-group">
      <legend class="field-label">{t('space.views')}</legend>
      {possible.map((name) => (
        <Button key={name} aria-pressed={view.value === name} onClick={() => show(name)}>
          {t(`space.view.${name}`)}
        </Button>
      ))}
    </fieldset>
  );
}

const PARTS = ['upper', 'lower', 'frame'] as const;

/** What to show there, and how. */
export function Shown({ banded }: { banded: boolean }) {
  const usual = {
    upper: view.value !== 'lower',
    lower: view.value !== 'upper',
    frame: view.value === 'whole',
  };
  const parts = view.value === 'both' ? [] : PARTS;
  return (
    <fieldset class="views-group">
      <legend class="legend-title">{t('space.shown')}</legend>
      <div class="ticks">
        {parts.map((name) => (
          <Tick
            key={name}
            words={t(`space.part.${name}`)}
            on={only.value[name] ?? usual[name]}
            onTick={(on) => (only.value = { ...only.value, [name]: on })}
          />
        ))}
        {banded ? (
          <>
            <Tick words={t('space.bands')} on={bands.value} onTick={(on) => (bands.value = on)} />
            <Tick words={t('space.numbers')} on={numbers.value} onTick={(on) => (numbers.value = on)} />
          </>
        ) : null}
        <Tick words={t('space.grey')} on={grey.value} onTick={(on) => (grey.value = on)} />
      </div>
    </fieldset>
  );
}

function Tick({ words, on, onTick }: { words: string; on: boolean; onTick: (on: boolean) => void }) {
  return (
    <label class="tick">
      <input type="checkbox" checked={on} onChange={(event) => onTick(event.currentTarget.checked)} />
      <span>{words}</span>
    </label>
  );
}
