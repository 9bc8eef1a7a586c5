export { Button, LinkButton } from './Button';
export { DataTable } from './DataTable';
export { Dialog } from './Dialog';
export { ChoiceField, Field, TextField, type Names } from './Field';
export { Fold } from './Fold';
export { Live, say } from './Live';
export { Faults, Notice } from './Notice';
export { Progress, WorkProgress } from './Progress';
export { Verdict } from './Verdict';
