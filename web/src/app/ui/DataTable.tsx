import type { Table } from '../../api/shapes';
import { t } from '../words';
import { TableFrame } from './TableFrame';

/** A longer table is folded until somebody wants it: nobody reads through it on the way to what comes after. */
const LONG = 30;

/** A table of cells as read. The first column names the rows. */
export function DataTable({ table }: { table: Table }) {
  if (table.rows.length <= LONG) return <Whole table={table} />;
  return (
    <details class="long-table">
      <summary>{t('app.long_table', { title: table.title, rows: table.rows.length })}</summary>
      <Whole table={table} />
    </details>
  );
}

function Whole({ table }: { table: Table }) {
  return (
    <div>
      <TableFrame label={table.title}>
        <table class="table">
          <caption>{table.title}</caption>
          <thead>
            <tr>
              {table.columns.map((column, at) =>
                column === '' ? (
                  <td key={at} />
                ) : (
                  <th key={at} scope="col">
                    {column}
                  </th>
                ),
              )}
            </tr>
          </thead>
          <tbody>
            {table.rows.map((row, at) => (
              <tr key={at}>
                {row.map((cell, column) =>
                  column === 0 ? (
                    <th key={column} scope="row">
                      {cell}
                    </th>
                  ) : (
                    <td key={column}>{cell}</td>
                  ),
                )}
              </tr>
            ))}
          </tbody>
        </table>
      </TableFrame>
      {table.note ? <p class="small quiet">{table.note}</p> : null}
    </div>
  );
}
