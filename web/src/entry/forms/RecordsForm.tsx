/** The records that were taken, and which of them the lower cast was mounted on. */
import { useState } from 'preact/hooks';
import { Fold } from '../../app/ui';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { focusEntry } from '../core/focus';
import { under } from '../core/names';
import { send, takeOut, typedCase } from '../core/saving';
import { namesAt, textOf, valueAt } from '../core/values';
import { columnsFor, named } from '../grid/columns';
import { Table, type Row } from '../grid/Table';
import { Adder } from '../parts/Adder';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';
import { RecordMore } from './RecordMore';

export function RecordsForm({ caseId }: { caseId: number }) {
  const names = namesAt(typedCase.value, 'records');
  const rows: Row[] = names.map((name) => ({
    key: name,
    name,
    onOut: () => takeOut(caseId, under('records', name), t('entry.out', { name })),
  }));
  const known = fields();
  const kinds = (known && fieldAt(known, 'records.x.kind')?.choices) ?? [];
  const label = (known && fieldAt(known, 'records.x.kind')?.label) ?? '';
  const add = (name: string, kind: string) =>
    send(caseId, [{ field: under('records', name), value: { kind } }], name);
  return (
    <>
      <Block title={t('entry.records_title')} text={t('entry.records_text')} field="records">
        {rows.length === 0 ? null : (
          <Table
            caseId={caseId}
            caption={t('entry.records_title')}
            corner={t('entry.record')}
            rows={rows}
            columns={columnsFor('records', ['kind', 'material', 'visit', 'note'])}
            fieldOf={(row, column) => under('records', row.key, column.key)}
            way="right"
            onEnd={(frame) => void focusEntry(frame.closest('.block') ?? frame, '@add.records')}
          />
        )}
        <Adder
          caseId={caseId}
          keep="records"
          title={t('entry.add_record')}
          label={t('entry.record_name')}
          what={t('entry.record_name_what')}
          button={t('entry.add_record')}
          taken={names}
          choice={{ label, choices: kinds }}
          onAdd={add}
        />
      </Block>
      {names.length === 0 ? null : (
        <Block title={t('entry.record_more_title')} text={t('entry.record_more_text')}>
          {names.map((name) => (
            <RecordMore key={name} caseId={caseId} name={name} />
          ))}
        </Block>
      )}
      {names.length === 0 ? null : (
        <Block title={t('entry.relations_title')} text={t('entry.relations_text')}>
          {names.map((name) => (
            <Relation key={name} caseId={caseId} name={name} />
          ))}
        </Block>
      )}
      <div class="boxes">
        <EntryBox caseId={caseId} field="mounted_on" choices={named(names)} />
        <EntryBox caseId={caseId} field="record_repeat_mm" />
        <EntryBox caseId={caseId} field="record_repeat_dof" />
        <EntryBox caseId={caseId} field="visit_repeat_mm" />
      </div>
    </>
  );
}

/** A relation that was scanned, for those who have its numbers. */
function Relation({ caseId, name }: { caseId: number; name: string }) {
  const matrix = under('records', name, 'upper_from_lower');
  const there = textOf(valueAt(typedCase.value, matrix)) !== '';
  const [open, setOpen] = useState(false);
  const head = t(there ? 'entry.relation_there' : 'entry.relation_none', { name });
  return (
    <Fold level={4} head={head} open={open} onOpen={setOpen}>
      <div class="boxes">
        <EntryBox caseId={caseId} field={matrix} />
        <EntryBox caseId={caseId} field={under('records', name, 'relation_in')} />
      </div>
    </Fold>
  );
}
