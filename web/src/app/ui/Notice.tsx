import type { ComponentChildren } from 'preact';
import type { Fault } from '../../api/shapes';

/** A boxed remark. Faults interrupt a screen reader, the others do not. */
export function Notice({ kind, children }: { kind: 'fault' | 'ask' | 'note'; children: ComponentChildren }) {
  return (
    <div class={`notice notice-${kind}`} role={kind === 'fault' ? 'alert' : undefined}>
      {children}
    </div>
  );
}

/** Every fault: what is wrong, where, and what to do. Shows nothing where there is none. */
export function Faults({ faults }: { faults: readonly Fault[] }) {
  if (faults.length === 0) return null;
  return (
    <Notice kind="fault">
      {faults.map((fault) => (
        <p key={`${fault.code} ${fault.field} ${fault.what}`}>
          {fault.where ? `${fault.where}: ` : null}
          <strong>{fault.what}</strong> {fault.todo}
        </p>
      ))}
    </Notice>
  );
}
