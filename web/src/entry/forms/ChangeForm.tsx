/** What the clinician allows of a change, and how the trial on duplicates runs. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

const own = (names: readonly string[]) => names.map((name) => under('change', name));
const TRIAL = [
  ...own(['reshape', 'step_mm']),
  ...own(['fill']),
  ...['at', 'pin_mm', 'most_rounds'].map((name) => under('change', 'stop', name)),
];

const MEANS = ['leave_open_mm', 'subtract_teeth', 'move_mm', 'operate_mm', 'overjet_mm'].map((name) =>
  under('change', 'means', name),
);

export function ChangeForm({ caseId }: { caseId: number }) {
  return (
    <>
      <Block title={t('entry.budgets_title')} text={t('entry.budgets_text')} field="change.budgets">
        <FieldsOf caseId={caseId} names={own(['most_off_mm', 'most_on_mm'])} />
        <ListTable
          caseId={caseId}
          list="change.budgets"
          caption={t('entry.budgets_title')}
          item={t('entry.budget')}
          steps={['teeth', 'most_mm', 'most_on_mm']}
        />
      </Block>
      <Block title={t('entry.kept_title')} text={t('entry.kept_text')} field="change.excluded">
        <FieldsOf caseId={caseId} names={own(['restored', 'reshape_restored'])} />
        <ListTable
          caseId={caseId}
          list="change.excluded"
          caption={t('entry.kept_title')}
          item={t('entry.kept')}
          steps={['teeth', 'reason']}
        />
      </Block>
      <Block title={t('entry.trial_title')} text={t('entry.trial_text')} field="change.stop">
        <FieldsOf caseId={caseId} names={TRIAL} />
      </Block>
      <Block title={t('entry.means_title')} text={t('entry.means_text')} field="change.means">
        <FieldsOf caseId={caseId} names={MEANS} />
        <ListTable
          caseId={caseId}
          list="change.means.seen"
          caption={t('entry.seen_title')}
          captionSeen
          item={t('entry.third')}
          steps={['teeth', 'third']}
        />
      </Block>
      <Block title={t('entry.ways_title')} text={t('entry.ways_text')} field="change.branches">
        <ListTable
          caseId={caseId}
          list="change.branches"
          caption={t('entry.ways_title')}
          item={t('entry.way')}
          steps={['name', 'after', 'reshape', 'step_mm', 'excluded']}
        />
      </Block>
    </>
  );
}
