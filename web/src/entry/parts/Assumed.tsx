/** What counts while nothing is entered: what the answers took for it, else what the case file says. */
import type { Field } from '../../api/shapes';
import { t } from '../../app/words';
import type { Shown } from '../core/shown';
import type { Choice } from './Control';

type Props = {
  info: Field | undefined;
  shown: Shown;
  choices?: readonly Choice[] | undefined;
  short?: boolean;
};

export function Assumed({ info, shown, choices, short = false }: Props) {
  if (shown.text.trim() !== '') return null;
  const usual = info?.assumed ?? '';
  const value =
    shown.assumed?.value ?? (choices ?? info?.choices)?.find((one) => one.value === usual)?.words ?? usual;
  if (value === '') return null;
  return (
    <span class="assumed-line">
      <span class="assumed">{t('app.assumed_value', { value })}</span>
      {short || !shown.assumed?.source ? null : ` ${shown.assumed.source}`}
    </span>
  );
}
