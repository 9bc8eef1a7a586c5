/** The articulator as its user measured it, its pin with its scale, and the plane that angles are stated against. */
import { t } from '../../app/words';
import { ListTable } from '../grid/ListTable';
import { under } from '../core/names';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';
import { Said } from '../parts/Said';
import { Profiles } from './Profiles';

const PIN = ['kind', 'ahead_mm', 'below_mm', 'zero_reads', 'table_slope_deg', 'counts', 'mm_per_mark'];

const TAKES = [
  ...['inclination', 'lateral'].flatMap((range) =>
    ['lowest_deg', 'highest_deg', 'step_deg'].map((end) => under('instrument.takes', range, end)),
  ),
  ...['lowest_mm', 'highest_mm', 'step_mm'].map((end) => under('instrument.takes.shift', end)),
];

export function InstrumentForm({ caseId }: { caseId: number }) {
  return (
    <>
      <Profiles caseId={caseId} />
      <FieldsOf
        caseId={caseId}
        names={['name', 'condyles', 'intercondylar_mm', 'play_mm'].map((name) => under('instrument', name))}
      />
      <Block title={t('entry.pin_of_instrument')} field="instrument.pin">
        <FieldsOf caseId={caseId} names={PIN.map((name) => under('instrument.pin', name))} />
      </Block>
      <Block
        title={t('entry.calibration_title')}
        text={t('entry.calibration_text')}
        field="instrument.pin.calibration"
      >
        <ListTable
          caseId={caseId}
          list="instrument.pin.calibration"
          caption={t('entry.calibration_title')}
          item={t('entry.block')}
          steps={['block_mm', 'reads']}
        />
        <Said
          caseId={caseId}
          fields={['instrument.pin.calibration', 'instrument.pin.mm_per_mark', 'instrument.pin.zero_reads']}
        />
      </Block>
      <Block title={t('entry.takes_title')} text={t('entry.takes_text')} field="instrument.takes">
        <FieldsOf caseId={caseId} names={TAKES} />
      </Block>
      <Block title={t('entry.plane_title')} text={t('entry.plane_text')} field="plane">
        <FieldsOf caseId={caseId} names={['plane.name', 'plane.tilt_deg']} />
      </Block>
    </>
  );
}
