import { discard, outbox, retry } from '../outbox';
import type { Batch } from '../outbox/batch';
import { caseHref } from '../route';
import { Button, Dialog, Faults } from '../ui';
import { t } from '../words';

const valueOf = (value: unknown) => (typeof value === 'string' ? value : JSON.stringify(value));

function Waiting({ batch }: { batch: Batch }) {
  return (
    <li class="stack">
      <p>
        <a href={caseHref(batch.caseId)}>{t('app.outbox.case', { id: batch.caseId })}</a>{' '}
        <strong>{t(`app.entry.${batch.state}`)}</strong>
      </p>
      <ul class="small">
        {batch.edits.map((edit) => (
          <li key={edit.field}>
            <code>{edit.field}</code> {edit.value === null ? t('app.outbox.taken_out') : valueOf(edit.value)}
          </li>
        ))}
      </ul>
      <Faults faults={batch.faults ?? []} />
      {batch.state === 'refused' ? (
        <div class="row">
          <Button onClick={() => retry(batch.key)}>{t('app.again')}</Button>
          <Button onClick={() => discard(batch.key)}>{t('app.outbox.discard')}</Button>
        </div>
      ) : null}
      {batch.state === 'contested' ? (
        <a href={caseHref(batch.caseId, 'history', 'conflict')}>{t('app.outbox.to_conflict')}</a>
      ) : null}
    </li>
  );
}

/** Every entry that is not yet saved, and what can be done about it. */
export function OutboxWindow({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={t('app.outbox.title')} onClose={onClose}>
      <p>{t(outbox.value.length === 0 ? 'app.outbox.empty' : 'app.outbox.text')}</p>
      <ul class="stack">
        {outbox.value.map((batch) => (
          <Waiting key={batch.key} batch={batch} />
        ))}
      </ul>
    </Dialog>
  );
}
