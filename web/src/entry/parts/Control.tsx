/** The box in which one entry is made, whatever its kind. It keeps what is typed, and hands it on when it is left. */
import type { Field } from '../../api/shapes';
import { t } from '../../app/words';
import { handOn, put, restore, type as keep } from '../core/saving';
import type { Shown } from '../core/shown';
import { measuredParts, measuredText } from '../core/values';

export type Choice = { value: string; words: string };
/** What ties a box to its label and its remarks. */
export type Tie = {
  id?: string | undefined;
  'aria-label'?: string | undefined;
  'aria-describedby'?: string | undefined;
};

export type ControlProps = {
  caseId: number;
  field: string;
  info: Field | undefined;
  shown: Shown;
  tie: Tie;
  /** Short words for the history. */
  what: string;
  choices?: readonly Choice[] | undefined;
  /** Where a select is wanted however few the choices are: in tables. */
  narrow?: boolean | undefined;
  /** Held back by its form, which hands on by itself. */
  heldBack?: boolean | undefined;
  /** Place in a table. */
  place?: { 'data-row': number; 'data-column': number } | undefined;
};

/** Most choices that are shown side by side. */
const MOST_SIDE_BY_SIDE = 5;

export function Control(props: ControlProps) {
  const kind = props.info?.kind ?? 'table';
  const choices = props.choices ?? props.info?.choices ?? [];
  if (kind === 'flag' && props.choices === undefined) return <Flag {...props} />;
  if (props.choices !== undefined || kind === 'choice') {
    const many = props.narrow === true || choices.length > MOST_SIDE_BY_SIDE || props.info?.kind !== 'choice';
    return many ? <Select {...props} choices={choices} /> : <SideBySide {...props} choices={choices} />;
  }
  if (kind === 'measured') return <MeasuredLine {...props} />;
  if (kind === 'date' || kind === 'time') return <Line {...props} type={kind} />;
  const long = props.field.endsWith('note') || kind === 'list';
  if (long && props.narrow !== true) return <Lines {...props} />;
  return <Line {...props} type="text" />;
}

/** The entry that a question is about, where the cursor goes to one. */
const questionOf = (to: EventTarget | null): string | undefined =>
  to instanceof Element ? to.closest<HTMLElement>('[data-question]')?.dataset['question'] : undefined;

const leaving = ({ caseId, field, what, heldBack }: ControlProps) =>
  heldBack === true
    ? undefined
    : (event: FocusEvent) => {
        // Whoever goes to the question about a reading has not decided yet.
        if (questionOf(event.relatedTarget) !== field) void handOn(caseId, field, what);
      };

const common = ({ field, shown, tie, place }: ControlProps) => ({
  ...tie,
  ...place,
  'data-entry': field,
  'aria-invalid': shown.faults.length > 0,
});

/** Escape puts back what is saved; a second Escape is the page's. */
function onKey(props: ControlProps, event: KeyboardEvent): void {
  if (event.key === 'Escape' && restore(props.caseId, props.field)) {
    event.preventDefault();
    event.stopPropagation();
  }
}

const isNumber = (kind: Field['kind'] | undefined) =>
  kind === 'number' || kind === 'measured' || kind === undefined;

function Line(props: ControlProps & { type: 'text' | 'date' | 'time' }) {
  const { caseId, field, info, shown } = props;
  const type = (text: string) => keep(caseId, field, text);
  const mayBeNegative = info?.kind === 'number' && (info.low ?? 0) < 0;
  const line = {
    ...common(props),
    class: 'input',
    value: shown.text,
    onBlur: leaving(props),
    onKeyDown: (event: KeyboardEvent) => onKey(props, event),
  };
  if (props.type !== 'text') {
    return <input {...line} type={props.type} onInput={(event) => type(event.currentTarget.value)} />;
  }
  return (
    <>
      <input
        {...line}
        type="text"
        autoComplete="off"
        spellcheck={false}
        enterkeyhint="next"
        inputMode={isNumber(info?.kind) || info?.kind === 'table' ? 'decimal' : 'text'}
        onInput={(event) => type(event.currentTarget.value)}
      />
      {mayBeNegative ? <SignButton text={shown.text} onText={type} /> : null}
    </>
  );
}

/** Keypads of tablets for numbers have no minus sign. Only shown where fingers point. */
function SignButton({ text, onText }: { text: string; onText: (text: string) => void }) {
  const turned = /^\s*[-−]/.test(text) ? text.replace(/^\s*[-−]/, '') : `-${text}`;
  return (
    <button
      type="button"
      class="button touch-only"
      tabIndex={-1}
      aria-label={t('entry.sign')}
      onPointerDown={(event) => event.preventDefault()}
      onClick={() => onText(turned)}
    >
      −
    </button>
  );
}

