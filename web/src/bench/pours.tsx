import { t } from '../app/words';

/** All pours of all cases. */
export default function Pours() {
  return <h1 tabIndex={-1}>{t('app.view.pours')}</h1>;
}
