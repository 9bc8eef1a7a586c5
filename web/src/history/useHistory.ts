import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Fault, Revision } from '../api/shapes';
import { theCase } from '../app/current';
import { link } from '../app/events';

type Told = { revisions: readonly Revision[] | null; faults: readonly Fault[] };

/** Revisions of a case, the newest first; asked for again when there is a newer one. */
export function useHistory(caseId: number): Told {
  const [told, setTold] = useState<Told>({ revisions: null, faults: [] });
  const newest = theCase.value?.revision;
  const up = link.value;
  useEffect(() => {
    if (up === 'down') return;
    let wanted = true;
    void ask(api.GET('/api/cases/{id}/history', { params: { path: { id: caseId } } })).then((got) => {
      if (!wanted) return;
      if (got.kind === 'ok') setTold({ revisions: got.value, faults: [] });
      if (got.kind === 'faults') setTold((before) => ({ ...before, faults: got.faults }));
    });
    return () => {
      wanted = false;
    };
  }, [caseId, newest, up]);
  return told;
}
