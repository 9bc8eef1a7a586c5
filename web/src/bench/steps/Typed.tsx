import { useState } from 'preact/hooks';
import { Field, TextField } from '../../app/ui';
import { forEntry, fromEntry } from '../wall/clock';

type Line = {
  label: string;
  what?: string;
  entry: { caseId: number; field: string };
  value: string;
  onValue: (value: string) => void;
};

/** A line of text that is handed on when it is left, or on Enter. What is being typed is not overwritten. */
export function TypedLine({ value, onValue, ...rest }: Line) {
  const [typed, setTyped] = useState<string | null>(null);
  const leave = () => {
    if (typed !== null && typed !== value) onValue(typed);
    setTyped(null);
  };
  return (
    <TextField
      {...rest}
      value={typed ?? value}
      onValue={setTyped}
      input={{
        onBlur: leave,
        onKeyDown: (event) => {
          if (event.key === 'Enter') leave();
        },
      }}
    />
  );
}

type Time = Omit<Line, 'value' | 'onValue'> & {
  /** A moment with its offset; null where nothing is noted. */
  value: string | null;
  onValue: (value: string | null) => void;
};

/** Day and time by the clock of this wall; to the second. */
export function TypedMoment({ value, onValue, ...rest }: Time) {
  const [typed, setTyped] = useState<string | null>(null);
  const shown = forEntry(value);
  const leave = () => {
    const moment = typed === null ? null : fromEntry(typed);
    const emptied = typed === '' && value !== null;
    if ((moment !== null && typed !== shown) || emptied) onValue(moment);
    setTyped(null);
  };
  return (
    <Field {...rest}>
      {(names) => (
        <input
          type="datetime-local"
          step="1"
          {...names}
          value={typed ?? shown}
          onInput={(event) => setTyped(event.currentTarget.value)}
          onBlur={leave}
        />
      )}
    </Field>
  );
}
