import { useEffect, useId, useRef, useState } from 'preact/hooks';
import { reload, theCase } from '../../app/current';
import { onEvent } from '../../app/events';
import { caseHref } from '../../app/route';
import { Button, Faults } from '../../app/ui';
import { t } from '../../app/words';
import '../../entry/entry.css';
import { focusNear } from '../../entry/core/focus';
import { fields, learn, notKnown } from '../../entry/core/knowledge';
import { under } from '../../entry/core/names';
import { takeOut } from '../../entry/core/saving';
import { watchTyping } from '../../entry/core/trying';
import { EntryBox } from '../../entry/parts/EntryBox';
import type { ArchName } from '../gl/stage';
import { bringTeeth } from './bringing';
import { Drop } from './Drop';
import { Findings } from './Findings';
import { Placing } from './Placing';

const ARCHES = ['upper', 'lower'] as const;

/** Scans come in, are checked and placed. `field`: the entry that somebody wants to see. */
export function ScansIn({ caseId, field }: { caseId: number; field: string }) {
  const page = useRef<HTMLDivElement>(null);
  useEffect(() => learn(), []);
  useEffect(() => watchTyping(), []);
  useEffect(() => {
    const quiet = onEvent((event) => {
      if (event.case_id === caseId && event.kind === 'scans') void reload();
    });
    // A check may have ended just before anybody listened.
    if (theCase.value?.scans.some((scan) => !scan.checked)) void reload();
    return quiet;
  }, [caseId]);
  const known = fields() !== null;
  useEffect(() => {
    if (known && field !== '' && page.current !== null) focusNear(page.current, field);
  }, [known, field]);
  if (!known) {
    return notKnown.value.length > 0 ? (
      <Faults faults={notKnown.value} />
    ) : (
      <p class="quiet">{t('app.opening')}</p>
    );
  }
  return (
    <div ref={page} class="scans stack" data-field="scans">
      <p class="quiet">{t('space.scans_what')}</p>
      {ARCHES.map((arch) => (
        <Cast key={arch} caseId={caseId} arch={arch} />
      ))}
      <p>
        <a href={caseHref(caseId, 'space')}>{t('space.to_picture')}</a>
      </p>
    </div>
  );
}

function Cast({ caseId, arch }: { caseId: number; arch: ArchName }) {
  const id = useId();
  const [again, setAgain] = useState(false);
  const scan = theCase.value?.scans.find((one) => one.arch === arch);
  const entry = scan === undefined ? '' : under('scans', scan.place);
  return (
    <section class="cast stack" aria-labelledby={id}>
      <h2 id={id}>{t(`space.cast.${arch}`)}</h2>
      {scan === undefined ? (
        <Drop caseId={caseId} arch={arch} replaces={false} />
      ) : (
        <>
          <dl class="facts">
            <div>
              <dt>{t('space.file')}</dt>
              <dd>{scan.file}</dd>
            </div>
            {scan.triangles === null ? null : (
              <div>
                <dt>{t('space.triangles')}</dt>
                <dd>{scan.triangles}</dd>
              </div>
            )}
          </dl>
          <Findings scan={scan} />
          <div class="boxes">
            <EntryBox caseId={caseId} field={under(entry, 'unit')} />
            <EntryBox caseId={caseId} field={under(entry, 'sides_compared')} />
            <EntryBox caseId={caseId} field={under(entry, 'taken')} />
            <Teeth caseId={caseId} arch={arch} entry={entry} />
          </div>
          <div class="row">
            <Button aria-expanded={again} onClick={() => setAgain(!again)}>
              {t('space.another')}
            </Button>
            <Button onClick={() => takeOut(caseId, entry, t('space.take_out'))}>{t('space.take_out')}</Button>
          </div>
          {again ? <Drop caseId={caseId} arch={arch} replaces /> : null}
          <h3>{t('space.placing')}</h3>
          <Placing key={entry} caseId={caseId} arch={arch} place={scan.place} file={scan.file} />
        </>
      )}
    </section>
  );
}

/** A list of tooth numbers, where somebody has one: the program's own numbers follow from the shape. */
function Teeth({ caseId, arch, entry }: { caseId: number; arch: ArchName; entry: string }) {
  const id = useId();
  const entered = theCase.value?.entered['scans'];
  const scans = Array.isArray(entered) ? (entered as { arch?: string; teeth_file?: string }[]) : [];
  const file = scans.find((one) => one.arch === arch)?.teeth_file;
  return (
    <div class="field" data-field={under(entry, 'teeth_file')}>
      <span class="field-label">{t('space.teeth_file')}</span>
      <div class="row">
        <span>{file ?? t('space.teeth_none')}</span>
        <label class="button" htmlFor={id}>
          {t('space.choose_csv')}
        </label>
        <input
          id={id}
          class="unseen file"
          type="file"
          accept=".csv,.txt"
          onChange={(event) => {
            const chosen = event.currentTarget.files?.[0];
            if (chosen !== undefined) void bringTeeth(caseId, arch, chosen);
            event.currentTarget.value = '';
          }}
        />
        {file === undefined ? null : (
          <Button onClick={() => takeOut(caseId, under(entry, 'teeth_file'), t('space.teeth_out'))}>
            {t('space.teeth_out')}
          </Button>
        )}
      </div>
      <div class="small quiet">{t('space.teeth_what')}</div>
    </div>
  );
}
