import { useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Conflict, Fault, Revision } from '../api/shapes';
import { taken, theCase } from '../app/current';
import { caseHref } from '../app/route';
import { Button, Faults, Fold, LinkButton, Moment, Notice, say } from '../app/ui';
import { t } from '../app/words';
import { Changes, Value } from './Changes';
import { labelOf } from './labels';
import { useHistory } from './useHistory';

type Refusal = { number: number; faults: readonly Fault[]; conflicts: readonly Conflict[]; away: boolean };

/** Later changes that stand in the way of taking one back: what stands there now is shown, nothing is overwritten. */
function InTheWay({ conflicts }: { conflicts: readonly Conflict[] }) {
  if (conflicts.length === 0) return null;
  return (
    <Notice kind="ask">
      <p>{t('history.in_the_way')}</p>
      <ul>
        {conflicts.map((one) => (
          <li key={one.field}>
            {labelOf(one.field)}: <Value value={one.theirs} /> ({one.who}, <Moment at={one.at} />)
          </li>
        ))}
      </ul>
    </Notice>
  );
}

type LineProps = {
  caseId: number;
  one: Revision;
  /** The revision before, unless this is the first. */
  before: number | undefined;
  first: boolean;
  refusal: Refusal | null;
  onUndo: (number: number) => void;
};

function Line({ caseId, one, before, first, refusal, onUndo }: LineProps) {
  const [open, setOpen] = useState(first);
  const head = (
    <span class="revision-line">
      <strong>{t('app.revision', { revision: one.number })}</strong>
      <span>{one.what}</span>
      <span class="quiet small">
        {one.who ? `${one.who}, ` : null}
        <Moment at={one.at} />
      </span>
    </span>
  );
  return (
    <li class="revision">
      <Fold level={2} head={head} open={open} onOpen={setOpen}>
        <div class="stack revision-body">
          <Changes caseId={caseId} changes={one.changes} />
          {before === undefined ? null : (
            <div class="row">
              <Button onClick={() => onUndo(one.number)}>{t('history.undo')}</Button>
              <LinkButton href={caseHref(caseId, 'history', 'compare', `${before}`, `${one.number}`)}>
                {t('history.compare_before')}
              </LinkButton>
            </div>
          )}
          {refusal === null ? null : (
            <>
              <Faults faults={refusal.faults} />
              <InTheWay conflicts={refusal.conflicts} />
              {refusal.away ? <Notice kind="ask">{t('app.link.nothing_changed')}</Notice> : null}
            </>
          )}
        </div>
      </Fold>
    </li>
  );
}

/** Every revision: who changed what, and a way to take it back, which is a revision of its own. */
export function Revisions({ caseId }: { caseId: number }) {
  const { revisions, faults } = useHistory(caseId);
  const [refusal, setRefusal] = useState<Refusal | null>(null);
  const undo = async (number: number) => {
    const path = { id: caseId };
    const got = taken(await ask(api.POST('/api/cases/{id}/undo', { params: { path }, body: { number } })));
    if (got.kind === 'ok') {
      setRefusal(null);
      say(t('history.undone', { revision: number }));
      return;
    }
    setRefusal({
      number,
      away: got.kind === 'away',
      faults: got.kind === 'faults' ? got.faults : [],
      conflicts: got.kind === 'conflicts' ? got.conflicts.conflicts : [],
    });
  };
  if (revisions === null) {
    return faults.length > 0 ? <Faults faults={faults} /> : <p class="quiet">{t('app.opening')}</p>;
  }
  return (
    <>
      <Faults faults={faults} />
      <p class="quiet">{t('history.text')}</p>
      <ol class="questions">
        {revisions.map((one, at) => (
          <Line
            key={one.number}
            caseId={caseId}
            one={one}
            before={revisions[at + 1]?.number}
            first={one.number === theCase.value?.revision}
            refusal={refusal?.number === one.number ? refusal : null}
            onUndo={(number) => void undo(number)}
          />
        ))}
      </ol>
    </>
  );
}
