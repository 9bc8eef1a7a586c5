import { ChoiceField, Field } from '../app/ui';
import { t } from '../app/words';
import { asked, type Asked } from './list';
import { STATES, stateWords } from './states';

/** What to look for, in which state, in which order. The list follows while one types. */
export function Search() {
  const now = asked.value;
  const set = (part: Partial<Asked>) => (asked.value = { ...now, ...part });
  return (
    <form class="cases-search" role="search" onSubmit={(event) => event.preventDefault()}>
      <Field label={t('cases.search')} what={t('cases.search_what')}>
        {(names) => (
          <input
            type="search"
            {...names}
            data-key="/"
            maxLength={200}
            value={now.search}
            onInput={(event) => set({ search: event.currentTarget.value })}
          />
        )}
      </Field>
      <ChoiceField
        label={t('cases.state')}
        value={now.state}
        choices={[
          { value: '', words: t('cases.any_state') },
          ...STATES.map((value) => ({ value, words: stateWords(value) })),
        ]}
        onValue={(value) => set({ state: value as Asked['state'] })}
      />
      <ChoiceField
        label={t('cases.order')}
        value={now.order}
        choices={[
          { value: 'changed', words: t('cases.order.changed') },
          { value: 'code', words: t('cases.order.code') },
        ]}
        onValue={(value) => set({ order: value as Asked['order'] })}
      />
    </form>
  );
}
