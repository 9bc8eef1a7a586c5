import { useState } from 'preact/hooks';
import type { Conflict } from '../api/shapes';
import { choose, contested } from '../app/outbox';
import type { Batch } from '../app/outbox/batch';
import { Button, Moment, say } from '../app/ui';
import { t } from '../app/words';
import { EntryName, Value } from './Changes';

type Choice = 'mine' | 'theirs';

type LineProps = {
  conflict: Conflict;
  choice: Choice | undefined;
  onChoice: (choice: Choice) => void;
};

function Line({ conflict, choice, onChoice }: LineProps) {
  const radio = (which: Choice, value: string | null, words: string) => (
    <label class="conflict-value">
      <input type="radio" name={conflict.field} checked={choice === which} onChange={() => onChoice(which)} />
      <span>
        <Value value={value} />
        <span class="small quiet conflict-who">{words}</span>
      </span>
    </label>
  );
  return (
    <fieldset class="conflict">
      <legend>
        <EntryName field={conflict.field} />
      </legend>
      <p class="small">
        {t('history.conflict.base')} <Value value={conflict.base} />
      </p>
      {radio('mine', conflict.mine, t('history.conflict.mine'))}
      {radio(
        'theirs',
        conflict.theirs,
        t('history.conflict.theirs', { who: conflict.who || '?', revision: conflict.revision }),
      )}
      <p class="small quiet">
        <Moment at={conflict.at} />
      </p>
    </fieldset>
  );
}

function One({ batch }: { batch: Batch }) {
  const [choices, setChoices] = useState<Readonly<Record<string, Choice>>>({});
  const conflicts = batch.conflicts?.conflicts ?? [];
  const open = conflicts.filter((one) => !Object.hasOwn(choices, one.field));
  const save = () => {
    choose(batch.key, choices);
    say(t('history.conflict.done'));
  };
  return (
    <section class="stack">
      {conflicts.map((one) => (
        <Line
          key={one.field}
          conflict={one}
          choice={choices[one.field]}
          onChoice={(choice) => setChoices({ ...choices, [one.field]: choice })}
        />
      ))}
      <div class="row">
        <Button
          look="main"
          not={open.length > 0 ? t('history.conflict.choose_first', { count: open.length }) : undefined}
          onClick={save}
        >
          {t('history.conflict.save')}
        </Button>
      </div>
    </section>
  );
}

/** Entries that somebody else changed too: both values side by side; a person chooses, nothing is overwritten before. */
export function Conflicts({ caseId }: { caseId: number }) {
  const batches = contested(caseId);
  return (
    <>
      <h2>{t('history.conflicts')}</h2>
      <p>{t(batches.length === 0 ? 'history.conflict.none' : 'history.conflict.text')}</p>
      {batches.map((batch) => (
        <One key={batch.key} batch={batch} />
      ))}
    </>
  );
}
