import { useState } from 'preact/hooks';
import { Button, Dialog, Faults, Moment, Notice } from '../app/ui';
import { t } from '../app/words';
import { devices, faults, revoke } from './known';

/** What a paired device sees of the list: itself. */
export function Own() {
  const [leaving, setLeaving] = useState(false);
  const own = devices.value?.find((device) => device.here);
  const out = async () => {
    if (own !== undefined && (await revoke(own.id))) location.reload();
    setLeaving(false);
  };
  return (
    <section class="stack">
      <Faults faults={faults.value} />
      {own === undefined ? (
        <p class="quiet">{t('app.opening')}</p>
      ) : (
        <>
          <p>
            {t('devices.this_one', { name: own.name })} <Moment at={own.paired} />
          </p>
          {location.protocol === 'https:' ? null : (
            <Notice kind="ask">
              <p>{t('devices.plain')}</p>
            </Notice>
          )}
          <div class="row">
            <Button onClick={() => setLeaving(true)}>{t('devices.leave')}</Button>
          </div>
          <p class="quiet">{t('devices.at_desk')}</p>
        </>
      )}
      {leaving ? (
        <Dialog
          title={t('devices.leave')}
          onClose={() => setLeaving(false)}
          foot={
            <>
              <Button onClick={() => setLeaving(false)}>{t('app.cancel')}</Button>
              <Button look="main" onClick={() => void out()}>
                {t('devices.leave')}
              </Button>
            </>
          }
        >
          <p>{t('devices.leave_what')}</p>
        </Dialog>
      ) : null}
    </section>
  );
}
