import { useRef, useState } from 'preact/hooks';
import type { Outcome } from '../api/outcome';
import type { Saved } from '../api/shapes';
import { upload, type Sending } from '../api/upload';
import { Button, Notice, Progress } from '../app/ui';
import { t } from '../app/words';

const DIVERGED = 'bundle.diverged';

/** A bundle or a case.toml from elsewhere, chosen or dropped here. */
export function BringIn({ onDone }: { onDone: (outcome: Outcome<Saved>) => void }) {
  const chooser = useRef<HTMLInputElement>(null);
  const sending = useRef<Sending<Saved> | null>(null);
  const [file, setFile] = useState<File | null>(null);
  const [sent, setSent] = useState<number>();
  const [over, setOver] = useState(false);
  const [twoWays, setTwoWays] = useState(false);

  const bring = async (chosen: File, asNew = false) => {
    sending.current?.stop();
    const path = `/api/cases/bring-in?name=${encodeURIComponent(chosen.name)}&as_new=${asNew}`;
    const mine = upload<Saved>('POST', path, chosen, setSent);
    sending.current = mine;
    setTwoWays(false);
    setFile(chosen);
    const outcome = await mine.done;
    if (sending.current !== mine) return;
    sending.current = null;
    setSent(undefined);
    if (outcome.kind === 'stopped') {
      setFile(null);
      return;
    }
    const diverged = outcome.kind === 'faults' && outcome.faults.some((fault) => fault.code === DIVERGED);
    setTwoWays(diverged);
    if (!diverged) setFile(null);
    onDone(outcome);
  };
  const take = (list: FileList | null | undefined) => {
    const chosen = list?.[0];
    if (chosen !== undefined) void bring(chosen);
  };

  const whileOver = (event: DragEvent, now: boolean) => {
    event.preventDefault();
    setOver(now);
  };

  return (
    // Dropping is a second way for those who use a mouse; the button beside it serves everybody.
    // eslint-disable-next-line jsx-a11y/no-noninteractive-element-interactions
    <div
      class={over ? 'bring-in bring-in-over' : 'bring-in'}
      role="group"
      aria-label={t('cases.bring_in')}
      onDragOver={(event) => whileOver(event, true)}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        whileOver(event, false);
        take(event.dataTransfer?.files);
      }}
    >
      <p>{t('cases.bring_in_what')}</p>
      <Button onClick={() => chooser.current?.click()}>{t('cases.bring_in')}</Button>
      <input
        ref={chooser}
        class="unseen"
        type="file"
        tabIndex={-1}
        aria-hidden="true"
        accept=".zip,.toml"
        onChange={(event) => {
          take(event.currentTarget.files);
          event.currentTarget.value = '';
        }}
      />
      {file !== null && !twoWays ? (
        <Progress
          words={t('cases.bringing_in', { file: file.name })}
          part={sent}
          onCancel={() => sending.current?.stop()}
        />
      ) : null}
      {file !== null && twoWays ? (
        <Notice kind="ask">
          <p>{t('cases.two_ways')}</p>
          <Button onClick={() => void bring(file, true)}>{t('cases.as_new')}</Button>
        </Notice>
      ) : null}
    </div>
  );
}
