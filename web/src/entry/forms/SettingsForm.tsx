/** What the articulator is set to, as somebody read it off or set it: shown as typed, never as measured. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

const JOINT = ['inclination_deg', 'over_mm', 'lateral_deg', 'shift_mm', 'source'];
const joint = (side: string) => JOINT.map((name) => under('settings', side, name));

export function SettingsForm({ caseId }: { caseId: number }) {
  return (
    <>
      <p class="block-text">{t('entry.settings_text')}</p>
      <FieldsOf caseId={caseId} names={['settings.against', 'settings.table_deg']} />
      <Block title={t('entry.right_joint_title')} field="settings.right">
        <FieldsOf caseId={caseId} names={joint('right')} />
      </Block>
      <Block title={t('entry.left_joint_title')} field="settings.left">
        <FieldsOf caseId={caseId} names={joint('left')} />
      </Block>
    </>
  );
}
