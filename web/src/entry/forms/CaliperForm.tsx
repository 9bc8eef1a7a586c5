/** The caliper, and a block of known size to find what it adds to every reading. */
import { t } from '../../app/words';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

export function CaliperForm({ caseId }: { caseId: number }) {
  return (
    <>
      <FieldsOf caseId={caseId} names={['caliper.resolution_mm', 'caliper.sd_mm']} />
      <Block title={t('entry.block_check')} text={t('entry.block_check_text')}>
        <FieldsOf caseId={caseId} names={['caliper.block_mm', 'caliper.block_reads_mm']} />
      </Block>
    </>
  );
}