function Lines(props: ControlProps) {
  const { caseId, field, shown } = props;
  return (
    <textarea
      {...common(props)}
      class="input"
      value={shown.text}
      onInput={(event) => keep(caseId, field, event.currentTarget.value)}
      onBlur={leaving(props)}
      onKeyDown={(event) => onKey(props, event)}
    />
  );
}

/** A number and its standard uncertainty, in two boxes that are one entry. */
function MeasuredLine(props: ControlProps) {
  const { caseId, field, shown, tie } = props;
  const { value, u } = measuredParts(shown.text);
  const type = (next: string) => keep(caseId, field, next);
  const leave = leaving(props);
  const onBlur = (event: FocusEvent) => {
    const next =
      event.relatedTarget instanceof HTMLElement ? event.relatedTarget.dataset['entry'] : undefined;
    if (next !== field) leave?.(event);
  };
  const line = {
    ...common(props),
    type: 'text',
    class: 'input',
    autoComplete: 'off',
    inputMode: 'decimal',
    enterkeyhint: 'next',
    onBlur,
    onKeyDown: (event: KeyboardEvent) => onKey(props, event),
  } as const;
  return (
    <>
      <input {...line} value={value} onInput={(event) => type(measuredText(event.currentTarget.value, u))} />
      <span aria-hidden="true">±</span>
      <input
        {...line}
        id={undefined}
        class="input input-u"
        value={u}
        aria-label={t('entry.u_of', { label: props.info?.label ?? tie['aria-label'] ?? '' })}
        onInput={(event) => type(measuredText(value, event.currentTarget.value))}
      />
    </>
  );
}

function Select(props: ControlProps & { choices: readonly Choice[] }) {
  const { caseId, field, shown, choices, what, heldBack, info } = props;
  const known = choices.some((choice) => choice.value === shown.text);
  const choose = (value: string) => {
    if (heldBack === true) keep(caseId, field, value);
    else put(caseId, field, value, what);
  };
  return (
    <select
      {...common(props)}
      class="input"
      value={shown.text}
      required={info?.needed}
      onChange={(event) => choose(event.currentTarget.value)}
      onKeyDown={(event) => onKey(props, event)}
    >
      <option value="">{t('entry.not_said')}</option>
      {known || shown.text === '' ? null : <option value={shown.text}>{shown.text}</option>}
      {choices.map((choice) => (
        <option key={choice.value} value={choice.value}>
          {choice.words}
        </option>
      ))}
    </select>
  );
}

/** A few choices side by side. Backspace takes the choice back, as does its button. */
function SideBySide(props: ControlProps & { choices: readonly Choice[] }) {
  const { caseId, field, shown, choices, what, heldBack, info, tie } = props;
  const choose = (value: string) => {
    if (heldBack === true) keep(caseId, field, value);
    else put(caseId, field, value, what);
  };
  const onKeyDown = (event: KeyboardEvent) => {
    if ((event.key === 'Backspace' || event.key === 'Delete') && info?.needed !== true) choose('');
    else onKey(props, event);
  };
  return (
    <div
      class="side-by-side"
      role="radiogroup"
      aria-labelledby={tie.id && `${tie.id}-label`}
      aria-describedby={tie['aria-describedby']}
    >
      {choices.map((choice, at) => (
        <label key={choice.value} class="side-choice">
          <input
            type="radio"
            id={at === 0 ? tie.id : undefined}
            data-entry={field}
            name={`${caseId} ${field}`}
            value={choice.value}
            checked={shown.text === choice.value}
            onChange={() => choose(choice.value)}
            onKeyDown={onKeyDown}
          />
          <span>{choice.words}</span>
        </label>
      ))}
      {shown.text !== '' && info?.needed !== true ? (
        <button
          type="button"
          class="button button-plain"
          tabIndex={-1}
          aria-label={t('entry.clear')}
          title={t('entry.clear')}
          onClick={() => choose('')}
        >
          ×
        </button>
      ) : null}
    </div>
  );
}

function Flag(props: ControlProps) {
  const { caseId, field, shown, what, heldBack } = props;
  const choose = (on: boolean) => {
    const text = on ? 'true' : '';
    if (heldBack === true) keep(caseId, field, text);
    else put(caseId, field, text, what);
  };
  return (
    <input
      {...common(props)}
      type="checkbox"
      class="check"
      checked={shown.text === 'true'}
      onChange={(event) => choose(event.currentTarget.checked)}
      onKeyDown={(event) => onKey(props, event)}
    />
  );
}
