import { Button } from '../../app/ui';
import { t } from '../../app/words';
import type { Pour } from './clock';
import { note } from './taps';

/** What a person notes of a pour that goes on: hands off, released. */
export function PourTaps({ pour }: { pour: Pour }) {
  const named = { code: pour.code, cast: pour.words };
  return (
    <>
      {pour.hands_off === null ? (
        <Button
          look="main"
          aria-label={t('bench.hands_off_of', named)}
          onClick={() => void note(pour, 'hands_off')}
        >
          {t('bench.hands_off')}
        </Button>
      ) : null}
      <Button aria-label={t('bench.released_of', named)} onClick={() => void note(pour, 'released')}>
        {t('bench.released')}
      </Button>
    </>
  );
}
