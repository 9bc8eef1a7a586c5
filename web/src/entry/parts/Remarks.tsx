/** What there is to say about an entry beside its box: whether it is saved, what is wrong, what it waits for. */
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import type { Shown } from '../core/shown';

/** What entries are called in a form, one behind the other. */
export function called(names: readonly string[]): string {
  const known = fields();
  return names.map((name) => (known && fieldAt(known, name)?.label) ?? name).join(', ');
}

export function Remarks({ id, shown }: { id: string; shown: Shown }) {
  return (
    <div id={id} class="remarks">
      {shown.wanting.length > 0 ? (
        <div class="field-state">{t('entry.kept_until', { wanting: called(shown.wanting) })}</div>
      ) : null}
      {shown.state === undefined || shown.typing ? null : (
        <div class="field-state">{t(`app.entry.${shown.state}`)}</div>
      )}
      {shown.faults.map((fault) => (
        <div key={`${fault.code} ${fault.what}`} class="field-fault">
          {fault.what} {fault.todo}
          {fault.allowed ? <span> {t('entry.allowed', { allowed: fault.allowed })}</span> : null}
        </div>
      ))}
    </div>
  );
}
