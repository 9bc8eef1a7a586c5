export function SheetView({ caseId }: { caseId: number; rest: readonly string[] }) {
  return <h1 tabIndex={-1}>{caseId}</h1>;
}
