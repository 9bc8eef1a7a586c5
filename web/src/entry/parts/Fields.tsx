/** Several entries beside each other, as far as there is room. */
import { EntryBox } from './EntryBox';

export function FieldsOf({ caseId, names }: { caseId: number; names: readonly string[] }) {
  return (
    <div class="boxes">
      {names.map((name) => (
        <EntryBox key={name} caseId={caseId} field={name} />
      ))}
    </div>
  );
}
