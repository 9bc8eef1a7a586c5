/** How much the steps of a practice scatter, in place of what is usual, and where each number comes from. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';
import { FieldsOf } from '../parts/Fields';

const own = (...names: string[]) => names.map((name) => under('doubt', name));

const NUMBERS = [
  'material_mm',
  'seat_mm',
  'luting_mm',
  'stone_mm',
  'plate_mm',
  'casts_mm',
  'scan_mm',
  'registration_mm',
];
const HINGE = ['facebow_right_mm', 'facebow_left_mm', 'facebow_shared'];

export function StepsForm({ caseId }: { caseId: number }) {
  const tied = [
    { value: 'true', words: t('entry.tied') },
    { value: 'false', words: t('entry.by_hand') },
  ];
  return (
    <>
      <p class="block-text">{t('entry.steps_text')}</p>
      <div class="boxes">
        <EntryBox caseId={caseId} field="doubt.stabilised" choices={tied} />
      </div>
      <FieldsOf caseId={caseId} names={own(...NUMBERS)} />
      <Block title={t('entry.hinge_title')} text={t('entry.hinge_text')}>
        <FieldsOf caseId={caseId} names={own(...HINGE)} />
      </Block>
    </>
  );
}
