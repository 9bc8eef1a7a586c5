import { useState } from 'preact/hooks';
import { Button, ChoiceField, Notice, say, TextField } from '../../app/ui';
import { t } from '../../app/words';
import type { Stage } from './list';
import { addToCase, addToInstrument, instrument, instrumentName } from './own';

type Whose = 'case' | 'instrument';
type Told = 'profile' | 'no_profile' | 'profile_later' | null;

/** Adds a step at the end of a part; its place is changed with the step itself. */
export function AddStep({ caseId, stage }: { caseId: number; stage: Stage }) {
  const [open, setOpen] = useState(false);
  const [words, setWords] = useState('');
  const [gate, setGate] = useState(false);
  const [whose, setWhose] = useState<Whose>('case');
  const [told, setTold] = useState<Told>(null);
  const called = instrumentName();
  const choices = [
    { value: 'case', words: t('bench.whose_case') },
    ...(instrument() === null
      ? []
      : [{ value: 'instrument', words: t('bench.whose_instrument', { name: called }) }]),
  ];
  const add = () => {
    const step = { words, stage, gate };
    if (whose === 'case') addToCase(caseId, step);
    else
      void addToInstrument(caseId, step).then((got) => {
        setTold(got.kind !== 'ok' ? 'profile_later' : got.value === undefined ? 'no_profile' : 'profile');
      });
    say(t('bench.added', { step: words }));
    setWords('');
    setGate(false);
    setWhose('case');
    setOpen(false);
    setTold(null);
  };
  return (
    <div class="add-step">
      {told === null ? null : (
        <Notice kind={told === 'profile' ? 'note' : 'ask'}>
          {t(`bench.told_${told}`, { name: called })}
        </Notice>
      )}
      <Button look="plain" aria-expanded={open} onClick={() => setOpen(!open)}>
        {t('bench.add_step')}
      </Button>
      {open ? (
        <form
          class="step-more"
          onSubmit={(event) => {
            event.preventDefault();
            if (words.trim() !== '') add();
          }}
        >
          <TextField
            label={t('bench.new_words')}
            value={words}
            onValue={setWords}
            input={{ maxLength: 200 }}
          />
          <ChoiceField
            label={t('bench.whose')}
            what={instrument() === null ? t('bench.whose_none') : t('bench.whose_what')}
            value={whose}
            choices={choices}
            onValue={(value) => setWhose(value === 'instrument' ? 'instrument' : 'case')}
          />
          <div class="row">
            <Button aria-pressed={gate} onClick={() => setGate(!gate)}>
              {t('bench.is_gate')}
            </Button>
            <Button look="main" type="submit" not={words.trim() === '' ? t('bench.words_first') : undefined}>
              {t('bench.add')}
            </Button>
          </div>
        </form>
      ) : null}
    </div>
  );
}
