/** What is asked of the lab, who looked at what, and the steps that are planned and cannot be taken back. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

const own = (names: readonly string[]) => names.map((name) => under('prescription', name));
const STEP = [
  'step',
  'teeth',
  'consent',
  'duplicate_trial',
  'reversible_trial',
  'reversible_with',
  'no_reversible_trial',
];

export function PrescriptionForm({ caseId }: { caseId: number }) {
  return (
    <>
      <Block title={t('entry.asked_title')} text={t('entry.asked_text')} field="prescription.scheme">
        <FieldsOf
          caseId={caseId}
          names={own([
            'scheme',
            'judged_at_pin',
            'ovd_change_mm',
            'ovd_change_at',
            'allowed_deviation_mm',
            'no_new_material',
            'do_not_alter',
          ])}
        />
      </Block>
      <Block title={t('entry.touch_title')} field="prescription.contacts">
        <ListTable
          caseId={caseId}
          list="prescription.contacts"
          caption={t('entry.touch_title')}
          item={t('entry.touch')}
          steps={['teeth', 'relation', 'closure']}
        />
      </Block>
      <Block title={t('entry.looked_title')} text={t('entry.looked_text')} field="prescription.verified">
        <ListTable
          caseId={caseId}
          list="prescription.verified"
          caption={t('entry.looked_title')}
          item={t('entry.looked')}
          steps={['what', 'who', 'on']}
        />
      </Block>
      <Block title={t('entry.final_title')} text={t('entry.final_text')} field="prescription.steps">
        <ListTable
          caseId={caseId}
          list="prescription.steps"
          caption={t('entry.final_title')}
          item={t('entry.final')}
          steps={STEP}
        />
      </Block>
    </>
  );
}
