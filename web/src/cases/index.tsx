import { t } from '../app/words';

export function Cases() {
  return <h1 tabIndex={-1}>{t('app.view.cases')}</h1>;
}
