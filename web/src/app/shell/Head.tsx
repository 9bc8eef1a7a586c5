import { viewHref, type Route } from '../route';
import { LANGUAGES, language, who } from '../settings';
import { Button } from '../ui';
import { t } from '../words';
import { Unsaved } from './Unsaved';
import { openWindow } from './windows';

const VIEWS = ['cases', 'pours', 'practice', 'devices'] as const;

/** The line at the top: where to go, whether all is saved, language, who works. */
export function Head({ at }: { at: Route }) {
  return (
    <header class="head">
      <div class="head-in">
        <a class="head-name" href={viewHref('cases')}>
          {t('app.name')}
        </a>
        <nav aria-label={t('app.views')}>
          <ul class="tabs">
            {VIEWS.map((view) => (
              <li key={view}>
                <a class="tab" href={viewHref(view)} aria-current={at.view === view ? 'page' : undefined}>
                  {t(`app.view.${view}`)}
                </a>
              </li>
            ))}
          </ul>
        </nav>
        <div class="head-end">
          <Unsaved />
          {LANGUAGES.map((lang) => (
            <Button
              key={lang}
              look="plain"
              lang={lang}
              aria-pressed={language.value === lang}
              aria-label={`${lang.toUpperCase()} ${t(`app.language.${lang}`)}`}
              onClick={() => (language.value = lang)}
            >
              {lang.toUpperCase()}
            </Button>
          ))}
          <Button
            look="plain"
            aria-label={who.value === '' ? undefined : t('app.who.is', { who: who.value })}
            onClick={() => openWindow('who')}
          >
            {who.value === '' ? t('app.who.ask') : who.value}
          </Button>
          <Button look="plain" onClick={() => openWindow('settings')}>
            {t('app.settings')}
          </Button>
        </div>
      </div>
    </header>
  );
}
