import { useId } from 'preact/hooks';
import type { Shapes } from '../../api/shapes';
import { DataTable } from '../../app/ui';
import { t } from '../../app/words';

type Of = Shapes['DrawingOut'];

/** One picture: every place and word in it comes from the server; colours of its looks are in the style sheet. */
export function Drawing({ drawing }: { drawing: Of }) {
  const id = useId();
  const paper = drawing.pixels.length > 0;
  return (
    <figure class={paper ? 'picture picture-paper' : 'picture'}>
      <figcaption id={`${id}-title`}>{drawing.title}</figcaption>
      <svg role="img" aria-labelledby={`${id}-title`} aria-describedby={`${id}-alt`} viewBox={drawing.view}>
        {drawing.pixels.map((one, at) => (
          <image
            key={at}
            href={one.url}
            x={one.x}
            y={one.y}
            width={one.width}
            height={one.height}
            preserveAspectRatio="none"
          />
        ))}
        {drawing.marks.map((one, at) =>
          one.d === '' ? (
            <text
              key={at}
              class={`look-${one.look}`}
              x={one.x}
              y={one.y}
              font-size={one.size}
              text-anchor={one.anchor}
            >
              {one.text}
            </text>
          ) : (
            <path key={at} class={`look-${one.look}`} d={one.d} />
          ),
        )}
      </svg>
      <p id={`${id}-alt`} class="unseen">
        {drawing.alt}
      </p>
      {drawing.table.rows.length > 0 ? (
        <details class="picture-table">
          <summary>{t('sheet.picture_table')}</summary>
          <DataTable table={drawing.table} />
        </details>
      ) : drawing.table.note ? (
        <p class="small quiet">{drawing.table.note}</p>
      ) : null}
    </figure>
  );
}
