import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';
import type { Fault } from '../../api/shapes';
import { pending } from '../outbox';
import { t } from '../words';

export type Names = { id: string; 'aria-describedby': string; 'aria-invalid': boolean; class: string };

type Props = {
  label: string;
  /** What it is for, one sentence. */
  what?: string | undefined;
  unit?: string | undefined;
  faults?: readonly Fault[] | undefined;
  /** Set for an entry of a case: shows by itself what is not yet saved, refused or contested. */
  entry?: { caseId: number; field: string } | undefined;
  /** What counts while nothing is entered. */
  assumed?: string | undefined;
  children: (names: Names) => ComponentChildren;
};

/** A label, its entry, its unit, what it is for, and what is wrong with it; all of them tied for screen readers. */
export function Field({ label, what, unit, faults = [], entry, assumed, children }: Props) {
  const id = useId();
  const late = entry === undefined ? undefined : pending(entry.caseId, entry.field);
  const wrong = [...faults, ...(late?.faults ?? [])];
  const names: Names = {
    id,
    'aria-describedby': `${id}-what ${id}-state`,
    'aria-invalid': wrong.length > 0,
    class: 'input',
  };
  return (
    <div class="field">
      <label class="field-label" htmlFor={id}>
        {label}
      </label>
      <div class="field-entry">
        {children(names)}
        {unit ? <span class="field-unit">{unit}</span> : null}
      </div>
      <div id={`${id}-what`} class="small quiet">
        {what}
        {assumed ? (
          <>
            {' '}
            <span class="assumed">{t('app.assumed_value', { value: assumed })}</span>
          </>
        ) : null}
      </div>
      <div id={`${id}-state`}>
        {late === undefined ? null : <div class="field-state">{t(`app.entry.${late.batch.state}`)}</div>}
        {wrong.map((fault) => (
          <div key={fault.code + fault.what} class="field-fault">
            {fault.what} {fault.todo}
          </div>
        ))}
      </div>
    </div>
  );
}

/** What a line of text may know beside its value. */
type Line = {
  inputMode?: 'text' | 'decimal' | 'numeric';
  maxLength?: number;
  placeholder?: string;
  autoFocus?: boolean;
  'data-key'?: string;
  onBlur?: (event: FocusEvent) => void;
  onKeyDown?: (event: KeyboardEvent) => void;
};

type Text = Omit<Props, 'children'> & {
  value: string;
  onValue: (value: string) => void;
  input?: Line;
};

/** A field for one line of text. `onValue` hears every change. */
export function TextField({ value, onValue, input, ...rest }: Text) {
  return (
    <Field {...rest}>
      {(names) => (
        <input
          type="text"
          autoComplete="off"
          {...input}
          {...names}
          value={value}
          onInput={(e) => onValue(e.currentTarget.value)}
        />
      )}
    </Field>
  );
}

type Choice = Omit<Props, 'children'> & {
  value: string;
  choices: readonly { value: string; words: string }[];
  onValue: (value: string) => void;
};

/** A field that takes one of a few values. */
export function ChoiceField({ value, choices, onValue, ...rest }: Choice) {
  return (
    <Field {...rest}>
      {(names) => (
        <select {...names} value={value} onChange={(e) => onValue(e.currentTarget.value)}>
          {choices.map((choice) => (
            <option key={choice.value} value={choice.value}>
              {choice.words}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}
