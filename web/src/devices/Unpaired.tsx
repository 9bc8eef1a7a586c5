import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Fault } from '../api/shapes';
import { go, route, viewHref } from '../app/route';
import { Button, Faults, Notice, TextField } from '../app/ui';
import { t } from '../app/words';

/** The code in the address that the picture at the desk leads to. */
export function codeIn(view: string, rest: readonly string[]): string {
  return view === 'devices' && rest[0] === 'pair' ? (rest[1] ?? '') : '';
}

/** Whether this browser is at the desk (the program shows it the way in) or elsewhere (a code lets it in). */
type Where = 'asking' | 'desk' | 'elsewhere';

/** What a browser sees that was not let in: how to come in from where it is. */
export function Unpaired() {
  const [where, setWhere] = useState<Where>('asking');
  useEffect(() => {
    void ask(api.GET('/api/about')).then((got) => {
      if (got.kind !== 'faults') return;
      setWhere(got.faults.some((fault) => fault.code === 'request.key') ? 'desk' : 'elsewhere');
    });
  }, []);
  return (
    <div class="devices stack">
      <h1 tabIndex={-1}>{t('app.link.locked')}</h1>
      {where === 'asking' ? <p class="quiet">{t('app.opening')}</p> : null}
      {where === 'desk' ? <p>{t('devices.desk_how')}</p> : null}
      {where === 'elsewhere' ? <Pair /> : null}
    </div>
  );
}

function Pair() {
  const at = route.value;
  const [code, setCode] = useState(at.view === 'nowhere' ? '' : codeIn(at.view, at.rest));
  const [name, setName] = useState(t('devices.tablet'));
  const [faults, setFaults] = useState<Fault[]>([]);
  const [away, setAway] = useState(false);
  const [sent, setSent] = useState(false);

  const pair = async (event: Event) => {
    event.preventDefault();
    if (sent) return;
    setSent(true);
    const got = await ask(api.POST('/api/pair', { body: { code, name } }));
    setSent(false);
    setAway(got.kind === 'away');
    setFaults(got.kind === 'faults' ? got.faults : []);
    if (got.kind !== 'ok') return;
    go(viewHref('cases'));
    location.reload();
  };

  return (
    <form class="stack pair" onSubmit={(event) => void pair(event)}>
      <p>{t('devices.pair_how')}</p>
      <TextField
        label={t('devices.code')}
        what={t('devices.code_what')}
        value={code}
        onValue={setCode}
        input={{ maxLength: 40, inputMode: 'text' }}
      />
      <TextField
        label={t('devices.name')}
        what={t('devices.name_what')}
        value={name}
        onValue={setName}
        input={{ maxLength: 60 }}
      />
      <Faults faults={faults} />
      {away ? (
        <Notice kind="ask">
          <p>{t('app.link.nothing_changed')}</p>
        </Notice>
      ) : null}
      <div class="row">
        <Button type="submit" look="main" not={code.trim() === '' ? t('devices.code_first') : undefined}>
          {t('devices.pair')}
        </Button>
      </div>
    </form>
  );
}
