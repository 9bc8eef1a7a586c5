import { useId, useRef, useState } from 'preact/hooks';
import { useHeard } from '../../entry/core/listen';
import { fields } from '../../entry/core/knowledge';
import { fieldAt } from '../../entry/core/fields';
import { Button, Faults, Notice, Progress } from '../../app/ui';
import { t } from '../../app/words';
import type { ArchName } from '../gl/stage';
import { bringIn, bringing, cancel, hold, letGo, sayUnit } from './bringing';

const KINDS = '.stl,.ply,.obj,.3mf,.glb';

/** A place to drop a scan on, or to choose its file; the unit of its numbers is asked before anything leaves. */
export function Drop({ caseId, arch, replaces }: { caseId: number; arch: ArchName; replaces: boolean }) {
  const [over, setOver] = useState(false);
  const id = useId();
  const now = bringing[arch].value;
  const area = useRef<HTMLDivElement>(null);
  useHeard(area, 'dragover', (event) => {
    event.preventDefault();
    setOver(true);
  });
  useHeard(area, 'dragleave', () => setOver(false));
  useHeard(area, 'drop', (event) => {
    event.preventDefault();
    setOver(false);
    const file = event.dataTransfer?.files[0];
    if (file !== undefined && now.part === null) hold(arch, file);
  });
  return (
    <div ref={area} class={over ? 'drop drop-over' : 'drop'}>
      {now.file === null ? (
        <>
          <p>{t(replaces ? `space.drop_again.${arch}` : `space.drop.${arch}`)}</p>
          <label class="button" htmlFor={id}>
            {t('space.choose_file')}
          </label>
          <input
            id={id}
            class="unseen file"
            type="file"
            accept={KINDS}
            onChange={(event) => {
              const file = event.currentTarget.files?.[0];
              if (file !== undefined) hold(arch, file);
              event.currentTarget.value = '';
            }}
          />
          <p class="small quiet">{t('space.kinds')}</p>
        </>
      ) : (
        <InHand caseId={caseId} arch={arch} replaces={replaces} />
      )}
      <Faults faults={now.faults} />
      {now.ended === null ? null : <Notice kind="ask">{t(`space.ended.${now.ended}`)}</Notice>}
    </div>
  );
}

function InHand({ caseId, arch, replaces }: { caseId: number; arch: ArchName; replaces: boolean }) {
  const now = bringing[arch].value;
  const name = now.file?.name ?? '';
  if (now.part !== null) {
    return <Progress words={t('space.sending', { name })} part={now.part} onCancel={() => cancel(arch)} />;
  }
  return (
    <div class="stack">
      <p>
        <strong>{name}</strong>
      </p>
      <Units arch={arch} />
      {replaces ? <p class="small">{t('space.replaces')}</p> : null}
      <div class="row">
        <Button
          look="main"
          not={now.unit === '' ? t('space.unit_first') : undefined}
          onClick={() => void bringIn(caseId, arch)}
        >
          {t('space.bring_in')}
        </Button>
        <Button onClick={() => letGo(arch)}>{t('space.let_go')}</Button>
      </div>
    </div>
  );
}

/** In which unit the numbers of the file are: a scan in inches looks like one in millimetres, and is none. */
function Units({ arch }: { arch: ArchName }) {
  const known = fields();
  const info = known === null ? undefined : fieldAt(known, 'scans.1.unit');
  const now = bringing[arch].value;
  return (
    <fieldset class="units">
      <legend class="field-label">{t('space.unit')}</legend>
      <div class="side-by-side">
        {(info?.choices ?? []).map((choice) => (
          <label key={choice.value} class="side-choice">
            <input
              type="radio"
              name={`unit-${arch}`}
              value={choice.value}
              checked={now.unit === choice.value}
              onChange={() => sayUnit(arch, choice.value)}
            />
            <span>{choice.words}</span>
          </label>
        ))}
      </div>
      <p class="small quiet">{info?.what}</p>
    </fieldset>
  );
}
