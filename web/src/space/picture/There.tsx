import { Faults } from '../../app/ui';
import { t } from '../../app/words';
import { there } from './taps';

/** What stands at the place that was tapped. */
export function There() {
  const found = there.value;
  return (
    <section class="there" aria-label={t('space.there')}>
      <h2 class="legend-title">{t('space.there')}</h2>
      {found === null ? <p class="quiet">{t('space.there_none')}</p> : null}
      {found !== null && found.at === null && found.faults.length === 0 ? (
        <p class="quiet">{t('app.opening')}</p>
      ) : null}
      {found?.at ? (
        <dl class="facts">
          <Fact name={t('space.tooth')} value={found.at.tooth} />
          <Fact name={t('space.opposite')} value={found.at.opposite} />
          <Fact name={t('space.along')} value={found.at.along} />
          <Fact name={t('space.normal')} value={found.at.normal} />
          <Fact name={t('space.place')} value={found.at.point_shown} />
          {found.at.along === '' ? <dd class="facts-words">{found.at.words}</dd> : null}
        </dl>
      ) : null}
      <Faults faults={found?.faults ?? []} />
    </section>
  );
}

function Fact({ name, value }: { name: string; value: string }) {
  if (value === '') return null;
  return (
    <div>
      <dt>{name}</dt>
      <dd>{value}</dd>
    </div>
  );
}
