/** Checks of the mounting beside pin, marks and foils: records tried on, a split cast, condylar elements, attempts. */
import { useId, useState } from 'preact/hooks';
import { Button, Fold } from '../../app/ui';
import { t } from '../../app/words';
import { NEW, under } from '../core/names';
import { send, takeOut, typedCase } from '../core/saving';
import { isGroup, itemsAt, namesAt, textOf, type Json } from '../core/values';
import { named } from '../grid/columns';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import type { Choice } from '../parts/Control';
import { EntryBox } from '../parts/EntryBox';

const SPLIT = 'proof.split_casts';

export function ProofForm({ caseId }: { caseId: number }) {
  const records = named(namesAt(typedCase.value, 'records'));
  const splits = itemsAt(typedCase.value, SPLIT);
  return (
    <>
      <Block
        title={t('entry.seatings_title')}
        text={t(records.length === 0 ? 'entry.seatings_no_records' : 'entry.seatings_text')}
        field="proof.seatings"
      >
        <ListTable
          caseId={caseId}
          list="proof.seatings"
          caption={t('entry.seatings_title')}
          item={t('entry.seated')}
          steps={['record', 'found', 'where']}
          choices={{ record: records }}
        />
      </Block>
      <Block title={t('entry.split_title')} text={t('entry.split_text')} field={SPLIT}>
        {splits.map((split, at) => (
          <Split key={at} caseId={caseId} split={split} at={at + 1} records={records} />
        ))}
        <NewSplit caseId={caseId} records={records} />
      </Block>
      <Block title={t('entry.condyles_title')} text={t('entry.condyles_text')} field="proof.condyle_gaps">
        <ListTable
          caseId={caseId}
          list="proof.condyle_gaps"
          caption={t('entry.condyles_title')}
          item={t('entry.reading')}
          steps={['record', 'right_mm', 'left_mm', 'u_mm']}
          choices={{ record: records }}
        />
      </Block>
      <Block title={t('entry.attempts_title')} text={t('entry.attempts_text')} field="proof.attempts">
        <ListTable
          caseId={caseId}
          list="proof.attempts"
          caption={t('entry.attempts_title')}
          item={t('entry.attempt')}
          steps={['date', 'record', 'kept', 'why']}
          choices={{ record: records }}
        />
      </Block>
      <Block title={t('entry.alike_title')} text={t('entry.alike_text')}>
        <div class="boxes">
          <EntryBox caseId={caseId} field="proof.other_cases_looked_at" />
          <EntryBox caseId={caseId} field="proof.other_cases_alike" />
        </div>
      </Block>
    </>
  );
}

type SplitProps = { caseId: number; split: Json; at: number; records: readonly Choice[] };

function Split({ caseId, split, at, records }: SplitProps) {
  const [open, setOpen] = useState(true);
  const here = under(SPLIT, at);
  const record = isGroup(split) ? textOf(split['record']) : '';
  const title = record === '' ? t('entry.split_at', { at }) : t('entry.split_with', { at, record });
  return (
    <Fold level={4} head={title} open={open} onOpen={setOpen}>
      <div class="stack" data-field={here}>
        <div class="boxes">
          <EntryBox caseId={caseId} field={under(here, 'record')} choices={records} />
          <EntryBox caseId={caseId} field={under(here, 'gap_sd_mm')} />
        </div>
        <ListTable
          caseId={caseId}
          list={under(here, 'gaps')}
          caption={t('entry.split_gaps')}
          captionSeen
          item={t('entry.place')}
          steps={['ahead_mm', 'right_mm', 'gap_mm', 'holds_um', 'passes_um']}
        />
        <div class="row">
          <Button look="plain" onClick={() => takeOut(caseId, here, title)}>
            {t('entry.take_out_of', { name: title })}
          </Button>
        </div>
      </div>
    </Fold>
  );
}

/** A split cast begins with the record that is in, where there is one. */
function NewSplit({ caseId, records }: { caseId: number; records: readonly Choice[] }) {
  const [record, setRecord] = useState('');
  const id = useId();
  const add = () => {
    const value = record === '' ? {} : { record };
    send(caseId, [{ field: under(SPLIT, NEW), value }], t('entry.split_title'));
    setRecord('');
  };
  return (
    <div class="adder" role="group" aria-label={t('entry.add_split')}>
      <div class="field">
        <label class="field-label" htmlFor={id}>
          {t('entry.split_record')}
        </label>
        <select
          id={id}
          class="input"
          value={record}
          onChange={(event) => setRecord(event.currentTarget.value)}
        >
          <option value="">{t('entry.not_said')}</option>
          {records.map(({ value, words }) => (
            <option key={value} value={value}>
              {words}
            </option>
          ))}
        </select>
      </div>
      <Button onClick={add}>{t('entry.add_split')}</Button>
    </div>
  );
}
