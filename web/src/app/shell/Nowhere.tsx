import { viewHref } from '../route';
import { t } from '../words';

export function Nowhere({ address }: { address: string }) {
  return (
    <div class="stack">
      <h1 tabIndex={-1}>{t('app.nowhere.title')}</h1>
      <p>{t('app.nowhere.text', { address })}</p>
      <p>
        <a href={viewHref('cases')}>{t('app.view.cases')}</a>
      </p>
    </div>
  );
}
