/** The heart of the bench: distances between marks in the states of the casts, where the marks stand, what the states are. */
import type { ComponentChildren } from 'preact';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { focusEntry } from '../core/focus';
import { nameOf, under } from '../core/names';
import { send, takeOut, typedCase } from '../core/saving';
import { namesAt, type Json } from '../core/values';
import { columnsFor, named } from '../grid/columns';
import { Readings, takeOutState, useShape } from '../grid/Readings';
import { marksOf, pairsToOffer } from '../grid/shape';
import { Table, type Row } from '../grid/Table';
import { useStateWords } from '../grid/words';
import { Adder, keptName } from '../parts/Adder';
import { Block } from '../parts/Block';

export function MarksForm({ caseId }: { caseId: number }) {
  return (
    <>
      <Block title={t('entry.marks_title')} text={t('entry.marks_text')} field="marks.readings_mm">
        <Distances caseId={caseId} />
      </Block>
      <Block title={t('entry.mark_places_title')} text={t('entry.mark_places_text')} field="marks.places">
        <Places caseId={caseId} />
      </Block>
      <Block title={t('entry.states_title')} text={t('entry.states_text')} field="marks.states">
        <States caseId={caseId} />
      </Block>
    </>
  );
}

function Distances({ caseId }: { caseId: number }) {
  const shape = useShape('readings_mm');
  const words = useStateWords();
  const known = fields();
  const entered = typedCase.value;
  const kind = known === null ? undefined : fieldAt(known, 'marks.states.x.kind');
  const addState = (name: string, of: string) =>
    send(caseId, [{ field: nameOf('marks', 'states', name), value: { kind: of } }], name);
  return (
    <div class="stack">
      {shape.pairs.length === 0 ? null : (
        <Readings
          caseId={caseId}
          table="readings_mm"
          caption={t('entry.marks_title')}
          corner={t('entry.pair')}
          stateWords={words}
          onEnd={(frame) => void focusEntry(frame.closest('.block') ?? frame, keptName('pair'))}
        />
      )}
      <div class="adders">
        <Adder
          caseId={caseId}
          keep="state"
          title={t('entry.add_state')}
          label={t('entry.state_name')}
          what={t('entry.state_name_what')}
          button={t('entry.add_state')}
          taken={namesAt(entered, 'marks.states')}
          choice={{ label: kind?.label ?? '', choices: kind?.choices ?? [] }}
          onAdd={addState}
        />
        <PairAdder caseId={caseId} table="readings_mm" pairs={shape.pairs} states={shape.states} />
      </div>
    </div>
  );
}

type PairProps = {
  caseId: number;
  table: 'readings_mm' | 'reseat_mm';
  pairs: readonly string[];
  states: readonly string[];
};

/** Adds a pair; marks that are new become known with it, since the upper one is always named first. */
export function PairAdder({ caseId, table, pairs, states }: PairProps) {
  const entered = typedCase.value;
  const places = namesAt(entered, 'marks.places');
  const add = (pair: string) => {
    const marks = marksOf(pair, places);
    const missing = (name: string | undefined, arch: string): { field: string; value: Json }[] =>
      name === undefined || places.includes(name)
        ? []
        : [{ field: nameOf('marks', 'places', name), value: { arch } }];
    const cells = Object.fromEntries(states.map((state) => [state, '-']));
    const edits = [
      ...missing(marks?.upper, 'upper'),
      ...missing(marks?.lower, 'lower'),
      { field: nameOf('marks', table, pair), value: cells },
    ];
    send(caseId, edits, pair);
  };
  return (
    <Adder
      caseId={caseId}
      keep={table === 'readings_mm' ? 'pair' : 'reseat_pair'}
      title={t('entry.add_pair')}
      label={t('entry.pair_name')}
      what={t('entry.pair_name_what')}
      button={t('entry.add_pair')}
      taken={pairs}
      offers={pairsToOffer(entered, pairs)}
      not={states.length === 0 ? t('entry.state_first') : undefined}
      onAdd={add}
    />
  );
}

type NamedProps = {
  caseId: number;
  group: string;
  caption: string;
  corner: string;
  children: (names: string[]) => ComponentChildren;
};

/** Things known by their names, a row each. */
function NamedTable(
  props: NamedProps & { steps: readonly string[]; choices?: Parameters<typeof columnsFor>[2]; keep: string },
) {
  const { caseId, group, caption, corner, steps, choices, keep, children } = props;
  const names = namesAt(typedCase.value, group);
  const rows: Row[] = names.map((name) => ({
    key: name,
    name,
    onOut: () =>
      group === 'marks.states'
        ? takeOutState(caseId, 'readings_mm', name)
        : takeOut(caseId, under(group, name), t('entry.out', { name })),
  }));
  return (
    <div class="stack">
      {rows.length === 0 ? null : (
        <Table
          caseId={caseId}
          caption={caption}
          corner={corner}
          rows={rows}
          columns={columnsFor(group, steps, choices)}
          fieldOf={(row, column) => under(group, row.key, column.key)}
          way="right"
          onEnd={(frame) => void focusEntry(frame.closest('.block') ?? frame, keptName(keep))}
        />
      )}
      {children(names)}
    </div>
  );
}

function Places({ caseId }: { caseId: number }) {
  const known = fields();
  const arch = known === null ? undefined : fieldAt(known, 'marks.places.x.arch');
  const add = (name: string, of: string) =>
    send(caseId, [{ field: nameOf('marks', 'places', name), value: { arch: of } }], name);
  return (
    <NamedTable
      caseId={caseId}
      group="marks.places"
      caption={t('entry.mark_places_title')}
      corner={t('entry.mark')}
      steps={['arch', 'ahead_mm', 'above_mm', 'right_mm', 'u_mm', 'from_hinge_mm']}
      keep="mark"
    >
      {(names) => (
        <Adder
          caseId={caseId}
          keep="mark"
          title={t('entry.add_mark')}
          label={t('entry.mark_name')}
          what={t('entry.mark_name_what')}
          button={t('entry.add_mark')}
          taken={names}
          choice={{ label: arch?.label ?? '', choices: arch?.choices ?? [] }}
          onAdd={add}
        />
      )}
    </NamedTable>
  );
}

function States({ caseId }: { caseId: number }) {
  const records = named(namesAt(typedCase.value, 'records'));
  return (
    <NamedTable
      caseId={caseId}
      group="marks.states"
      caption={t('entry.states_title')}
      corner={t('entry.state')}
      steps={['kind', 'record', 'note']}
      choices={{ record: records }}
      keep="state"
    >
      {(names) => (names.length === 0 ? <p class="quiet">{t('entry.no_states_yet')}</p> : null)}
    </NamedTable>
  );
}
