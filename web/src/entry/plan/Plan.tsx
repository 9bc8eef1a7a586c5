/** The base seen from above, with the places that were entered. Our own drawing; it only shows where they are. */
import { t } from '../../app/words';
import { focusEntry } from '../core/focus';
import { BASE, frameOf, spotsDrawn, type Spot } from './plan';

export function Plan({ spots, fieldOf }: { spots: readonly Spot[]; fieldOf: (key: string) => string }) {
  const shown = spotsDrawn(spots);
  const { left, top, width, height } = frameOf(shown);
  const to = (key: string) => () => void focusEntry(document, fieldOf(key));
  return (
    <figure class="plan">
      <svg viewBox={`${left} ${top} ${width} ${height}`} role="img" aria-label={t('entry.plan_label')}>
        <path d={BASE} class="plan-base" />
        <line x1={left} x2={left + width} y1="0" y2="0" class="plan-axis" />
        <line x1="0" x2="0" y1={top} y2={top + height} class="plan-middle" />
        <text x="0" y={top + 7} class="plan-words">
          {t('entry.plan_front')}
        </text>
        <text x="0" y="8" class="plan-words">
          {t('entry.plan_axis')}
        </text>
        <text x={left + 3} y={top + 18} class="plan-words plan-right">
          {t('entry.patient_right')}
        </text>
        <text x={left + width - 3} y={top + 18} class="plan-words plan-left">
          {t('entry.patient_left')}
        </text>
        {shown.map((spot) => (
          <g
            key={spot.key}
            transform={`translate(${spot.x} ${spot.y})`}
            class="plan-spot"
            onClick={to(spot.key)}
          >
            {spot.kind === 'luted' ? <circle r="4" /> : <rect x="-4" y="-4" width="8" height="8" />}
            <text x="6.5" y="2">
              {spot.label}
            </text>
          </g>
        ))}
      </svg>
      <figcaption class="small quiet">{t('entry.plan_what')}</figcaption>
    </figure>
  );
}
