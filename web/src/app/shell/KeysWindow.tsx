import { shortcuts } from '../settings';
import { Dialog } from '../ui';
import { t, type WordKey } from '../words';
import { KEYS, type Key } from './keys';

const WORDS: Record<Key, WordKey> = {
  c: 'app.view.cases',
  p: 'app.view.pours',
  s: 'app.part.sheet',
  e: 'app.part.enter',
  b: 'app.part.bench',
  m: 'app.part.space',
  h: 'app.part.history',
  n: 'app.keys.next',
  '/': 'app.keys.search',
  '?': 'app.keys.help',
};

/** What the keyboard does. */
export function KeysWindow({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={t('app.keys.title')} onClose={onClose}>
      <p>{t('app.keys.text')}</p>
      {shortcuts.value === 'off' ? <p>{t('app.keys.are_off')}</p> : null}
      <dl class="keys">
        {KEYS.map((key) => (
          <div key={key} class="keys-row">
            <dt>
              <kbd>{key}</kbd>
            </dt>
            <dd>{t(WORDS[key])}</dd>
          </div>
        ))}
      </dl>
    </Dialog>
  );
}
