/** The limits by which results are judged: what each decides, its unit, and the value that counts unless another is entered. */
import { t } from '../../app/words';
import type { Fields } from '../core/fields';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { under } from '../core/names';
import { Table, type Row } from '../grid/Table';
import { Block } from '../parts/Block';

/** Limits there are, in the order of the case file. */
export const limitNames = (known: Fields | null): string[] =>
  [...(known?.root.below.get('limits')?.below.keys() ?? [])].filter((name) => name !== '*');

export function LimitsForm({ caseId }: { caseId: number }) {
  const known = fields();
  const rows: Row[] = limitNames(known).map((name) => {
    const info = known === null ? undefined : fieldAt(known, under('limits', name));
    const unit = (known && fieldAt(known, under('limits', name, 'decent'))?.unit) ?? '';
    const label = info?.label ?? name;
    return {
      key: name,
      name: label,
      head: (
        <>
          <span class="first-up">{label}</span>
          {unit === '' ? null : <span class="field-unit"> {unit}</span>}
          <div class="small quiet">{info?.what}</div>
        </>
      ),
    };
  });
  return (
    <Block title={t('entry.limits_title')} text={t('entry.limits_text')} field="limits">
      <Table
        caseId={caseId}
        caption={t('entry.limits_title')}
        corner={t('entry.limit')}
        rows={rows}
        columns={limitColumns(known)}
        fieldOf={(row, column) => under('limits', row.key, column.key)}
        way="right"
        remark={(row) => (known && fieldAt(known, under('limits', row.key))?.what) ?? ''}
      />
    </Block>
  );
}

function limitColumns(known: Fields | null) {
  const first = limitNames(known)[0] ?? '';
  return ['decent', 'redo', 'source'].map((step) => {
    const info = known === null ? undefined : fieldAt(known, under('limits', first, step));
    return { key: step, name: info?.label ?? step };
  });
}
