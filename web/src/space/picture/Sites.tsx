import { t } from '../../app/words';
import { Button } from '../../app/ui';
import { chosen, rests, stop, type Site } from './scene';

const choose = (key: string) => {
  chosen.value = chosen.value === key ? null : key;
};

/** Everything that the picture shows at this place of the slider, as a table. */
export function Sites() {
  const told = stop.value;
  if (told === null) return null;
  const old = !rests.value;
  return (
    <section class="sites" aria-label={t('space.sites')} aria-busy={old}>
      <div class="table-frame">
        <table class={old ? 'table table-old' : 'table'}>
          <caption>
            {t('space.sites')}: {told.shown}
            {told.pin ? `; ${told.pin}` : null}
          </caption>
          <thead>
            <tr>
              {(['number', 'teeth', 'along', 'normal', 'holds', 'facing', 'place'] as const).map((name) => (
                <th key={name} scope="col">
                  {t(`space.column.${name}`)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {told.sites.map((site, rank) => (
              <Row key={site.key} site={site} number={rank + 1} />
            ))}
          </tbody>
        </table>
      </div>
      {told.sites.length === 0 ? <p>{t('space.no_sites')}</p> : null}
      {told.notes.map((note) => (
        <p key={note} class="small">
          {note}
        </p>
      ))}
    </section>
  );
}

function Row({ site, number }: { site: Site; number: number }) {
  const here = chosen.value === site.key;
  const teeth = `${site.upper_tooth} / ${site.lower_tooth}`;
  return (
    <tr class={here ? 'chosen' : undefined}>
      <td>{number}</td>
      <th scope="row">
        <Button
          look="plain"
          aria-pressed={here}
          aria-label={t('space.show_site', { teeth, number, words: site.words })}
          onClick={() => choose(site.key)}
        >
          {teeth}
        </Button>
      </th>
      <td>{site.along}</td>
      <td>{site.normal}</td>
      <td>{site.holds || t('space.holds_none')}</td>
      <td>{site.facing}</td>
      <td>{site.point_shown}</td>
    </tr>
  );
}
