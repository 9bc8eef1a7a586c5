import { useEffect, useRef, useState } from 'preact/hooks';
import { Button, Faults, Notice } from '../../app/ui';
import { t } from '../../app/words';
import { ListTable } from '../../entry/grid/ListTable';
import { EntryBox } from '../../entry/parts/EntryBox';
import { FieldsOf } from '../../entry/parts/Fields';
import { useHeard } from '../../entry/core/listen';
import { under } from '../../entry/core/names';
import { send, typedCase } from '../../entry/core/saving';
import { depth, redo, refusal, undo } from '../../entry/core/undoing';
import { isGroup, valueAt } from '../../entry/core/values';
import type { ArchName } from '../gl/stage';
import { Picker } from './Picker';
import { Residuals } from './Residuals';
import { placeOf, target } from './target';

const WAYS = ['landmarks', 'hinge_distances', 'frame_from_scan', 'average', 'with_other_arch'] as const;
type Way = (typeof WAYS)[number];

const isThere = (value: unknown): boolean =>
  value === true ||
  (Array.isArray(value) && value.length > 0) ||
  (isGroup(value) && Object.keys(value).length > 0);

/** The ways in which a scan is placed now: one, or none yet. */
export const waysOf = (placement: string): Way[] =>
  WAYS.filter((way) => isThere(valueAt(typedCase.value, under(placement, way))));

/** How a scan stands in the frame of the upper jaw: one of five ways, each with what it rests on beside it. */
export function Placing({
  caseId,
  arch,
  place,
  file,
}: {
  caseId: number;
  arch: ArchName;
  place: number;
  file: string;
}) {
  const placement = under('scans', place, 'placement');
  const there = waysOf(placement);
  const [wanted, setWanted] = useState<Way | null>(null);
  const way = wanted ?? there[0] ?? 'landmarks';
  const others = there.filter((one) => one !== way);
  const form = useRef<HTMLDivElement>(null);
  useHeard(form, 'focusin', (event) => {
    const field = event.target instanceof HTMLElement ? event.target.dataset['entry'] : undefined;
    const found = field === undefined ? null : placeOf(field, placement);
    if (found !== null) target.value = found;
  });
  useEffect(() => {
    target.value = null;
    return () => {
      target.value = null;
    };
  }, [placement, way]);
  const other = arch === 'upper' ? 'lower' : 'upper';
  const ways = WAYS.filter((one) => one !== 'with_other_arch' || hasScan(other));
  const takeOut = () =>
    send(
      caseId,
      others.map((one) => ({ field: under(placement, one), value: null })),
      t('space.way_out'),
    );
  return (
    <div ref={form} class="placing stack" data-field={placement}>
      <fieldset class="views-group">
        <legend class="field-label">{t('space.way')}</legend>
        <div class="ways">
          {ways.map((one) => (
            <label key={one} class="tick">
              <input
                type="radio"
                name={`way-${arch}`}
                checked={way === one}
                onChange={() => setWanted(one)}
              />
              <span>{t(`space.way.${one}`)}</span>
            </label>
          ))}
        </div>
      </fieldset>
      <p class="small quiet">{t(`space.way_what.${way}`)}</p>
      {others.length === 0 ? null : (
        <Notice kind="ask">
          <p>{t('space.other_way', { way: others.map((one) => t(`space.way.${one}`)).join(', ') })}</p>
          <Button onClick={takeOut}>{t('space.way_out')}</Button>
        </Notice>
      )}
      <div class={way === 'with_other_arch' || way === 'frame_from_scan' ? 'stack' : 'placing-both'}>
        <div class="stack">
          <Form caseId={caseId} way={way} placement={placement} />
          <Residuals caseId={caseId} arch={arch} />
          <Undoing caseId={caseId} />
        </div>
        {way === 'with_other_arch' || way === 'frame_from_scan' ? null : (
          <Picker
            caseId={caseId}
            arch={arch}
            placement={placement}
            list={way === 'average' ? null : way}
            file={file}
          />
        )}
      </div>
    </div>
  );
}

const hasScan = (arch: ArchName): boolean => {
  const scans = valueAt(typedCase.value, 'scans');
  return Array.isArray(scans) && scans.some((scan) => isGroup(scan) && scan['arch'] === arch);
};

function Form({ caseId, way, placement }: { caseId: number; way: Way; placement: string }) {
  if (way === 'landmarks') {
    return (
      <ListTable
        caseId={caseId}
        list={under(placement, 'landmarks')}
        caption={t('space.way.landmarks')}
        item={t('space.landmark')}
        steps={['name', 'scan', 'ahead_mm', 'above_mm', 'right_mm', 'u_mm']}
      />
    );
  }
  if (way === 'hinge_distances') {
    return (
      <>
        <ListTable
          caseId={caseId}
          list={under(placement, 'hinge_distances')}
          caption={t('space.way.hinge_distances')}
          item={t('space.landmark')}
          steps={['name', 'scan', 'from_right_hinge_mm', 'from_left_hinge_mm', 'from_third_point_mm']}
        />
        <FieldsOf
          caseId={caseId}
          names={[
            under(placement, 'distance_sd_mm'),
            ...['ahead_mm', 'above_mm', 'right_mm'].map((step) => under(placement, 'third_point', step)),
          ]}
        />
      </>
    );
  }
  if (way === 'average') {
    const names = ['incisors', 'right_molar', 'left_molar'].map((step) => under(placement, 'average', step));
    return <FieldsOf caseId={caseId} names={names} />;
  }
  return <EntryBox caseId={caseId} field={under(placement, way)} />;
}

function Undoing({ caseId }: { caseId: number }) {
  const { undo: back, redo: again } = depth.value;
  return (
    <>
      <div class="row">
        <Button not={back === 0 ? t('entry.nothing_to_undo') : undefined} onClick={() => void undo(caseId)}>
          {t('entry.undo')}
        </Button>
        {again === 0 ? null : <Button onClick={() => void redo(caseId)}>{t('entry.redo')}</Button>}
      </div>
      <Faults faults={refusal.value} />
    </>
  );
}
