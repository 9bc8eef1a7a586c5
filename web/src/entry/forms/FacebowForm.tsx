/** The facebow transfer: where the axis came from, how the upper cast stands on the instrument, and a photograph. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

const bow = (...names: string[]) => names.map((name) => under('facebow', name));

export function FacebowForm({ caseId }: { caseId: number }) {
  return (
    <>
      <FieldsOf caseId={caseId} names={bow('axis', 'axis_u_mm')} />
      <Block title={t('entry.heights_title')} text={t('entry.heights_text')}>
        <FieldsOf
          caseId={caseId}
          names={bow(
            'front_height_mm',
            'right_height_mm',
            'left_height_mm',
            'front_to_molars_mm',
            'between_molars_mm',
            'height_sd_mm',
          )}
        />
      </Block>
      <Block title={t('entry.photo_title')} text={t('entry.photo_text')}>
        <FieldsOf caseId={caseId} names={bow('photo_cant_deg', 'photo_u_deg')} />
      </Block>
    </>
  );
}
