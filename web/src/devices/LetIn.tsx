import { useEffect, useRef, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Fault, Shapes } from '../api/shapes';
import { onEvent } from '../app/events';
import { Button, Faults, Notice, say } from '../app/ui';
import { t } from '../app/words';
import { clockText, useSecondsLeft } from './left';

type Pairing = Shapes['PairingOut'];

/** Makes a code, shows it, and takes it away once a device has used it. */
export function LetIn() {
  const [pairing, setPairing] = useState<Pairing | null>(null);
  const [faults, setFaults] = useState<Fault[]>([]);
  const [done, setDone] = useState(false);

  useEffect(
    () =>
      onEvent((event) => {
        if (event.kind !== 'devices' || pairing === null) return;
        setPairing(null);
        setDone(true);
        say(t('devices.came_in'));
      }),
    [pairing],
  );

  const make = async () => {
    setDone(false);
    const got = await ask(api.POST('/api/pairing'));
    setFaults(got.kind === 'faults' ? got.faults : []);
    if (got.kind === 'away') say(t('app.link.nothing_changed'));
    if (got.kind === 'ok') setPairing(got.value);
  };
  const close = () => {
    setPairing(null);
    void ask(api.DELETE('/api/pairing'));
  };

  return (
    <>
      <p>{t('devices.how')}</p>
      <Faults faults={faults} />
      {done ? (
        <Notice kind="note">
          <p>{t('devices.came_in')}</p>
        </Notice>
      ) : null}
      {pairing === null ? (
        <div class="row">
          <Button look="main" onClick={() => void make()}>
            {t('devices.make')}
          </Button>
        </div>
      ) : (
        <Code key={pairing.code} pairing={pairing} onNew={() => void make()} onClose={close} />
      )}
    </>
  );
}

type Props = { pairing: Pairing; onNew: () => void; onClose: () => void };

function Code({ pairing, onNew, onClose }: Props) {
  const left = useSecondsLeft(pairing.until);
  const over = left === 0;
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => box.current?.focus(), []);
  useEffect(() => {
    if (over) say(t('devices.code_over'));
  }, [over]);
  if (over) {
    return (
      <>
        <Notice kind="ask">
          <p>{t('devices.code_over')}</p>
        </Notice>
        <div class="row">
          <Button look="main" onClick={onNew}>
            {t('devices.make')}
          </Button>
        </div>
      </>
    );
  }
  return (
    <div class="pairing" ref={box} tabIndex={-1} role="group" aria-label={t('devices.code')}>
      <img
        class="pairing-picture"
        src={`data:image/svg+xml,${encodeURIComponent(pairing.qr_svg)}`}
        alt={t('devices.picture')}
      />
      <ol class="pairing-steps">
        <li>
          {t('devices.step_open')}
          <span class="pairing-address">{pairing.address}</span>
        </li>
        <li>
          {t('devices.step_type')}
          {/* Read out sign by sign. */}
          <span class="pairing-code" role="img" aria-label={Array.from(pairing.code).join(' ')}>
            {pairing.code}
          </span>
        </li>
      </ol>
      <div class="pairing-foot row">
        <span role="timer">{t('devices.left', { time: clockText(left) })}</span>
        <Button onClick={onClose}>{t('devices.close_code')}</Button>
      </div>
      {pairing.encrypted ? null : (
        <Notice kind="ask">
          <p>{t('devices.plain')}</p>
        </Notice>
      )}
    </div>
  );
}
