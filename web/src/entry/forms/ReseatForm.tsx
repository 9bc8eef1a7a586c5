/** One record taken off and put back several times, the same pairs measured each time. */
import { Button } from '../../app/ui';
import { t } from '../../app/words';
import { focusEntry } from '../core/focus';
import { EVERY, nameOf } from '../core/names';
import { send, typedCase } from '../core/saving';
import { namesAt } from '../core/values';
import { named } from '../grid/columns';
import { Readings, useShape } from '../grid/Readings';
import { keptName } from '../parts/Adder';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';
import { PairAdder } from './MarksForm';

/** Seatings that a new table begins with: fewer say little about their scatter. */
const FIRST = ['1', '2', '3', '4', '5'];

export function ReseatForm({ caseId }: { caseId: number }) {
  const shape = useShape('reseat_mm');
  const records = namesAt(typedCase.value, 'records');
  const seating = (name: string) => t('entry.seating', { name });
  const next = `${shape.states.length + 1}`;
  const addSeating = () =>
    send(caseId, [{ field: nameOf('marks', 'reseat_mm', EVERY, next), value: {} }], seating(next));
  return (
    <>
      <EntryBox caseId={caseId} field="marks.reseat_record" choices={named(records)} />
      <Block title={t('entry.reseat_title')} text={t('entry.reseat_text')} field="marks.reseat_mm">
        {shape.pairs.length === 0 ? null : (
          <Readings
            caseId={caseId}
            table="reseat_mm"
            caption={t('entry.reseat_title')}
            corner={t('entry.pair')}
            stateWords={seating}
            onEnd={(frame) => void focusEntry(frame.closest('.block') ?? frame, keptName('reseat_pair'))}
          />
        )}
        <div class="adders">
          <PairAdder
            caseId={caseId}
            table="reseat_mm"
            pairs={shape.pairs}
            states={shape.states.length === 0 ? FIRST : shape.states}
          />
          {shape.pairs.length === 0 ? null : (
            <Button
              not={shape.states.includes(next) ? t('entry.taken', { name: next }) : undefined}
              onClick={addSeating}
            >
              {t('entry.add_seating')}
            </Button>
          )}
        </div>
      </Block>
    </>
  );
}
