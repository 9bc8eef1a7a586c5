import { viewHref } from '../app/route';
import { LinkButton } from '../app/ui';
import { t } from '../app/words';
import './cases.css';
import { Found } from './Found';
import { NewCase } from './NewCase';
import { Search } from './Search';

/** Every case of the store: to find one, to begin one. */
export function Cases() {
  return (
    <div class="cases stack">
      <h1 tabIndex={-1}>{t('app.view.cases')}</h1>
      <NewCase />
      <Search />
      <Found />
      <p>
        <LinkButton href={viewHref('practice')}>{t('app.view.practice')}</LinkButton>
      </p>
    </div>
  );
}
