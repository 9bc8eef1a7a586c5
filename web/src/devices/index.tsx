import { t } from '../app/words';

/** Paired tablets. `unpaired`: this browser itself has yet to be let in. */
export default function Devices({ unpaired = false }: { unpaired?: boolean }) {
  return <h1 tabIndex={-1}>{unpaired ? t('app.link.locked') : t('app.view.devices')}</h1>;
}
