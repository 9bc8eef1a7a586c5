import { useId } from 'preact/hooks';
import type { Shapes } from '../../api/shapes';
import { t } from '../../app/words';

type Band = Shapes['BandOut'];

/** A piece of a band as the picture shows it: lengths in mm, drawn three times as large. */
export function Swatch({ band }: { band: Band }) {
  // An id of its own: a pattern of a legend that is not shown would draw nothing in the one that is.
  const id = useId();
  const { pitch_mm: pitch, stroke_mm: stroke } = band;
  const dots = band.pattern === 'dots' || band.pattern === 'sparse';
  return (
    <svg class="swatch" viewBox="0 0 6 4" aria-hidden="true">
      <defs>
        <pattern
          id={id}
          width={pitch}
          height={pitch}
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(45)"
        >
          {dots ? <circle cx={pitch / 2} cy={pitch / 2} r={stroke / 2} fill={band.ink} /> : null}
          {band.pattern === 'lines' || band.pattern === 'cross' ? (
            <rect width={stroke} height={pitch} fill={band.ink} />
          ) : null}
          {band.pattern === 'cross' ? <rect width={pitch} height={stroke} fill={band.ink} /> : null}
        </pattern>
      </defs>
      <rect width="6" height="4" fill={band.colour} />
      {band.pattern === 'solid' ? null : <rect width="6" height="4" fill={`url(#${id})`} />}
    </svg>
  );
}

/** What the bands mean: colour, pattern and words together. */
export function Legend({
  bands,
  unknown,
  palette,
}: {
  bands: readonly Band[];
  unknown: Band;
  palette: string;
}) {
  if (bands.length === 0) return null;
  return (
    <div class="legend">
      <h2 class="legend-title">{t('space.legend')}</h2>
      <ul class="legend-list">
        {[...bands, unknown].map((band) => (
          <li key={band.words}>
            <Swatch band={band} />
            <span>{band.words}</span>
          </li>
        ))}
      </ul>
      <p class="small quiet">{t('space.palette', { palette })}</p>
    </div>
  );
}
