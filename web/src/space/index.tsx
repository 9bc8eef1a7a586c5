import { caseHref } from '../app/route';
import { t } from '../app/words';
import { Picture } from './picture';
import { ScansIn } from './scans';
import './space.css';

const TABS = ['picture', 'scans'] as const;

/** The casts in space, and how their scans come in and are placed. `rest`: nothing, `scans`, or `field` and an entry. */
export default function View({ caseId, rest }: { caseId: number; rest: readonly string[] }) {
  const at = rest[0] === undefined ? 'picture' : 'scans';
  return (
    <div class="space stack">
      <div class="row space-head">
        <h1 tabIndex={-1}>{t(`space.title.${at}`)}</h1>
        <nav aria-label={t('space.parts')}>
          <ul class="tabs">
            {TABS.map((name) => (
              <li key={name}>
                <a
                  class="tab"
                  href={name === 'picture' ? caseHref(caseId, 'space') : caseHref(caseId, 'space', name)}
                  aria-current={name === at ? 'page' : undefined}
                >
                  {t(`space.tab.${name}`)}
                </a>
              </li>
            ))}
          </ul>
        </nav>
      </div>
      {at === 'picture' ? (
        <Picture caseId={caseId} />
      ) : (
        <ScansIn caseId={caseId} field={rest[0] === 'field' ? (rest[1] ?? '') : ''} />
      )}
    </div>
  );
}
