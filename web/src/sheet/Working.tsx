import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Answer, Work } from '../api/shapes';
import { reloadSheet, take } from '../app/current';
import { works } from '../app/events';
import { Button, Faults, Notice, Progress, WorkProgress } from '../app/ui';
import { t } from '../app/words';

/** What is known of long work: from its events, or asked for where the page came later than the last of them. */
function useWork(name: string | null): Work | undefined {
  const [found, setFound] = useState<Work>();
  const heard = name === null ? undefined : works.value.get(name);
  const known = heard !== undefined;
  useEffect(() => {
    setFound(undefined);
    if (name === null || known) return;
    void ask(api.GET('/api/work/{name}', { params: { path: { name } } })).then((got) => {
      if (got.kind === 'ok') setFound(got.value);
    });
  }, [name, known]);
  return heard ?? found;
}

/** Looks again now and then while answers are awaited and nothing is known to be going on: an event may be lost. */
function useLookAgain(waits: boolean): void {
  useEffect(() => {
    if (!waits) return undefined;
    const timer = setInterval(() => void reloadSheet(), LOOK_AGAIN_MS);
    return () => clearInterval(timer);
  }, [waits]);
}

const LOOK_AGAIN_MS = 3000;

type Props = { work: string | null; answers: readonly Answer[]; caseId: number };

/** How far the scans are worked on, with a way to stop; a way to go on where somebody did, or where it went wrong. */
export function Working({ work, answers, caseId }: Props) {
  const found = useWork(work);
  const waits = answers.some((answer) => answer.state === 'working');
  useLookAgain(waits && found?.state !== 'going on');
  const again = async () => {
    const call = api.POST('/api/cases/{id}/sheet', { params: { path: { id: caseId } } });
    const got = await ask(call);
    if (got.kind === 'ok') take({ sheet: got.value });
    else void reloadSheet();
  };
  if (found?.state === 'going on') return <WorkProgress work={found} />;
  if (answers.some((answer) => answer.state === 'stopped')) {
    return (
      <Notice kind="ask">
        <p>{t('sheet.stopped')}</p>
        <Faults faults={found?.faults ?? []} />
        <Button onClick={() => void again()}>{t('sheet.begin_again')}</Button>
      </Notice>
    );
  }
  return waits ? <Progress words={t('sheet.working')} /> : null;
}
