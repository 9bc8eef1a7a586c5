/** One entry of a form: its label, its box, its unit, what it is for, what is assumed without it, what is wrong. */
import { useId } from 'preact/hooks';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { useShown } from '../core/shown';
import { Assumed } from './Assumed';
import { Control, type Choice } from './Control';
import { Remarks } from './Remarks';

type Props = {
  caseId: number;
  field: string;
  /** Where the usual label does not say enough. */
  label?: string;
  choices?: readonly Choice[];
  heldBack?: boolean;
};

export function EntryBox({ caseId, field, label, choices, heldBack }: Props) {
  const id = useId();
  const shown = useShown(caseId, field);
  const known = fields();
  const info = known === null ? undefined : fieldAt(known, field);
  const name = label ?? info?.label ?? field;
  const tie = { id, 'aria-describedby': `${id}-what ${id}-state` };
  const flag = info?.kind === 'flag';
  const control = (
    <Control
      caseId={caseId}
      field={field}
      info={info}
      shown={shown}
      tie={tie}
      what={name}
      choices={choices}
      heldBack={heldBack}
    />
  );
  return (
    <div class={`field entry-box${flag ? ' entry-flag' : ''}`} data-field={field}>
      <label id={`${id}-label`} class="field-label" htmlFor={id}>
        {name}
        {info?.needed && shown.text.trim() === '' ? <span class="needed">{t('entry.needed')}</span> : null}
      </label>
      <div class="field-entry">
        {control}
        {info?.unit ? <span class="field-unit">{info.unit}</span> : null}
      </div>
      <div id={`${id}-what`} class="small quiet">
        {info?.what} <Assumed info={info} shown={shown} choices={choices} />
      </div>
      <Remarks id={`${id}-state`} shown={shown} />
    </div>
  );
}
