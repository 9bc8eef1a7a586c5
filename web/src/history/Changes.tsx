import type { Change } from '../api/shapes';
import { entryHref } from '../app/route';
import { TableFrame } from '../app/ui';
import { t } from '../app/words';
import { labelOf } from './labels';
import { plainly } from './plainly';

/** A value of an entry; a remark where there was none. */
export function Value({ value }: { value: string | null }) {
  if (value === null) return <span class="quiet">{t('history.nothing')}</span>;
  return <span class="entered">{plainly(value)}</span>;
}

/** What an entry is called in the forms, and in the case file. */
export function EntryName({ field }: { field: string }) {
  const label = labelOf(field);
  return (
    <>
      {label}
      {label === field ? null : <span class="small quiet entry-field">{field}</span>}
    </>
  );
}

/** Entries with their old and their new value. */
export function Changes({ caseId, changes }: { caseId: number; changes: readonly Change[] }) {
  if (changes.length === 0) return <p class="quiet">{t('history.no_changes')}</p>;
  return (
    <TableFrame>
      <table class="table">
        <thead>
          <tr>
            <th scope="col">{t('history.entry')}</th>
            <th scope="col">{t('history.before')}</th>
            <th scope="col">{t('history.after')}</th>
          </tr>
        </thead>
        <tbody>
          {changes.map((change) => (
            <tr key={change.field}>
              <th scope="row">
                <a href={entryHref(caseId, change.field)}>
                  <EntryName field={change.field} />
                </a>
              </th>
              <td>
                <Value value={change.old} />
              </td>
              <td>
                <Value value={change.new} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </TableFrame>
  );
}
