import { useRef, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Outcome } from '../api/outcome';
import type { Fault, Saved } from '../api/shapes';
import { works } from '../app/events';
import { caseHref, go } from '../app/route';
import { Button, Faults, Notice, Progress, TextField, WorkProgress } from '../app/ui';
import { t } from '../app/words';
import { BringIn } from './BringIn';

/** How far the demo is, as soon as the server has told of it, with a way to stop it. */
function MakingDemo() {
  const made = [...works.value.values()].find(
    (work) => work.name.startsWith('demo-') && work.state === 'going on',
  );
  return made === undefined ? (
    <Progress words={t('cases.making_demo')} />
  ) : (
    <WorkProgress key={made.name} work={made} />
  );
}

/** Three ways to a new case: by its code, the demo, or a file from elsewhere. */
export function NewCase() {
  const [code, setCode] = useState('');
  const [busy, setBusy] = useState<'code' | 'demo' | null>(null);
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const [away, setAway] = useState(false);
  const going = useRef(false);

  const begun = (outcome: Outcome<Saved>) => {
    setAway(outcome.kind === 'away');
    // What the person stopped needs no fault to say so.
    setFaults(
      outcome.kind === 'faults' ? outcome.faults.filter((fault) => fault.code !== 'work.stopped') : [],
    );
    if (outcome.kind === 'ok') go(caseHref(outcome.value.case.id, busyPart(outcome.value)));
  };
  const begin = async (demo: boolean) => {
    if (going.current) return; // a second press would begin a second case
    going.current = true;
    setBusy(demo ? 'demo' : 'code');
    const outcome = await ask(api.POST('/api/cases', { body: { code: demo ? '' : code.trim(), demo } }));
    going.current = false;
    setBusy(null);
    begun(outcome);
  };

  return (
    <section class="new-case" aria-labelledby="new-case-title">
      <h2 id="new-case-title">{t('cases.new')}</h2>
      <div class="new-case-ways">
        <form
          class="new-case-code"
          onSubmit={(event) => {
            event.preventDefault();
            void begin(false);
          }}
        >
          <TextField
            label={t('cases.new_code')}
            what={t('cases.new_code_what')}
            value={code}
            onValue={setCode}
            input={{ maxLength: 100 }}
          />
          <div class="row">
            <Button type="submit" look="main">
              {t('cases.begin')}
            </Button>
            <Button onClick={() => void begin(true)}>{t('cases.demo')}</Button>
          </div>
          <p class="small quiet">{t('cases.demo_what')}</p>
        </form>
        <BringIn onDone={begun} />
      </div>
      {busy === 'demo' ? <MakingDemo /> : null}
      <Faults faults={faults} />
      {away ? <Notice kind="ask">{t('app.link.nothing_changed')}</Notice> : null}
    </section>
  );
}

/** An empty case begins with entering; one with readings begins with its answers. */
const busyPart = (saved: Saved) =>
  saved.case.marks.length === 0 && saved.case.scans.length === 0 ? 'enter' : 'sheet';
