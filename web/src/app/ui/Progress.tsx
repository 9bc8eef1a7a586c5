import { api, ask } from '../../api/client';
import type { Work } from '../../api/shapes';
import { t } from '../words';
import { Button } from './Button';

type Props = {
  words: string;
  /** From 0 to 1; undefined while nobody knows. */
  part?: number | undefined;
  onCancel?: (() => void) | undefined;
};

/** How far something is, and a way to stop it. */
export function Progress({ words, part, onCancel }: Props) {
  return (
    <div class="progress" role="group" aria-label={words}>
      <div>
        <div>{words}</div>
        <progress value={part} max={1} aria-label={words} />
      </div>
      {onCancel ? <Button onClick={onCancel}>{t('app.cancel')}</Button> : null}
    </div>
  );
}

/** Long work of the server. Cancelling asks the server; the event that it stopped takes this away. */
export function WorkProgress({ work }: { work: Work }) {
  const cancel = () => void ask(api.DELETE('/api/work/{name}', { params: { path: { name: work.name } } }));
  return <Progress words={work.what} part={work.done} onCancel={cancel} />;
}
