/** A table of entries for the keyboard: Enter goes on, arrows move, Escape puts back. Each cell is an entry of its own. */
import type { ComponentChildren } from 'preact';
import { useId, useRef, useState } from 'preact/hooks';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { useHeard } from '../core/listen';
import { isCell } from '../core/reading';
import { draft } from '../core/drafts';
import { handOn, type as keep } from '../core/saving';
import { useShown } from '../core/shown';
import { Assumed } from '../parts/Assumed';
import { Control, type Choice } from '../parts/Control';
import { placeFor, type Place, type Way } from './moves';

export type Row = {
  key: string;
  /** What the row is called. */
  name: string;
  head?: ComponentChildren;
  /** An item in the making: handed on when its row is left, not cell by cell. */
  fresh?: boolean;
  /** Takes the row out. */
  onOut?: (() => void) | undefined;
};

export type Column = {
  key: string;
  name: string;
  head?: ComponentChildren;
  unit?: string;
  choices?: readonly Choice[];
  /** Shown under the head. */
  foot?: ComponentChildren;
};

export type TableProps = {
  caseId: number;
  caption: string;
  /** Heading of the first column. */
  corner: string;
  rows: readonly Row[];
  columns: readonly Column[];
  fieldOf: (row: Row, column: Column) => string;
  way: Way;
  /** What is called when Enter leaves the last cell. */
  onEnd?: ((frame: HTMLElement) => void) | undefined;
  /** Text from the clipboard, pasted at a place; true where it was taken. */
  onPaste?: ((text: string, at: Place) => boolean) | undefined;
  /** What there is to say of the cell in hand, below the table. */
  remark?: ((row: Row, column: Column) => ComponentChildren) | undefined;
  big?: boolean;
  /** Where no heading above says what the table is. */
  captionSeen?: boolean | undefined;
};

const caretOf = (box: HTMLElement) =>
  box instanceof HTMLInputElement && box.type === 'text'
    ? { start: box.selectionStart ?? 0, end: box.selectionEnd ?? 0, length: box.value.length }
    : { start: 0, end: 0, length: 0 };

const placeOf = (box: EventTarget | null): Place | null => {
  if (!(box instanceof HTMLElement)) return null;
  const { row, column } = box.dataset;
  return row === undefined || column === undefined
    ? null
    : { row: parseInt(row, 10), column: parseInt(column, 10) };
};

/** Puts the cursor into a cell, all of its text chosen, so that typing takes its place. */
export function goTo(frame: Element | null, at: Place): boolean {
  const box = frame?.querySelector<HTMLElement>(`[data-row="${at.row}"][data-column="${at.column}"]`);
  box?.focus();
  if (box instanceof HTMLInputElement && box.type === 'text') box.select();
  return box !== null && box !== undefined;
}

