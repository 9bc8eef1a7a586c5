import { useEffect } from 'preact/hooks';
import type { Listed } from '../api/shapes';
import { caseHref } from '../app/route';
import { Button, Faults, TableFrame } from '../app/ui';
import { t } from '../app/words';
import { asked, faults, follow, found, more, showMore } from './list';
import { stateWords } from './states';

function Line({ one }: { one: Listed }) {
  return (
    <tr>
      <th scope="row">
        <a class="case-link" href={caseHref(one.id)}>
          {one.code}
        </a>
      </th>
      <td>{[one.lab, one.note].filter((text) => text !== '').join(' · ')}</td>
      <td>{stateWords(one.state)}</td>
      <td>
        {one.age}
        {one.who ? <span class="quiet"> ({one.who})</span> : null}
      </td>
      <td>{one.revision}</td>
    </tr>
  );
}

/** The cases found, a page at a time. */
export function Found() {
  useEffect(follow, []);
  const cases = found.value;
  if (cases === null) {
    return faults.value.length > 0 ? (
      <Faults faults={faults.value} />
    ) : (
      <p class="quiet">{t('app.opening')}</p>
    );
  }
  const searched = asked.value.search.trim() !== '' || asked.value.state !== '';
  return (
    <section class="stack" aria-label={t('cases.list')}>
      <Faults faults={faults.value} />
      {cases.length === 0 ? (
        <p>{t(searched ? 'cases.none_found' : 'cases.none_yet')}</p>
      ) : (
        <TableFrame>
          <table class="table cases-table">
            <thead>
              <tr>
                <th scope="col">{t('cases.code')}</th>
                <th scope="col">{t('cases.about')}</th>
                <th scope="col">{t('cases.state')}</th>
                <th scope="col">{t('cases.changed')}</th>
                <th scope="col">{t('cases.revision')}</th>
              </tr>
            </thead>
            <tbody>
              {cases.map((one) => (
                <Line key={one.id} one={one} />
              ))}
            </tbody>
          </table>
        </TableFrame>
      )}
      <p class="row" role="status">
        {more.value === null
          ? t('cases.all_shown', { count: cases.length })
          : t('cases.some_shown', { count: cases.length })}
        {more.value === null ? null : <Button onClick={() => void showMore()}>{t('cases.more')}</Button>}
      </p>
    </section>
  );
}
