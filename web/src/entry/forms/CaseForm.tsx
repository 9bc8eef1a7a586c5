/** What the case is called, when and where it was measured. */
import { FieldsOf } from '../parts/Fields';

export const CaseForm = ({ caseId }: { caseId: number }) => (
  <FieldsOf caseId={caseId} names={['code', 'date', 'lab', 'by', 'course', 'note']} />
);
