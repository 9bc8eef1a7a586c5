import { useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Case, Fault } from '../api/shapes';
import { taken } from '../app/current';
import { ChoiceField, Faults, Notice } from '../app/ui';
import { t } from '../app/words';
import { STATES, stateWords } from '../cases/states';

/** Where the case stands, to see and to change. */
export function Standing({ caseId, state }: { caseId: number; state: Case['state'] | undefined }) {
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const [away, setAway] = useState(false);
  if (state === undefined) return null;
  const change = async (value: string) => {
    const body = { state: value as Case['state'] };
    const got = taken(
      await ask(api.POST('/api/cases/{id}/state', { params: { path: { id: caseId } }, body })),
    );
    setAway(got.kind === 'away');
    setFaults(got.kind === 'faults' ? got.faults : []);
  };
  return (
    <div>
      <ChoiceField
        label={t('cases.state')}
        value={state}
        choices={STATES.map((value) => ({ value, words: stateWords(value) }))}
        onValue={(value) => void change(value)}
      />
      <Faults faults={faults} />
      {away ? <Notice kind="ask">{t('app.link.nothing_changed')}</Notice> : null}
    </div>
  );
}
