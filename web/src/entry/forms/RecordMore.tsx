/** More of one record: where it bears, teeth that went through it, and its scan. */
import { useState } from 'preact/hooks';
import { Fold } from '../../app/ui';
import { t } from '../../app/words';
import { under } from '../core/names';
import { takeOut, typedCase } from '../core/saving';
import { Button } from '../../app/ui';
import { isGroup, itemsAt, textOf, valueAt } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { EntryBox } from '../parts/EntryBox';
import { FileDoor } from '../parts/FileDoor';

export function RecordMore({ caseId, name }: { caseId: number; name: string }) {
  const [open, setOpen] = useState(false);
  const here = (step: string) => under('records', name, step);
  const stops = itemsAt(typedCase.value, here('stops')).length;
  const scanned = isGroup(valueAt(typedCase.value, here('scan')));
  const holes = textOf(valueAt(typedCase.value, here('perforated_at')));
  const told = [
    ...(stops > 0 ? [t('entry.stops_count', { count: stops })] : []),
    ...(holes === '' ? [] : [t('entry.perforated_count', { teeth: holes })]),
    ...(scanned ? [t('entry.record_scanned')] : []),
  ];
  const head = t('entry.record_more', {
    name,
    told: told.length === 0 ? t('entry.record_nothing') : told.join(', '),
  });
  return (
    <Fold level={4} head={head} open={open} onOpen={setOpen}>
      <div class="stack">
        <ListTable
          caseId={caseId}
          list={here('stops')}
          caption={t('entry.stops_title')}
          captionSeen
          item={t('entry.stop')}
          steps={['ahead_mm', 'right_mm', 'tooth']}
        />
        <EntryBox caseId={caseId} field={here('perforated_at')} />
        {scanned ? <RecordScan caseId={caseId} name={name} /> : null}
        <h5>{t(scanned ? 'entry.record_scan_other' : 'entry.record_scan_add')}</h5>
        <FileDoor
          caseId={caseId}
          door="record"
          more={{ record: name }}
          asked={[{ name: 'shows', field: here('scan.shows') }]}
          unitField={here('scan.unit')}
          done={t('entry.record_scan_there', { name })}
        />
      </div>
    </Fold>
  );
}

function RecordScan({ caseId, name }: { caseId: number; name: string }) {
  const scan = under('records', name, 'scan');
  const arches = ['upper', 'lower'] as const;
  const lies = [
    ...arches.map((arch) => ({ value: arch, words: t(`entry.on_${arch}`) })),
    { value: 'upper lower', words: t('entry.on_both') },
  ];
  return (
    <>
      <div class="boxes">
        <EntryBox caseId={caseId} field={under(scan, 'shows')} />
        <EntryBox caseId={caseId} field={under(scan, 'lies_on')} choices={lies} />
        <EntryBox caseId={caseId} field={under(scan, 'unit')} />
      </div>
      <p class="small quiet">
        {t('entry.kept_as', { name: textOf(valueAt(typedCase.value, under(scan, 'file'))) })}
      </p>
      <ListTable
        caseId={caseId}
        list={under(scan, 'points')}
        caption={t('entry.points_title')}
        captionSeen
        item={t('entry.point')}
        steps={['name', 'arch', 'cast', 'record']}
      />
      <div class="row">
        <Button look="plain" onClick={() => takeOut(caseId, scan, t('entry.record_scan_of', { name }))}>
          {t('entry.take_out_of', { name: t('entry.record_scan_of', { name }) })}
        </Button>
      </div>
    </>
  );
}
