import { useEffect } from 'preact/hooks';
import { learn } from '../entry/core/knowledge';
import { Compare } from './Compare';
import { Conflicts } from './Conflicts';
import './history.css';
import { CasePart } from './parts';
import { Revisions } from './Revisions';

/** History of the case in hand: its revisions, two of them side by side, entries that two people changed. */
export function History({ caseId, rest }: { caseId: number; rest: readonly string[] }) {
  const [part, a, b] = rest;
  useEffect(learn, []);
  return (
    <div class="stack">
      <CasePart caseId={caseId} part={part} />
      {part === 'conflict' ? (
        <Conflicts caseId={caseId} />
      ) : part === 'compare' ? (
        <Compare caseId={caseId} from={a} to={b} />
      ) : (
        <Revisions caseId={caseId} />
      )}
    </div>
  );
}
