import { useEffect, useMemo } from 'preact/hooks';
import { api, ask } from '../../api/client';
import { works } from '../../app/events';
import { caseHref, entryHref } from '../../app/route';
import { reloadSheet } from '../../app/current';
import { Button, Faults, Notice, Progress, WorkProgress } from '../../app/ui';
import { t } from '../../app/words';
import { canDraw } from '../gl/stage';
import { Canvas, NoSpace } from './Canvas';
import { Legend } from './Legend';
import { Lines } from './Lines';
import { Choice, Marked, Motion } from './Motion';
import { position, shown, useMotions } from './motion';
import { Printed } from './Printed';
import { again, arches, away, faults, part, scene, useScene, type SceneOut } from './scene';
import { Sites } from './Sites';
import { Slider } from './Slider';
import { keepTelling } from './taps';
import { There } from './There';
import { From, Shown } from './Views';

/** Both casts in the frame of the instrument, and all that there is to say about where they meet. */
export function Picture({ caseId }: { caseId: number }) {
  useScene(caseId);
  useMotions(caseId);
  useEffect(() => keepTelling(caseId), [caseId]);
  const found = scene.value;
  return (
    <div class="space-picture stack">
      <Faults faults={faults.value} />
      {away.value ? (
        <Notice kind="ask">
          <p>{t('space.away')}</p>
          <Button onClick={() => again(caseId)}>{t('app.again')}</Button>
        </Notice>
      ) : null}
      {found === null ? <p class="quiet">{t('app.opening')}</p> : <Whole caseId={caseId} of={found} />}
    </div>
  );
}

function Whole({ caseId, of }: { caseId: number; of: SceneOut }) {
  const able = useMemo(canDraw, []);
  const surfaces = arches.value;
  const moves = shown.value !== null;
  const banded = position.value === null || position.value.closed_rad !== null;
  const begun = of.arches.length > 0 || of.lines.length > 0;
  return (
    <>
      <p class="space-headline">{of.headline}</p>
      <Waiting caseId={caseId} of={of} />
      <Missing caseId={caseId} of={of} />
      {part.value === null ? null : <Progress words={t('space.fetching')} part={part.value} />}
      {able && of.arches.length > 0 ? <From casts={of.arches.length} /> : null}
      {!able ? <NoSpace /> : null}
      {able && surfaces !== null && (of.arches.length > 0 || of.lines.length > 0) ? (
        <Canvas caseId={caseId} of={of} arches={surfaces} />
      ) : null}
      {begun ? <Choice gaps={of.steps.length > 0} /> : null}
      {moves ? <Motion caseId={caseId} /> : <Slider of={of} />}
      <div class="space-beside">
        <div class="stack">
          {able && of.arches.length > 0 ? <Shown banded={banded} /> : null}
          {able ? (
            <p id="space-keys" class="small quiet">
              {t('space.keys')} {moves ? t('space.keys_marks') : t('space.keys_enter')}
            </p>
          ) : null}
        </div>
        {banded ? <Legend bands={of.bands} unknown={of.unknown} palette={of.palette} /> : null}
        {of.steps.length > 0 && !moves ? <There /> : null}
        {position.value === null ? null : <Marked step={position.value} />}
      </div>
      {moves ? null : <Sites />}
      {moves ? null : <Printed caseId={caseId} of={of} />}
      <Lines of={of} />
      <Remarks notes={of.notes} />
    </>
  );
}

/** While the answer to the contacts is being made, or after somebody stopped it. */
function Waiting({ caseId, of }: { caseId: number; of: SceneOut }) {
  if (of.arches.length > 0 || of.lines.length > 0) return null;
  const work = of.work === null ? undefined : works.value.get(of.work);
  if (work !== undefined && work.state === 'going on') return <WorkProgress work={work} />;
  const begin = () =>
    void ask(api.POST('/api/cases/{id}/sheet', { params: { path: { id: caseId } } })).then(() => {
      void reloadSheet();
      again(caseId);
    });
  if (of.work !== null) return <Progress words={of.headline} />;
  return (
    <Notice kind="ask">
      <p>{t('space.stopped')}</p>
      <Button onClick={begin}>{t('space.begin_again')}</Button>
    </Notice>
  );
}

/** What is wanted before the picture is whole, and where to enter it. */
function Missing({ caseId, of }: { caseId: number; of: SceneOut }) {
  if (of.steps.length > 0 || (of.arches.length === 0 && of.lines.length === 0)) return null;
  return (
    <Notice kind="ask">
      <p>{t('space.not_whole')}</p>
      <ul>
        {of.needs.map((need) => (
          <li key={need.reading}>
            {need.field === '' ? need.reading : <a href={entryHref(caseId, need.field)}>{need.reading}</a>}:{' '}
            {need.why}
          </li>
        ))}
        {of.notes.map((note) => (
          <li key={note}>{note}</li>
        ))}
      </ul>
      <p>
        <a href={caseHref(caseId, 'space', 'scans')}>{t('space.to_scans')}</a>
      </p>
    </Notice>
  );
}

function Remarks({ notes }: { notes: readonly string[] }) {
  if (notes.length === 0) return null;
  return (
    <section class="lines" aria-label={t('space.remarks')}>
      <h2>{t('space.remarks')}</h2>
      <ul>
        {notes.map((note) => (
          <li key={note}>{note}</li>
        ))}
      </ul>
    </section>
  );
}
