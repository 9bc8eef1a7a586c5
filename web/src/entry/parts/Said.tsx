/** What the answers say of certain entries: what they doubt, what they take for granted, what to measure next. */
import type { Answer } from '../../api/shapes';
import { sheet } from '../../app/current';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields as fieldsKnown } from '../core/knowledge';
import { isBelow } from '../core/names';
import { tried } from '../core/trying';

type Line = { key: string; kind: 'doubt' | 'assumed' | 'next'; text: string; more: string };

function linesOf(answer: Answer, holds: (field: string) => boolean): Line[] {
  return [
    ...answer.reasons
      .filter((reason) => holds(reason.field))
      .map((reason) => ({ key: reason.text, kind: 'doubt' as const, text: reason.text, more: '' })),
    ...answer.assumptions
      .filter((one) => holds(one.field) && !hasBox(one.field))
      .map((one) => ({
        key: one.what,
        kind: 'assumed' as const,
        text: `${one.what}: ${one.value}`,
        more: one.source,
      })),
    ...answer.needs
      .filter((need) => holds(need.field))
      .map((need) => ({ key: need.reading, kind: 'next' as const, text: need.reading, more: need.why })),
  ];
}

/** An entry with a box of its own shows there what is assumed for it. */
const hasBox = (field: string): boolean => {
  const known = fieldsKnown();
  const kind = known === null ? undefined : fieldAt(known, field)?.kind;
  return kind !== undefined && kind !== 'group' && kind !== 'list' && kind !== 'table';
};

/** `fields`: the entries that are meant, with all below them; `except` those that have a place of their own. */
export function Said({
  caseId,
  fields,
  except = [],
}: {
  caseId: number;
  fields: readonly string[];
  except?: readonly string[];
}) {
  const trial = tried.value?.caseId === caseId ? tried.value : null;
  const shown = trial?.out?.sheet ?? sheet.value;
  const within = (field: string, tops: readonly string[]) =>
    field !== '' && tops.some((top) => isBelow(field, top));
  const all = (shown?.answers ?? []).flatMap((answer) =>
    linesOf(answer, (field) => within(field, fields) && !within(field, except)),
  );
  const lines = all.filter(
    (line, at) => all.findIndex((one) => one.key === line.key && one.kind === line.kind) === at,
  );
  if (lines.length === 0) return null;
  return (
    <ul class="said" aria-label={t('entry.said')}>
      {lines.map((line) => (
        <li key={`${line.kind} ${line.key}`}>
          <span class={line.kind === 'assumed' ? 'assumed' : 'said-kind'}>
            {t(`entry.said_${line.kind}`)}
          </span>{' '}
          {line.text}
          {line.more === '' ? null : <span class="small quiet"> {line.more}</span>}
        </li>
      ))}
    </ul>
  );
}
