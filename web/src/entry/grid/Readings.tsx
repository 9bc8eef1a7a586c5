/** The table of marks by states, or the seatings of one record: cells, rows and columns in and out, pasting. */
import { signal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { theCase } from '../../app/current';
import { Button, Notice, say } from '../../app/ui';
import { t } from '../../app/words';
import { EVERY, nameOf } from '../core/names';
import { cellName } from '../core/reading';
import { onTheWay, send, takeOut, typedCase } from '../core/saving';
import type { Json } from '../core/values';
import { namesAt } from '../core/values';
import type { Way } from './moves';
import { blockOf, isBlock, landing, type Landing } from './paste';
import { Questions } from './Questions';
import { shapeOf, type TableName } from './shape';
import { Table, type Column, type Row } from './Table';
import { enterGoes } from './way';

type Props = {
  caseId: number;
  table: TableName;
  caption: string;
  corner: string;
  /** What a state is called in full. */
  stateWords: (name: string) => string;
  onEnd?: (frame: HTMLElement) => void;
};

/** What was pasted and has no place: it stays in sight until a person has seen it. */
const leftOver = signal<{ table: TableName; text: string; found: Landing } | null>(null);

export function Readings({ caseId, table, caption, corner, stateWords, onEnd }: Props) {
  const shape = useShape(table);
  const rows: Row[] = shape.pairs.map((pair) => ({
    key: pair,
    name: pair,
    onOut: () => takeOut(caseId, nameOf('marks', table, pair), t('entry.out', { name: pair })),
  }));
  const columns: Column[] = shape.states.map((state) => ({
    key: state,
    name: state,
    unit: t('entry.mm'),
    foot: (
      <StateFoot
        name={state}
        words={stateWords(state)}
        // A state of the casts goes out with all that is said of it, below the table.
        onOut={table === 'reseat_mm' ? () => takeOutState(caseId, table, state) : undefined}
      />
    ),
  }));
  const onPaste = (text: string, at: { row: number; column: number }) => {
    const block = blockOf(text);
    if (!isBlock(block)) return false;
    const found = landing(block, shape, at);
    const cells = found.cells.map((cell) => ({
      field: cellName(table, cell.pair, cell.state),
      value: cell.text === '' ? null : cell.text,
    }));
    send(caseId, cells, t('entry.pasted'));
    say(t('entry.pasted_count', { count: cells.length }));
    const all = found.noPairs.length === 0 && found.noStates.length === 0;
    leftOver.value = all ? null : { table, text, found };
    return true;
  };
  return (
    <div class="stack">
      <EnterGoes />
      <Table
        caseId={caseId}
        caption={caption}
        corner={corner}
        rows={rows}
        columns={columns}
        fieldOf={(row, column) => cellName(table, row.key, column.key)}
        way={enterGoes.value}
        onEnd={onEnd}
        onPaste={onPaste}
        remark={(row, column) => t('entry.cell_help', { pair: row.name, state: stateWords(column.key) })}
        big
      />
      <Questions caseId={caseId} table={table} />
      {leftOver.value?.table === table ? <LeftOver /> : null}
    </div>
  );
}

/** Rows and columns of a table as they stand once everything on its way is saved. */
export function useShape(table: TableName) {
  const named = table === 'readings_mm' ? namesAt(typedCase.value, 'marks.states') : [];
  const shape = shapeOf(table, theCase.value?.marks ?? [], onTheWay.value, named);
  return table === 'readings_mm'
    ? { ...shape, states: shape.states.filter((state) => named.includes(state)) }
    : shape;
}

/** Takes a column out, and with a state of the casts what is said of it. */
export function takeOutState(caseId: number, table: TableName, state: string): void {
  const column = { field: nameOf('marks', table, EVERY, state), value: null };
  const both: { field: string; value: Json }[] =
    table === 'readings_mm' ? [column, { field: nameOf('marks', 'states', state), value: null }] : [column];
  send(caseId, both, t('entry.out', { name: state }));
}

function StateFoot({ name, words, onOut }: { name: string; words: string; onOut: (() => void) | undefined }) {
  const label = t('entry.take_out_of', { name });
  return (
    <div class="state-foot">
      <div class="small quiet">{words}</div>
      {onOut === undefined ? null : (
        <Button look="plain" aria-label={label} title={label} onClick={onOut}>
          ×
        </Button>
      )}
    </div>
  );
}

function EnterGoes() {
  const id = useId();
  const choose = (way: Way) => {
    enterGoes.value = way;
  };
  return (
    <div class="row small" role="radiogroup" aria-labelledby={id}>
      <span id={id}>{t('entry.enter_goes')}</span>
      {(['down', 'right'] as const).map((way) => (
        <label key={way} class="side-choice">
          <input type="radio" name={id} checked={enterGoes.value === way} onChange={() => choose(way)} />
          <span>{t(`entry.enter_${way}`)}</span>
        </label>
      ))}
    </div>
  );
}

function LeftOver() {
  const left = leftOver.value;
  if (left === null) return null;
  const { noPairs, noStates } = left.found;
  return (
    <Notice kind="ask">
      {noPairs.length > 0 ? <p>{t('entry.no_pairs', { names: noPairs.join(', ') })}</p> : null}
      {noStates.length > 0 ? <p>{t('entry.no_states', { names: noStates.join(', ') })}</p> : null}
      <pre class="small">{left.text}</pre>
      <Button onClick={() => (leftOver.value = null)}>{t('entry.seen')}</Button>
    </Notice>
  );
}
