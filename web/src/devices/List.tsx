import { useState } from 'preact/hooks';
import { Button, Dialog, Moment, say } from '../app/ui';
import { t } from '../app/words';
import { devices, revoke, type Device } from './known';

/** Every device that may come in, and the way out for it. */
export function List() {
  const [leaving, setLeaving] = useState<Device | null>(null);
  const found = devices.value;
  if (found === null) return <p class="quiet">{t('app.opening')}</p>;
  if (found.length === 0) return <p class="quiet">{t('devices.none')}</p>;
  return (
    <>
      <div class="table-frame">
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{t('devices.name')}</th>
              <th scope="col">{t('devices.since')}</th>
              <th scope="col">{t('devices.seen')}</th>
              <th scope="col">
                <span class="unseen">{t('devices.revoke')}</span>
              </th>
            </tr>
          </thead>
          <tbody>
            {found.map((device) => (
              <tr key={device.id}>
                <th scope="row">{device.name}</th>
                <td>
                  <Moment at={device.paired} />
                </td>
                <td>{device.last_seen === null ? t('devices.never') : <Moment at={device.last_seen} />}</td>
                <td>
                  <Button
                    onClick={() => setLeaving(device)}
                    aria-label={t('devices.revoke_one', { name: device.name })}
                  >
                    {t('devices.revoke')}
                  </Button>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {leaving === null ? null : <Leave device={leaving} onClose={() => setLeaving(null)} />}
    </>
  );
}

function Leave({ device, onClose }: { device: Device; onClose: () => void }) {
  const out = async () => {
    const done = await revoke(device.id);
    say(done ? t('devices.revoked', { name: device.name }) : t('app.link.nothing_changed'));
    onClose();
  };
  return (
    <Dialog
      title={t('devices.revoke_one', { name: device.name })}
      onClose={onClose}
      foot={
        <>
          <Button onClick={onClose}>{t('app.cancel')}</Button>
          <Button look="main" onClick={() => void out()}>
            {t('devices.revoke')}
          </Button>
        </>
      }
    >
      <p>{t('devices.revoke_what')}</p>
    </Dialog>
  );
}
