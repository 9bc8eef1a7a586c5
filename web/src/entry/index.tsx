/** The view of this area; loaded when it is first asked for. */
export default function View({ caseId, rest }: { caseId: number; rest: readonly string[] }) {
  return <h1 tabIndex={-1}>{[caseId, ...rest].join(' ')}</h1>;
}
