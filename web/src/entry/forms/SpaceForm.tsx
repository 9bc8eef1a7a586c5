/** How thick a material shall be, on which teeth, and at which pin reading the space for it is looked at. */
import { t } from '../../app/words';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

export function SpaceForm({ caseId }: { caseId: number }) {
  return (
    <>
      <Block title={t('entry.wanted_title')} text={t('entry.wanted_text')} field="space.wanted">
        <ListTable
          caseId={caseId}
          list="space.wanted"
          caption={t('entry.wanted_title')}
          item={t('entry.wanted')}
          steps={['teeth', 'thickness_mm']}
        />
      </Block>
      <FieldsOf caseId={caseId} names={['space.pin_reads']} />
    </>
  );
}
