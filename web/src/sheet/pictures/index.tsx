import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../../api/client';
import type { Fault, Shapes } from '../../api/shapes';
import { language } from '../../app/settings';
import { Faults, Notice } from '../../app/ui';
import { t } from '../../app/words';
import { Drawing } from './Drawing';
import './pictures.css';

type Props = { caseId: number; question: string; digest: string };
type State = { drawings: readonly Shapes['DrawingOut'][]; faults: readonly Fault[]; away: boolean };

const NOTHING: State = { drawings: [], faults: [], away: false };

/** The pictures behind one answer, as the server draws them. They stay until newer ones are there. */
export default function Pictures({ caseId, question, digest }: Props) {
  const [shown, setShown] = useState<State>();
  const tongue = language.value;
  useEffect(() => {
    let wanted = true;
    const path = { id: caseId, question };
    void ask(api.GET('/api/cases/{id}/pictures/{question}', { params: { path } })).then((got) => {
      if (!wanted) return;
      if (got.kind === 'ok') setShown({ ...NOTHING, drawings: got.value.drawings });
      else
        setShown({ ...NOTHING, faults: got.kind === 'faults' ? got.faults : [], away: got.kind === 'away' });
    });
    return () => {
      wanted = false;
    };
  }, [caseId, question, digest, tongue]);
  if (shown === undefined) return <p class="quiet">{t('sheet.pictures_coming')}</p>;
  return (
    <div class="pictures">
      <Faults faults={shown.faults} />
      {shown.away ? <Notice kind="ask">{t('app.link.down')}</Notice> : null}
      {shown.drawings.map((drawing) => (
        <Drawing key={drawing.name} drawing={drawing} />
      ))}
    </div>
  );
}