export function Table(props: TableProps) {
  const { rows, columns, way, onEnd, onPaste } = props;
  const frame = useRef<HTMLDivElement>(null);
  const [at, setAt] = useState<Place | null>(null);
  const helpId = useId();
  const size = { rows: rows.length, columns: columns.length };

  const onKeyDown = (event: KeyboardEvent) => {
    const here = placeOf(event.target);
    if (here === null || !(event.target instanceof HTMLElement)) return;
    const box = event.target;
    // Up and down are a select's own: they choose.
    if (box instanceof HTMLSelectElement && (event.key === 'ArrowUp' || event.key === 'ArrowDown')) return;
    const to = placeFor(event, here, size, way, caretOf(box));
    if (to === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    if (to !== 'end') goTo(frame.current, to);
    else if (onEnd === undefined || frame.current === null) box.blur();
    else onEnd(frame.current);
  };

  useHeard(frame, 'keydown', onKeyDown);
  const fresh = useRef<EventTarget | null>(null);
  useHeard(frame, 'focusin', (event) => {
    setAt(placeOf(event.target) ?? at);
    fresh.current = event.target;
  });
  // The first click into a cell takes all of it, so that typing takes its place; the next one sets the caret.
  useHeard(frame, 'pointerup', (event) => {
    const box = event.target;
    if (box === fresh.current && box instanceof HTMLInputElement && box.type === 'text') {
      if (box.selectionStart === box.selectionEnd) box.select();
    }
    fresh.current = null;
  });
  useHeard(frame, 'paste', (event) => {
    const here = placeOf(event.target);
    const text = event.clipboardData?.getData('text/plain') ?? '';
    if (here !== null && onPaste?.(text, here) === true) event.preventDefault();
  });

  return (
    <div class="entry-table">
      <div
        ref={frame}
        class={props.big === true ? 'table-frame table-big' : 'table-frame'}
        role="group"
        aria-label={props.caption}
      >
        <table class="table">
          <caption class={props.captionSeen === true ? undefined : 'unseen'}>{props.caption}</caption>
          <thead>
            <tr>
              <th scope="col" class="first-up">
                {props.corner}
              </th>
              {columns.map((column) => (
                <th key={column.key} scope="col">
                  <span class="first-up">{column.head ?? column.name}</span>
                  {column.unit && props.big !== true ? <span class="field-unit"> {column.unit}</span> : null}
                  {column.foot}
                </th>
              ))}
              {rows.some((row) => row.onOut) ? (
                <th>
                  <span class="unseen">{t('entry.take_out')}</span>
                </th>
              ) : null}
            </tr>
          </thead>
          <tbody>
            {rows.map((row, r) => (
              <TableRow key={row.key} table={props} row={row} at={r} helpId={helpId} />
            ))}
          </tbody>
        </table>
      </div>
      <div id={helpId} class="cell-help small">
        <CellHelp table={props} at={at} />
      </div>
    </div>
  );
}

function TableRow({ table, row, at, helpId }: { table: TableProps; row: Row; at: number; helpId: string }) {
  const { caseId, columns, fieldOf, rows } = table;
  const line = useRef<HTMLTableRowElement>(null);
  const first = columns[0];
  useHeard(line, 'focusout', (event) => {
    const inside =
      event.relatedTarget instanceof Node && line.current?.contains(event.relatedTarget) === true;
    if (row.fresh !== true || inside) return;
    // Where nothing of an item is needed its first entry may be empty.
    const told = columns.find((column) => draft(caseId, fieldOf(row, column)) !== undefined) ?? first;
    if (told !== undefined) void handOn(caseId, fieldOf(row, told), row.name);
  });
  return (
    <tr ref={line}>
      <th scope="row">{row.head ?? row.name}</th>
      {columns.map((column, c) => (
        <td key={column.key}>
          <Cell table={table} row={row} column={column} at={{ row: at, column: c }} helpId={helpId} />
        </td>
      ))}
      {rows.some((one) => one.onOut) ? (
        <td>
          {row.onOut ? (
            <Button
              look="plain"
              aria-label={t('entry.take_out_of', { name: row.name })}
              title={t('entry.take_out_of', { name: row.name })}
              onClick={row.onOut}
            >
              ×
            </Button>
          ) : null}
        </td>
      ) : null}
    </tr>
  );
}

function Cell(props: { table: TableProps; row: Row; column: Column; at: Place; helpId: string }) {
  const { table, row, column, at, helpId } = props;
  const field = table.fieldOf(row, column);
  const shown = useShown(table.caseId, field);
  const known = fields();
  const info = known === null ? undefined : fieldAt(known, field);
  const unit = column.unit ? `, ${column.unit}` : '';
  const state =
    shown.faults.length > 0
      ? 'wrong'
      : shown.asked !== ''
        ? 'asked'
        : shown.wanting.length > 0
          ? 'waits'
          : '';
  return (
    <div class={`cell ${state === '' ? '' : `cell-${state}`}`} data-field={field}>
      <Control
        caseId={table.caseId}
        field={field}
        info={info}
        shown={shown}
        tie={{ 'aria-label': `${row.name}, ${column.name}${unit}`, 'aria-describedby': helpId }}
        what={`${row.name}, ${column.name}`}
        choices={column.choices}
        narrow
        heldBack={row.fresh === true}
        place={{ 'data-row': at.row, 'data-column': at.column }}
      />
      <Assumed info={info} shown={shown} choices={column.choices} short />
      {state === 'asked' ? (
        <span class="cell-sign" aria-hidden="true">
          ?
        </span>
      ) : null}
      {state === 'wrong' ? (
        <span class="cell-sign" aria-hidden="true">
          !
        </span>
      ) : null}
    </div>
  );
}

/** What the cell in hand is for, and what is wrong with it. Always in the same place, so that the table keeps still. */
function CellHelp({ table, at }: { table: TableProps; at: Place | null }) {
  const row = at === null ? undefined : table.rows[at.row];
  const column = at === null ? undefined : table.columns[at.column];
  if (row === undefined || column === undefined) {
    return table.big === true ? <span class="quiet">{t('entry.table_keys')}</span> : null;
  }
  return <CellRemarks key={table.fieldOf(row, column)} table={table} row={row} column={column} />;
}

function CellRemarks({ table, row, column }: { table: TableProps; row: Row; column: Column }) {
  const field = table.fieldOf(row, column);
  const shown = useShown(table.caseId, field);
  const known = fields();
  const info = known === null ? undefined : fieldAt(known, field);
  return (
    <>
      {isCell(field) ? <RepeatButton caseId={table.caseId} field={field} text={shown.text} /> : null}
      <strong>
        {row.name}, {column.name}
      </strong>
      {column.unit ? `, ${column.unit}` : ''}: {table.remark?.(row, column) ?? info?.what}
      {shown.state === undefined || shown.typing ? null : (
        <span class="field-state"> {t(`app.entry.${shown.state}`)}</span>
      )}
      {shown.faults.map((fault) => (
        <div key={fault.what} class="field-fault">
          {fault.what} {fault.todo}
        </div>
      ))}
    </>
  );
}

/** Keypads of tablets for numbers have no stroke, with which repeats are joined. Only shown where fingers point. */
function RepeatButton({ caseId, field, text }: { caseId: number; field: string; text: string }) {
  return (
    <button
      type="button"
      class="button touch-only"
      tabIndex={-1}
      onPointerDown={(event) => event.preventDefault()}
      onClick={() => keep(caseId, field, `${text}/`)}
    >
      {t('entry.repeat')}
    </button>
  );
}
