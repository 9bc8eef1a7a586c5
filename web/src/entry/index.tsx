/** The forms of a case: a list of them, the form in hand, and the answers beside it as they are with what is typed. */
import type { VNode } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { theCase } from '../app/current';
import { discard, outbox } from '../app/outbox';
import { caseHref } from '../app/route';
import { Button, Faults, Notice, say } from '../app/ui';
import { t } from '../app/words';
import { draft, draftsKept } from './core/drafts';
import { focusEntry, focusNear, focusNext } from './core/focus';
import { fields, learn, notKnown } from './core/knowledge';
import { useHeard } from './core/listen';
import { restore } from './core/saving';
import { watchTyping } from './core/trying';
import { depth, redo, refusal, undo } from './core/undoing';
import { Strip } from './Strip';
import './entry.css';
import { CaliperForm } from './forms/CaliperForm';
import { BasesForm } from './forms/BasesForm';
import { CaseForm } from './forms/CaseForm';
import { CastsForm } from './forms/CastsForm';
import { ChangeForm } from './forms/ChangeForm';
import { FacebowForm } from './forms/FacebowForm';
import { FoilsForm } from './forms/FoilsForm';
import { FollowupsForm } from './forms/FollowupsForm';
import { InstrumentForm } from './forms/InstrumentForm';
import { LimitsForm } from './forms/LimitsForm';
import { MarksForm } from './forms/MarksForm';
import { PinForm } from './forms/PinForm';
import { PrescriptionForm } from './forms/PrescriptionForm';
import { ProofForm } from './forms/ProofForm';
import { RecordsForm } from './forms/RecordsForm';
import { ReseatForm } from './forms/ReseatForm';
import { SettingsForm } from './forms/SettingsForm';
import { SpaceForm } from './forms/SpaceForm';
import { StoneForm } from './forms/StoneForm';
import { TeethForm } from './forms/TeethForm';
import { StepsForm } from './forms/StepsForm';
import { called } from './parts/Remarks';
import { Said } from './parts/Said';
import { BEARS_ON, HOLDS, readRest, SECTIONS, type Section } from './sections';

type Form = (props: { caseId: number }) => VNode;

const FORM: Readonly<Record<Section, Form>> = {
  case: CaseForm,
  teeth: TeethForm,
  instrument: InstrumentForm,
  facebow: FacebowForm,
  caliper: CaliperForm,
  casts: CastsForm,
  records: RecordsForm,
  marks: MarksForm,
  reseat: ReseatForm,
  pin: PinForm,
  stone: StoneForm,
  foils: FoilsForm,
  proof: ProofForm,
  settings: SettingsForm,
  space: SpaceForm,
  change: ChangeForm,
  prescription: PrescriptionForm,
  followups: FollowupsForm,
  bases: BasesForm,
  steps: StepsForm,
  limits: LimitsForm,
};

export default function Entry({ caseId, rest }: { caseId: number; rest: readonly string[] }): VNode {
  const { section, field } = readRest(rest);
  const page = useRef<HTMLDivElement>(null);
  useEffect(() => learn(), []);
  useEffect(() => watchTyping(), []);
  useHeard(page, 'keydown', (event) => onKeyDown(event, caseId));
  const known = fields() !== null;
  useEffect(() => {
    if (!known || field === '' || page.current === null) return;
    focusNear(page.current, field);
  }, [known, field, caseId]);
  const FormInHand = FORM[section];
  const keys = BEARS_ON[section];
  return (
    <div ref={page} class={keys.length === 0 ? 'entry' : 'entry entry-with-strip'}>
      <h1 class="unseen" tabIndex={-1}>
        {t('entry.title')}
      </h1>
      <Sections caseId={caseId} section={section} />
      <Strip caseId={caseId} keys={keys} />
      <div class="form">
        <FormHead caseId={caseId} section={section} />
        {known ? (
          <>
            <FormInHand key={`${caseId} ${section}`} caseId={caseId} />
            <Said
              caseId={caseId}
              fields={HOLDS[section]}
              except={[
                'instrument.pin.calibration',
                'instrument.pin.mm_per_mark',
                'instrument.pin.zero_reads',
              ]}
            />
            <NextForm caseId={caseId} section={section} />
          </>
        ) : (
          <NotKnown />
        )}
      </div>
    </div>
  );
}

function NotKnown() {
  return notKnown.value.length > 0 ? (
    <Faults faults={notKnown.value} />
  ) : (
    <p class="quiet">{t('app.opening')}</p>
  );
}

