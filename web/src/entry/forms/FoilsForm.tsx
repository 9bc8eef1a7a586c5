/** Foils: in which relation, where, how thick, and which teeth held it, dragged on it or let it go. */
import { theCase } from '../../app/current';
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { Chart, type ToothState } from '../chart/Chart';
import { listWith, moved } from '../chart/lists';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { NEW, under } from '../core/names';
import { valueOf } from '../core/reading';
import { handOn, held, send, takeOut, typedCase } from '../core/saving';
import { useShown } from '../core/shown';
import { isGroup, itemsAt, teethIn, textOf, type Json } from '../core/values';
import { EntryBox } from '../parts/EntryBox';
import { called } from '../parts/Remarks';

export function FoilsForm({ caseId }: { caseId: number }) {
  const foils = itemsAt(typedCase.value, 'foils');
  return (
    <div class="stack" data-field="foils">
      <p class="block-text">{t('entry.foils_text')}</p>
      {foils.map((foil, at) => (
        <FoilCard key={at} caseId={caseId} foil={foil} at={at + 1} />
      ))}
      <NewFoil caseId={caseId} />
    </div>
  );
}

const ASKED = ['where', 'relation', 'thickness_um', 'closure'];

/** What a foil test is called: where, in which relation, how thick. */
function titleOf(foil: Json, at: number): string {
  const known = fields();
  const part = (step: string) => (isGroup(foil) ? textOf(foil[step]) : '');
  const words = (step: string) =>
    (known &&
      fieldAt(known, under('foils', at, step))?.choices.find((one) => one.value === part(step))?.words) ??
    part(step);
  const thickness = part('thickness_um');
  return t('entry.foil_title', { at, where: words('where'), relation: words('relation'), thickness });
}

function FoilCard({ caseId, foil, at }: { caseId: number; foil: Json; at: number }) {
  const field = (step: string) => under('foils', at, step);
  const title = titleOf(foil, at);
  return (
    <section class="block foil" aria-label={title} data-field={under('foils', at)}>
      <div class="row foil-head">
        <h3 tabIndex={-1}>{title}</h3>
        <Button
          look="plain"
          aria-label={t('entry.take_out_of', { name: title })}
          onClick={() => takeOut(caseId, under('foils', at), title)}
        >
          {t('entry.take_out')}
        </Button>
      </div>
      <div class="foil-parts">
        <FoilChart caseId={caseId} at={at} title={title} />
        <div class="stack">
          {[...ASKED, 'others_free', 'held', 'drags', 'free'].map((step) => (
            <EntryBox key={step} caseId={caseId} field={field(step)} />
          ))}
        </div>
      </div>
    </section>
  );
}

function FoilChart({ caseId, at, title }: { caseId: number; at: number; title: string }) {
  const lists = {
    held: useShown(caseId, under('foils', at, 'held')).text,
    drags: useShown(caseId, under('foils', at, 'drags')).text,
    free: useShown(caseId, under('foils', at, 'free')).text,
  };
  const othersFree = useShown(caseId, under('foils', at, 'others_free')).text === 'true';
  const missing = teethIn(useShown(caseId, 'dentition.missing').text);
  const states: ToothState[] = [
    { key: 'held', words: t('entry.held'), letter: t('entry.letter_held'), pattern: 'solid' },
    { key: 'drags', words: t('entry.drags'), letter: t('entry.letter_drags'), pattern: 'lines' },
    { key: 'free', words: t('entry.free'), letter: t('entry.letter_free'), pattern: 'dots' },
  ];
  const set = (number: string, state: string | undefined) => {
    const changed = Object.entries(moved(lists, number, state));
    send(
      caseId,
      changed.map(([key, text]) => ({ field: under('foils', at, key), value: valueOf('teeth', text) })),
      // Taps one after the other may go off together.
      title,
    );
  };
  return (
    <Chart
      label={t('entry.chart_of', { title })}
      numbering={theCase.value?.numbering ?? 'iso3950'}
      states={states}
      stateOf={(number) => listWith(lists, number)}
      others={
        othersFree
          ? { words: t('entry.others_free'), letter: t('entry.letter_free').toLowerCase() }
          : undefined
      }
      missing={missing}
      onState={set}
    />
  );
}

function NewFoil({ caseId }: { caseId: number }) {
  const wanting = held(under('foils', NEW, 'where'))?.wanting ?? [];
  const add = () => void handOn(caseId, under('foils', NEW, 'where'), t('entry.add_foil'));
  return (
    <section class="block" aria-label={t('entry.add_foil')}>
      <h3>{t('entry.add_foil')}</h3>
      <div class="boxes">
        {ASKED.map((step) => (
          <EntryBox key={step} caseId={caseId} field={under('foils', NEW, step)} heldBack />
        ))}
      </div>
      <Button
        look={wanting.length > 0 ? 'usual' : 'main'}
        not={wanting.length > 0 ? t('entry.still_wanted', { wanting: called(wanting) }) : undefined}
        onClick={add}
      >
        {t('entry.add_foil')}
      </Button>
    </section>
  );
}
