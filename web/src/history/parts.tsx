import { contested } from '../app/outbox';
import { caseHref } from '../app/route';
import { t } from '../app/words';

/** Title of the history and the ways through it. */
export function CasePart({ caseId, part }: { caseId: number; part: string | undefined }) {
  const open = contested(caseId).length;
  const current = (name: string | undefined) => (part === name ? 'page' : undefined);
  return (
    <div>
      <h1 tabIndex={-1}>{t('history.title')}</h1>
      <nav aria-label={t('history.title')}>
        <ul class="tabs">
          <li>
            <a class="tab" href={caseHref(caseId, 'history')} aria-current={current(undefined)}>
              {t('history.revisions')}
            </a>
          </li>
          <li>
            <a class="tab" href={caseHref(caseId, 'history', 'compare')} aria-current={current('compare')}>
              {t('history.compare')}
            </a>
          </li>
          <li>
            <a class="tab" href={caseHref(caseId, 'history', 'conflict')} aria-current={current('conflict')}>
              {open > 0 ? t('history.conflicts_open', { count: open }) : t('history.conflicts')}
            </a>
          </li>
        </ul>
      </nav>
    </div>
  );
}
