/** A table of the items of a list, with a line to add one at its end. */
import { t } from '../../app/words';
import { draft } from '../core/drafts';
import { focusEntry } from '../core/focus';
import { NEW, under } from '../core/names';
import { handOn, held, takeOut, typedCase } from '../core/saving';
import { itemsAt } from '../core/values';
import type { Choice } from '../parts/Control';
import { columnsFor } from './columns';
import { Table, type Row } from './Table';

type Props = {
  caseId: number;
  list: string;
  caption: string;
  /** What one item is called: the number behind it says which. */
  item: string;
  steps: readonly string[];
  choices?: Readonly<Record<string, readonly Choice[]>>;
  captionSeen?: boolean;
};

export function ListTable({ caseId, list, caption, item, steps, choices, captionSeen }: Props) {
  const items = itemsAt(typedCase.value, list);
  const called = (at: number | string) => t('entry.item', { item, at });
  const rows: Row[] = items.map((_, at) => ({
    key: `${at + 1}`,
    name: called(at + 1),
    head: `${at + 1}`,
    onOut: () => takeOut(caseId, under(list, at + 1), called(at + 1)),
  }));
  rows.push({ key: NEW, name: t('entry.new_item', { item }), head: t('entry.new'), fresh: true });
  const columns = columnsFor(list, steps, choices);
  const onEnd = (frame: HTMLElement) => {
    const field = under(list, NEW, steps[0] ?? '');
    const told = steps.map((step) => under(list, NEW, step)).find((one) => draft(caseId, one) !== undefined);
    // Where something is wanting the first box says so; else a new line is there to go on with.
    handOn(caseId, told ?? field, item);
    focusEntry(frame, held(field)?.wanting[0] ?? field);
  };
  return (
    <Table
      caseId={caseId}
      caption={caption}
      corner={item}
      rows={rows}
      columns={columns}
      fieldOf={(row, column) => under(list, row.key, column.key)}
      way="right"
      onEnd={onEnd}
      captionSeen={captionSeen}
    />
  );
}
