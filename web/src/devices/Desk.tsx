import { t } from '../app/words';
import { Faults, Notice } from '../app/ui';
import { LetIn } from './LetIn';
import { faults } from './known';
import { List } from './List';

/** What the computer that keeps the cases can do: let devices in, and take them out. */
export function Desk({ lan }: { lan: boolean }) {
  return (
    <>
      <section class="stack" aria-labelledby="devices-let-in">
        <h2 id="devices-let-in">{t('devices.let_in')}</h2>
        {lan ? (
          <LetIn />
        ) : (
          <Notice kind="note">
            <p>{t('devices.alone')}</p>
            <p>
              <code>{'mountproof open --lan'}</code>
            </p>
          </Notice>
        )}
      </section>
      <section class="stack" aria-labelledby="devices-paired">
        <h2 id="devices-paired">{t('devices.paired')}</h2>
        <Faults faults={faults.value} />
        <List />
      </section>
    </>
  );
}
