import type { ComponentChildren } from 'preact';
import type { Answer } from '../api/shapes';
import { lazy } from '../app/lazy';
import { caseHref, entryHref, type CasePart } from '../app/route';
import { DataTable, LinkButton } from '../app/ui';
import { t, type WordKey } from '../app/words';
import { Quantities } from './Quantities';

function Part({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <section class="evidence-part">
      <h3>{title}</h3>
      {children}
    </section>
  );
}

const Lines = ({ lines }: { lines: readonly string[] }) => (
  <ul>
    {lines.map((line) => (
      <li key={line}>{line}</li>
    ))}
  </ul>
);

function Reasons({ caseId, answer }: { caseId: number; answer: Answer }) {
  return (
    <ul>
      {answer.reasons.map((reason) => (
        <li key={reason.why + reason.text}>
          {reason.text}
          {reason.suggestion ? ` ${t('sheet.meant', { value: reason.suggestion })}` : null}
          {reason.field ? (
            <>
              {' '}
              <a href={entryHref(caseId, reason.field)}>{t('sheet.to_entry')}</a>
            </>
          ) : null}
        </li>
      ))}
    </ul>
  );
}

function Needs({ caseId, answer }: { caseId: number; answer: Answer }) {
  return (
    <ol>
      {answer.needs.map((need) => (
        <li key={need.field + need.reading}>
          <a href={entryHref(caseId, need.field)}>{need.reading}</a>
          {need.why ? <span class="quiet"> ({need.why})</span> : null}
        </li>
      ))}
    </ol>
  );
}

function Assumed({ caseId, answer }: { caseId: number; answer: Answer }) {
  return (
    <ul class="assumptions">
      {answer.assumptions.map((one) => (
        <li key={one.field + one.what}>
          <span class="assumed">{t('sheet.assumed')}</span> {one.what}: <strong>{one.value}</strong>
          {one.source ? <span class="quiet"> ({one.source})</span> : null}{' '}
          {one.field ? <a href={entryHref(caseId, one.field)}>{t('sheet.enter_it')}</a> : null}
        </li>
      ))}
    </ul>
  );
}

/** Where an answer can be looked at, beside what it says. */
const SEEN: Readonly<Record<string, { part: CasePart; rest?: string; words: WordKey }>> = {
  stone: { part: 'bench', words: 'sheet.see.bench' },
  contacts: { part: 'space', words: 'sheet.see.space' },
  change: { part: 'enter', rest: 'change', words: 'sheet.see.change' },
  mounting: { part: 'enter', rest: 'followups', words: 'sheet.see.followups' },
};

function Elsewhere({ caseId, answer }: { caseId: number; answer: Answer }) {
  const seen = SEEN[answer.key];
  if (seen === undefined || (answer.state !== 'ready' && seen.part !== 'enter')) return null;
  return (
    <p>
      <LinkButton href={caseHref(caseId, seen.part, ...(seen.rest === undefined ? [] : [seen.rest]))}>
        {t(seen.words)}
      </LinkButton>
    </p>
  );
}

/** Questions whose answers may have pictures; drawn by the server, fetched when they are looked at. */
const PICTURED: ReadonlySet<string> = new Set([
  'record',
  'mounting',
  'contacts',
  'guidance',
  'change',
  'doubt',
]);

const Pictures = lazy(() => import('./pictures'));
const Message = lazy(() => import('./Message'));

/** Everything behind an answer, in the order in which a doubting reader asks for it. */
export function Evidence({ caseId, answer, open }: { caseId: number; answer: Answer; open: boolean }) {
  return (
    <div class="evidence">
      <Elsewhere caseId={caseId} answer={answer} />
      {open && PICTURED.has(answer.key) && answer.state === 'ready' ? (
        <Pictures caseId={caseId} question={answer.key} digest={answer.digest} />
      ) : null}
      {answer.reasons.length > 0 ? (
        <Part title={t('sheet.part.reasons')}>
          <Reasons caseId={caseId} answer={answer} />
        </Part>
      ) : null}
      {answer.needs.length > 0 ? (
        <Part title={t('sheet.part.needs')}>
          <Needs caseId={caseId} answer={answer} />
        </Part>
      ) : null}
      {answer.quantities.length > 0 ? (
        <Part title={t('sheet.part.quantities')}>
          <Quantities quantities={answer.quantities} />
        </Part>
      ) : null}
      {answer.assumptions.length > 0 ? (
        <Part title={t('sheet.part.assumptions')}>
          <Assumed caseId={caseId} answer={answer} />
        </Part>
      ) : null}
      {answer.tables.length > 0 ? (
        <Part title={t('sheet.part.tables')}>
          <div class="stack">
            {answer.tables.map((table) => (
              <DataTable key={table.title} table={table} />
            ))}
          </div>
        </Part>
      ) : null}
      {open && answer.key === 'mounting' && answer.state === 'ready' ? (
        <Message caseId={caseId} digest={answer.digest} />
      ) : null}
      {answer.notes.length > 0 ? (
        <Part title={t('sheet.part.notes')}>
          <Lines lines={answer.notes} />
        </Part>
      ) : null}
      {answer.cautions.length > 0 ? (
        <Part title={t('sheet.part.cautions')}>
          <Lines lines={answer.cautions} />
        </Part>
      ) : null}
      {answer.sources.length > 0 ? (
        <Part title={t('sheet.part.sources')}>
          <Lines lines={answer.sources} />
        </Part>
      ) : null}
    </div>
  );
}
