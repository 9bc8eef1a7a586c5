import { t } from '../../app/words';
import type { SceneOut } from './scene';

/** What the lines of the instrument are, in words. */
export function Lines({ of }: { of: SceneOut }) {
  return (
    <section class="lines" aria-label={t('space.lines')}>
      <h2>{t('space.lines')}</h2>
      <ul>
        {of.lines.map((line) => (
          <li key={line.key}>
            {line.words}
            {line.assumed ? <span class="assumed">{t('space.assumed')}</span> : null}
          </li>
        ))}
      </ul>
      <p class="small quiet">{t('space.frame')}</p>
    </section>
  );
}
