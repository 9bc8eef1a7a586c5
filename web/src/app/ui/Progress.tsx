import { useState } from 'preact/hooks';
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

/** Long work of the server. It stops at its next word of progress: until then it says that it was told to. */
export function WorkProgress({ work }: { work: Work }) {
  const [told, setTold] = useState(false);
  const cancel = async () => {
    setTold(true);
    const got = await ask(api.DELETE('/api/work/{name}', { params: { path: { name: work.name } } }));
    if (got.kind !== 'ok') setTold(false);
  };
  return (
    <Progress
      words={told ? t('app.stopping', { what: work.what }) : work.what}
      part={work.done}
      onCancel={told ? undefined : () => void cancel()}
    />
  );
}
