/** Which teeth there are, how they are numbered, and where some of them stand. */
import { theCase } from '../../app/current';
import { t } from '../../app/words';
import { Chart } from '../chart/Chart';
import { listWith, moved } from '../chart/lists';
import { send } from '../core/saving';
import { valueOf } from '../core/reading';
import { useShown } from '../core/shown';
import { columnsFor } from '../grid/columns';
import { Table } from '../grid/Table';
import { under } from '../core/names';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';

/** Names that the case knows places of teeth by. */
const PLACES = ['incisors', 'canines', 'first molars', 'second molars'] as const;

export function TeethForm({ caseId }: { caseId: number }) {
  const numberings = [
    { value: 'iso3950', words: t('app.numbering.iso3950') },
    { value: 'universal', words: t('app.numbering.universal') },
  ];
  return (
    <>
      <EntryBox caseId={caseId} field="dentition.numbering" choices={numberings} />
      <Block title={t('entry.missing_title')} text={t('entry.missing_text')} field="dentition">
        <Dentition caseId={caseId} />
      </Block>
      <Block title={t('entry.foil_teeth_title')} text={t('entry.foil_teeth_text')}>
        <div class="boxes">
          <EntryBox caseId={caseId} field="dentition.meant_free" />
          <EntryBox caseId={caseId} field="dentition.give_um" />
        </div>
      </Block>
      <Block title={t('entry.places_title')} text={t('entry.places_text')} field="teeth_at">
        <Table
          caseId={caseId}
          caption={t('entry.places_title')}
          corner={t('entry.teeth')}
          rows={PLACES.map((name) => ({
            key: name,
            name: t(`entry.at_${name.replace(' ', '_') as 'incisors'}`),
          }))}
          columns={columnsFor('teeth_at', ['ahead_mm', 'above_mm', 'u_mm'])}
          fieldOf={(row, column) => under('teeth_at', row.key, column.key)}
          way="right"
        />
      </Block>
    </>
  );
}

function Dentition({ caseId }: { caseId: number }) {
  const missing = useShown(caseId, 'dentition.missing').text;
  const implants = useShown(caseId, 'dentition.implants').text;
  const lists = { missing, implants };
  const states = [
    { key: 'missing', words: t('entry.missing'), letter: t('entry.letter_missing'), pattern: 'cross' },
    { key: 'implants', words: t('entry.implant'), letter: t('entry.letter_implant'), pattern: 'lines' },
  ] as const;
  const set = (number: string, state: string | undefined) => {
    const changed = Object.entries(moved(lists, number, state));
    const edits = changed.map(([key, text]) => ({
      field: `dentition.${key}`,
      value: valueOf('teeth', text),
    }));
    send(caseId, edits, `${number}: ${states.find((one) => one.key === state)?.words ?? t('entry.there')}`);
  };
  return (
    <>
      <Chart
        label={t('entry.missing_title')}
        numbering={theCase.value?.numbering ?? 'iso3950'}
        states={states}
        stateOf={(number) => listWith(lists, number)}
        others={{ words: t('entry.there'), letter: '' }}
        missing={[]}
        onState={set}
      />
      <div class="boxes">
        <EntryBox caseId={caseId} field="dentition.missing" />
        <EntryBox caseId={caseId} field="dentition.implants" />
      </div>
    </>
  );
}
