import { t } from '../app/words';

/** Paired tablets. */
export default function Devices() {
  return <h1 tabIndex={-1}>{t('app.view.devices')}</h1>;
}
