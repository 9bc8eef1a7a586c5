/** A line to add something by its name, and what it cannot be without. Kept while it is typed. */
import type { ComponentChildren } from 'preact';
import { useId, useRef } from 'preact/hooks';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { draft, dropDraft, keepDraft, NO_ENTRY } from '../core/drafts';
import type { Choice } from './Control';

type Props = {
  caseId: number;
  /** Where what is typed is kept: no entry of a case has such a name. */
  keep: string;
  title: string;
  label: string;
  what: string;
  button: string;
  taken: readonly string[];
  /** A second thing that has to be said. */
  choice?: { label: string; choices: readonly Choice[] };
  offers?: readonly string[];
  /** Why nothing can be added now. */
  not?: string | undefined;
  onAdd: (name: string, choice: string) => void;
  children?: ComponentChildren;
};

export const keptName = (keep: string) => `${NO_ENTRY}add.${keep}`;

export function Adder(props: Props) {
  const { caseId, keep, choice, taken, offers = [] } = props;
  const id = useId();
  const box = useRef<HTMLInputElement>(null);
  const name = draft(caseId, keptName(keep)) ?? '';
  const chosen = draft(caseId, keptName(`${keep}.choice`)) ?? '';
  const trimmed = name.trim();
  const refusal = taken.includes(trimmed)
    ? t('entry.taken', { name: trimmed })
    : trimmed === ''
      ? t('entry.name_first')
      : choice !== undefined && chosen === ''
        ? t('entry.choose_first', { label: choice.label })
        : props.not;
  const add = () => {
    if (refusal !== undefined) return;
    dropDraft(caseId, keptName(keep));
    props.onAdd(trimmed, chosen);
    box.current?.focus();
  };
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    event.stopPropagation();
    add();
  };
  return (
    <div class="adder" role="group" aria-label={props.title}>
      <div class="field">
        <label class="field-label" htmlFor={id}>
          {props.label}
        </label>
        <input
          id={id}
          ref={box}
          class="input"
          type="text"
          autoComplete="off"
          list={offers.length > 0 ? `${id}-offers` : undefined}
          aria-describedby={`${id}-what`}
          data-entry={keptName(keep)}
          value={name}
          onInput={(event) => keepDraft(caseId, keptName(keep), event.currentTarget.value)}
          onKeyDown={onKeyDown}
        />
        {offers.length > 0 ? (
          <datalist id={`${id}-offers`}>
            {offers.map((offer) => (
              <option key={offer} value={offer} />
            ))}
          </datalist>
        ) : null}
      </div>
      {choice === undefined ? null : (
        <div class="field">
          <label class="field-label" htmlFor={`${id}-choice`}>
            {choice.label}
          </label>
          <select
            id={`${id}-choice`}
            class="input"
            data-entry={keptName(`${keep}.choice`)}
            value={chosen}
            onChange={(event) => keepDraft(caseId, keptName(`${keep}.choice`), event.currentTarget.value)}
            onKeyDown={onKeyDown}
          >
            <option value="">{t('entry.not_said')}</option>
            {choice.choices.map((one) => (
              <option key={one.value} value={one.value}>
                {one.words}
              </option>
            ))}
          </select>
        </div>
      )}
      {props.children}
      <Button not={refusal} onClick={add}>
        {props.button}
      </Button>
      <div id={`${id}-what`} class="small quiet adder-what">
        {props.what}
        {trimmed !== '' && taken.includes(trimmed) ? <div class="field-fault">{refusal}</div> : null}
        {props.not !== undefined ? <div class="field-state">{props.not}</div> : null}
      </div>
    </div>
  );
}
