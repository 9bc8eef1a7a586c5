import type { Quantity } from '../api/shapes';
import { TableFrame } from '../app/ui';
import { t } from '../app/words';

/** Numbers of an answer as the server wrote them. What nobody measured is marked where it stands. */
export function Quantities({ quantities }: { quantities: readonly Quantity[] }) {
  return (
    <TableFrame>
      <table class="table quantities">
        <thead>
          <tr>
            <th scope="col">{t('sheet.quantity')}</th>
            <th scope="col">{t('sheet.value')}</th>
            <th scope="col">{t('sheet.interval')}</th>
            <th scope="col">{t('sheet.uncertainty')}</th>
          </tr>
        </thead>
        <tbody>
          {quantities.map((one) => (
            <tr key={one.key}>
              <th scope="row">
                {one.label}
                {one.note ? <span class="small quiet quantity-note">{one.note}</span> : null}
              </th>
              <td>
                <span class="nowrap">{one.shown}</span>{' '}
                {one.assumed ? <span class="assumed">{t('sheet.assumed')}</span> : null}
              </td>
              <td class="nowrap">{one.interval}</td>
              <td class="nowrap">{one.u_shown}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </TableFrame>
  );
}
