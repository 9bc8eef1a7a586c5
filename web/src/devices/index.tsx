import { useEffect } from 'preact/hooks';
import { about } from '../app/shell/Foot';
import { t } from '../app/words';
import { Desk } from './Desk';
import './devices.css';
import { watchDevices } from './known';
import { Own } from './Own';
import { Unpaired } from './Unpaired';

/** Paired tablets. `unpaired`: this browser itself has yet to be let in. */
export default function Devices({ unpaired = false }: { unpaired?: boolean }) {
  return unpaired ? <Unpaired /> : <Paired />;
}

function Paired() {
  useEffect(watchDevices, []);
  const here = about.value?.here;
  return (
    <div class="devices stack">
      <h1 tabIndex={-1}>{t('app.view.devices')}</h1>
      {here === undefined ? (
        <p class="quiet">{t('app.opening')}</p>
      ) : here ? (
        <Desk lan={about.value?.lan === true} />
      ) : (
        <Own />
      )}
    </div>
  );
}
