import { useEffect, useState } from 'preact/hooks';
import { theCase } from '../../app/current';
import { Button, Fold } from '../../app/ui';
import { t } from '../../app/words';
import { enter } from '../../app/outbox';
import { nameOf, under } from '../../entry/core/names';
import { byMoment, digits, dueOf, type Pour } from '../wall/clock';
import { all, follow } from '../wall/list';
import { now, watchClock } from '../wall/now';
import { TakeBack, Unsent } from '../wall/Slips';
import { PourTaps } from '../wall/PourTaps';
import { beginPour, type Cast } from '../wall/taps';
import { TypedLine, TypedMoment } from './Typed';

const CASTS: readonly Cast[] = ['upper', 'lower'];

/** The pours of this case: begun with one tap, what goes on, and what was noted, to be put right. */
export function CasePours({ caseId }: { caseId: number }) {
  useEffect(watchClock, []);
  useEffect(follow, []);
  const found = theCase.value;
  if (found === null) return null;
  const mine = (all.value ?? []).filter((pour) => pour.case_id === caseId);
  const at = { id: caseId, revision: found.revision, code: found.code };
  return (
    <section class="stack case-pours" aria-labelledby="case-pours">
      <h2 id="case-pours">{t('bench.pours_of_case')}</h2>
      <div class="row">
        {CASTS.map((cast) => (
          <Button key={cast} look="main" onClick={() => void beginPour(at, cast)}>
            {t(`bench.begin_${cast}`)}
          </Button>
        ))}
      </div>
      <TakeBack />
      <Unsent />
      {mine.length === 0 ? null : (
        <ul class="case-pour-list">
          {mine.map((pour) => (
            <Going key={pour.key} pour={pour} />
          ))}
        </ul>
      )}
      <Noted caseId={caseId} />
    </section>
  );
}

/** A pour that goes on, small: its place to be read from afar is the page of all pours. */
function Going({ pour }: { pour: Pour }) {
  const due = dueOf(pour, now.value);
  return (
    <li class="case-pour">
      <span class="case-pour-digits" role="timer" aria-live="off" aria-label={pour.words}>
        {due === null ? '' : digits(due, now.value)}
      </span>
      <span>
        <strong>{pour.words}</strong> {due?.marks.map((mark) => `${mark.words} ${mark.at_shown}`).join(' · ')}{' '}
        {due?.marks.some((mark) => mark.assumed) ? <span class="assumed">{t('bench.assumed')}</span> : null}
      </span>
      <PourTaps pour={pour} />
      {pour.asked.map((text) => (
        <p key={text} class="pour-asked">
          {text}
        </p>
      ))}
    </li>
  );
}

type Entered = Readonly<Record<string, unknown>>;
const known = (value: unknown): Entered =>
  typeof value === 'object' && value !== null ? (value as Entered) : {};
const text = (value: unknown): string =>
  typeof value === 'string' || typeof value === 'number' ? `${value}` : '';

const MOMENTS = ['powder_met_water', 'hands_off', 'released'] as const;
const TIMES = ['mix_s', 'work_min', 'set_min', 'release_min'] as const;

/** Every pour of the case as noted, its moments and its own times to be changed. */
function Noted({ caseId }: { caseId: number }) {
  const pours = known(theCase.value?.entered['pours']);
  const names = Object.keys(pours).sort((a, b) => byMoment(begunOf(pours, a), begunOf(pours, b)));
  return names.map((name) => <OneNoted key={name} caseId={caseId} name={name} pour={known(pours[name])} />);
}

const begunOf = (pours: Entered, name: string): string => text(known(pours[name])['powder_met_water']);

function OneNoted({ caseId, name, pour }: { caseId: number; name: string; pour: Entered }) {
  const [open, setOpen] = useState(false);
  const field = nameOf('pours', name);
  const change = (entry: string, value: string | null) =>
    void enter(
      caseId,
      theCase.peek()?.revision ?? 1,
      [{ field: under(field, entry), value: value === '' ? null : value }],
      name,
    );
  const entry = (one: string) => ({ caseId, field: under(field, one) });
  const moment = (one: string) => (text(pour[one]) === '' ? null : text(pour[one]));
  return (
    <div data-entry={field}>
      <Fold level={3} head={t('bench.noted', { name })} open={open} onOpen={setOpen}>
        <div class="step-more">
          {MOMENTS.map((one) => (
            <TypedMoment
              key={one}
              label={t(`bench.moment_${one}`)}
              entry={entry(one)}
              value={moment(one)}
              onValue={(value) => {
                if (value !== null || one !== 'powder_met_water') change(one, value);
              }}
            />
          ))}
          {TIMES.map((one) => (
            <TypedLine
              key={one}
              label={t(`bench.time_${one}`)}
              what={t('bench.time_what')}
              entry={entry(one)}
              value={text(pour[one])}
              onValue={(value) => change(one, value.trim())}
            />
          ))}
          <TypedLine
            label={t('bench.note')}
            entry={entry('note')}
            value={text(pour['note'])}
            onValue={(value) => change('note', value)}
          />
          <div class="row">
            <Button
              look="plain"
              onClick={() =>
                void enter(
                  caseId,
                  theCase.peek()?.revision ?? 1,
                  [{ field, value: null }],
                  'a pour taken out',
                )
              }
            >
              {t('bench.take_pour_out')}
            </Button>
          </div>
        </div>
      </Fold>
    </div>
  );
}
