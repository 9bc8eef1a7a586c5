/** What all cases come to together: is the bench in control, what carries the spread, how well records repeat, courses. */
import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Fault, Shapes } from '../api/shapes';
import { language } from '../app/settings';
import { Button, DataTable, Faults, Notice } from '../app/ui';
import { t } from '../app/words';
import { Drawing } from '../sheet/pictures/Drawing';
import '../sheet/pictures/pictures.css';

type Found = Shapes['PracticeOut'];
type State = { found?: Found; faults: readonly Fault[]; away: boolean };

export default function Practice() {
  const [state, setState] = useState<State>({ faults: [], away: false });
  const [asked, setAsked] = useState(0);
  const tongue = language.value;
  useEffect(() => {
    let wanted = true;
    // One question after the other until every case is read; leaving the page ends it.
    const read = async () => {
      for (;;) {
        const got = await ask(api.GET('/api/practice'));
        if (!wanted) return;
        if (got.kind !== 'ok') {
          setState({ faults: got.kind === 'faults' ? got.faults : [], away: got.kind === 'away' });
          return;
        }
        setState({ found: got.value, faults: [], away: false });
        if (got.value.together) return;
      }
    };
    void read();
    return () => {
      wanted = false;
    };
  }, [tongue, asked]);
  return (
    <div class="stack">
      <h1 tabIndex={-1}>{t('cases.together')}</h1>
      <Faults faults={state.faults} />
      {state.away ? <Notice kind="ask">{t('app.link.down')}</Notice> : null}
      {state.found === undefined ? null : <Read found={state.found} />}
      {state.found?.together || state.away || state.faults.length > 0 ? (
        <div class="row">
          <Button onClick={() => setAsked(asked + 1)}>{t('cases.read_again')}</Button>
        </div>
      ) : null}
    </div>
  );
}

function Read({ found }: { found: Found }) {
  if (!found.together) {
    return (
      <p role="status">
        {t('cases.reading', { read: found.read, cases: found.cases })}{' '}
        <progress max={found.cases} value={found.read} aria-label={t('cases.reading_label')} />
      </p>
    );
  }
  const { sentences, charts, clouds, tables, left_out } = found.together;
  return (
    <>
      <ul>
        {sentences.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
      {left_out.length === 0 ? null : (
        <ul>
          {left_out.map(({ code, why }) => (
            <li key={code}>{t('cases.left_out', { code, why })}</li>
          ))}
        </ul>
      )}
      <div class="pictures">
        {charts.map(({ drawing, sentences: told }) => (
          <section key={drawing.name}>
            <Drawing drawing={drawing} />
            <ul>
              {told.map((one) => (
                <li key={one}>{one}</li>
              ))}
            </ul>
          </section>
        ))}
        {clouds.map((drawing) => (
          <Drawing key={drawing.name} drawing={drawing} />
        ))}
      </div>
      {tables.map((table) => (
        <DataTable key={table.title} table={table} />
      ))}
    </>
  );
}