function Sections({ caseId, section }: { caseId: number; section: Section }) {
  return (
    <nav class="sections" aria-label={t('entry.forms')}>
      <ul>
        {SECTIONS.map((name) => (
          <li key={name}>
            <a
              href={caseHref(caseId, 'enter', name)}
              aria-current={name === section ? 'page' : undefined}
              class="section-link"
            >
              {t(`entry.form_${name}`)}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}

/** The name of the form, taking back, and what could not be saved or taken back. */
function FormHead({ caseId, section }: { caseId: number; section: Section }) {
  const { undo: back, redo: again } = depth.value;
  return (
    <div class="form-head">
      <div class="row form-title">
        <h2 tabIndex={-1}>{t(`entry.form_${section}`)}</h2>
        <Button
          not={back === 0 ? t('entry.nothing_to_undo') : undefined}
          aria-keyshortcuts="Control+Z"
          onClick={() => void takeBack(caseId, undo)}
        >
          {t('entry.undo')}
        </Button>
        {again === 0 ? null : (
          <Button aria-keyshortcuts="Control+Shift+Z" onClick={() => void takeBack(caseId, redo)}>
            {t('entry.redo')}
          </Button>
        )}
      </div>
      {theCase.value?.newest === false ? <Notice kind="ask">{t('entry.not_newest')}</Notice> : null}
      {draftsKept.value ? null : <Notice kind="fault">{t('app.outbox.full')}</Notice>}
      <Faults faults={refusal.value} />
      <RefusedOut caseId={caseId} />
    </div>
  );
}

/** Something that cannot be taken out, because something else names it: it has no box that could say so. */
function RefusedOut({ caseId }: { caseId: number }) {
  const stuck = outbox.value.filter(
    (batch) =>
      batch.caseId === caseId && batch.state === 'refused' && batch.edits.some((edit) => edit.value === null),
  );
  return (
    <>
      {stuck.map((batch) => (
        <Notice key={batch.key} kind="fault">
          <p>{t('entry.not_taken_out', { names: called(batch.edits.map((edit) => edit.field)) })}</p>
          {(batch.faults ?? []).map((fault) => (
            <p key={fault.what}>
              <strong>{fault.what}</strong> {fault.todo}
            </p>
          ))}
          <Button onClick={() => discard(batch.key)}>{t('entry.leave_in')}</Button>
        </Notice>
      ))}
    </>
  );
}

function NextForm({ caseId, section }: { caseId: number; section: Section }) {
  const next = SECTIONS[SECTIONS.indexOf(section) + 1];
  if (next === undefined) return null;
  return (
    <p class="next-form">
      <a class="button" href={caseHref(caseId, 'enter', next)}>
        {t('entry.next_form', { name: t(`entry.form_${next}`) })}
      </a>
    </p>
  );
}

async function takeBack(caseId: number, way: typeof undo): Promise<void> {
  const changed = await way(caseId);
  if (changed.length === 0) return;
  say(t('entry.undone', { names: called(changed) }));
  focusEntry(document, changed[0] ?? '');
}

const isText = (box: HTMLElement) => box instanceof HTMLTextAreaElement;

/** Keys that hold in all forms: Enter goes on, Ctrl+Z takes back, Alt+Down goes to the question about a reading. */
function onKeyDown(event: KeyboardEvent, caseId: number): void {
  const box = event.target;
  if (!(box instanceof HTMLElement) || event.defaultPrevented) return;
  const field = box.dataset['entry'];
  const command = event.ctrlKey || event.metaKey;
  if (command && !event.altKey && (event.key === 'z' || event.key === 'Z' || event.key === 'y')) {
    // Inside a longer text the browser's own undo goes letter by letter.
    if (isText(box) && field !== undefined && draft(caseId, field) !== undefined) return;
    event.preventDefault();
    if (event.key === 'z' && !event.shiftKey) {
      if (field === undefined || !restore(caseId, field)) void takeBack(caseId, undo);
    } else void takeBack(caseId, redo);
    return;
  }
  if (field === undefined) return;
  const form = event.currentTarget as HTMLElement;
  if (event.key === 'ArrowDown' && event.altKey && !(box instanceof HTMLSelectElement)) {
    const question = [...form.querySelectorAll<HTMLElement>('[data-question]')].find(
      (one) => one.dataset['question'] === field,
    );
    question?.querySelector('button')?.focus();
    if (question !== undefined) event.preventDefault();
  }
  if (event.key === 'Enter' && !event.altKey && !event.shiftKey && !(isText(box) && !command)) {
    event.preventDefault();
    focusNext(form, box);
  }
}
