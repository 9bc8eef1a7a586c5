import { useState } from 'preact/hooks';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { Legend } from './Legend';
import { stop, type SceneOut } from './scene';

const ARCHES = ['upper', 'lower'] as const;

/** Both occlusal views side by side as the server draws them: to look at without a graphics card, and to print. */
export function Printed({ caseId, of }: { caseId: number; of: SceneOut }) {
  const told = stop.value;
  if (!of.pictures || told === null) return null;
  const made = new URL(of.arches[0]?.url ?? '', location.origin).searchParams.get('of') ?? '';
  return (
    <section class="printed" aria-label={t('space.printed')}>
      <div class="row printed-head">
        <h2>{t('space.printed')}</h2>
        <Button onClick={() => print()}>{t('space.print')}</Button>
      </div>
      <p>
        {told.shown}
        {told.pin ? `; ${told.pin}` : null}
      </p>
      <div class="printed-both">
        {ARCHES.map((arch) => (
          <View
            key={arch}
            caseId={caseId}
            arch={arch}
            of={of}
            step={told.step}
            made={made}
            shown={told.shown}
          />
        ))}
      </div>
      <div class="printed-legend">
        <Legend bands={of.bands} unknown={of.unknown} palette={of.palette} />
      </div>
    </section>
  );
}

type View = {
  caseId: number;
  arch: 'upper' | 'lower';
  of: SceneOut;
  step: number;
  made: string;
  shown: string;
};

function View({ caseId, arch, of, step, made, shown }: View) {
  const [missing, setMissing] = useState(false);
  const src = `/api/cases/${caseId}/scene/${arch}.svg?revision=${of.revision}&step=${step}&of=${made}`;
  return (
    <figure class="printed-view">
      <figcaption>{t(`space.printed.${arch}`)}</figcaption>
      {missing ? <p class="quiet">{t('space.picture_missing')}</p> : null}
      <img
        src={src}
        alt={t(`space.printed_alt.${arch}`, { shown })}
        hidden={missing}
        onLoad={() => setMissing(false)}
        onError={() => setMissing(true)}
      />
    </figure>
  );
}
