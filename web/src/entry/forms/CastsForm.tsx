/** What was checked on the casts before they were mounted: by hand, widths, and further scans. */
import { useState } from 'preact/hooks';
import { Button, Fold } from '../../app/ui';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { under } from '../core/names';
import { takeOut, typedCase } from '../core/saving';
import { isGroup, itemsAt, textOf, type Json } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';
import { FieldsOf } from '../parts/Fields';
import { FileDoor } from '../parts/FileDoor';

const SCANS = 'casts.other_scans';

export function CastsForm({ caseId }: { caseId: number }) {
  const [open, setOpen] = useState(false);
  const scans = itemsAt(typedCase.value, SCANS);
  return (
    <>
      <Block title={t('entry.by_hand_title')} text={t('entry.by_hand_text')}>
        <FieldsOf caseId={caseId} names={['casts.seats_by_hand', 'casts.impression_opening_mm']} />
      </Block>
      <Block title={t('entry.widths_title')} text={t('entry.widths_text')} field="casts.widths">
        <ListTable
          caseId={caseId}
          list="casts.widths"
          caption={t('entry.widths_title')}
          item={t('entry.width')}
          steps={['arch', 'between', 'in_mouth_mm', 'on_cast_mm']}
        />
      </Block>
      <Block title={t('entry.closing_push_title')} text={t('entry.closing_push_text')} field="push">
        <FieldsOf
          caseId={caseId}
          names={['ahead_mm', 'above_mm', 'right_mm', 'forward_deg', 'right_deg', 'friction'].map((name) =>
            under('push', name),
          )}
        />
      </Block>
      <Block title={t('entry.other_scans_title')} text={t('entry.other_scans_text')} field={SCANS}>
        {scans.map((scan, at) => (
          <OtherScan key={at} caseId={caseId} scan={scan} at={at + 1} />
        ))}
        <Fold level={4} head={t('entry.add_other_scan')} open={open} onOpen={setOpen}>
          <FileDoor
            caseId={caseId}
            door="again"
            asked={[
              { name: 'arch', field: `${SCANS}.x.arch` },
              { name: 'shows', field: `${SCANS}.x.shows` },
            ]}
            unitField={`${SCANS}.x.unit`}
            done={t('entry.other_scan_there')}
          />
        </Fold>
      </Block>
    </>
  );
}

function OtherScan({ caseId, scan, at }: { caseId: number; scan: Json; at: number }) {
  const [open, setOpen] = useState(false);
  const known = fields();
  const here = under(SCANS, at);
  const part = (step: string) => (isGroup(scan) ? textOf(scan[step]) : '');
  const words = (step: string) =>
    (known && fieldAt(known, under(here, step))?.choices.find((one) => one.value === part(step))?.words) ??
    part(step);
  const title = t('entry.other_scan', { at, arch: words('arch'), shows: words('shows') });
  return (
    <Fold level={4} head={title} open={open} onOpen={setOpen}>
      <div class="stack" data-field={here}>
        <div class="boxes">
          {['arch', 'shows', 'lies_alike', 'unit', 'taken'].map((step) => (
            <EntryBox key={step} caseId={caseId} field={under(here, step)} />
          ))}
        </div>
        <p class="small quiet">{t('entry.kept_as', { name: part('file') })}</p>
        <ListTable
          caseId={caseId}
          list={under(here, 'points')}
          caption={t('entry.points_title')}
          captionSeen
          item={t('entry.point')}
          steps={['name', 'scan', 'other']}
        />
        <div class="row">
          <Button look="plain" onClick={() => takeOut(caseId, here, title)}>
            {t('entry.take_out_of', { name: title })}
          </Button>
        </div>
      </div>
    </Fold>
  );
}
