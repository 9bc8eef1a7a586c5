import type { ComponentChildren } from 'preact';
import { refused, theCase } from '../current';
import { link } from '../events';
import { viewHref } from '../route';
import { Faults } from '../ui';
import { t } from '../words';

/** Shows a part of a case once the case is there, and says why where it is not. */
export function CaseGate({ children }: { children: ComponentChildren }) {
  if (theCase.value !== null) return <>{children}</>;
  if (refused.value.length > 0) {
    return (
      <div class="stack">
        <h1 tabIndex={-1}>{t('app.no_case')}</h1>
        <Faults faults={refused.value} />
        <p>
          <a href={viewHref('cases')}>{t('app.view.cases')}</a>
        </p>
      </div>
    );
  }
  return <p class="quiet">{t(link.value === 'down' ? 'app.link.down' : 'app.opening')}</p>;
}
