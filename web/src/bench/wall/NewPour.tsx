import { useEffect, useState } from 'preact/hooks';
import type { Listed } from '../../api/shapes';
import { Button, TextField } from '../../app/ui';
import { t } from '../../app/words';
import { recentCases } from './list';
import { beginPour, type Cast } from './taps';

const CASTS: readonly Cast[] = ['upper', 'lower'];

/** Begins a pour in two taps: open this, then case and cast. Its zero is the second tap. */
export function NewPour() {
  const [open, setOpen] = useState(false);
  return (
    <div class="new-pour">
      <Button look="main" aria-expanded={open} onClick={() => setOpen(!open)}>
        {t('bench.new_pour')}
      </Button>
      {open ? <Choose onChosen={() => setOpen(false)} /> : null}
    </div>
  );
}

function Choose({ onChosen }: { onChosen: () => void }) {
  const [search, setSearch] = useState('');
  const [cases, setCases] = useState<readonly Listed[] | null>(null);
  useEffect(() => {
    let wanted = true;
    const timer = setTimeout(
      () =>
        void recentCases(search).then((found) => {
          if (wanted) setCases(found);
        }),
      search === '' ? 0 : 200,
    );
    return () => {
      wanted = false;
      clearTimeout(timer);
    };
  }, [search]);
  const begin = (one: Listed, cast: Cast) => {
    void beginPour(one, cast);
    onChosen();
  };
  return (
    <div class="new-pour-choose stack">
      <p>{t('bench.new_pour_text')}</p>
      <ul class="new-pour-cases">
        {(cases ?? []).map((one) => (
          <li key={one.id}>
            <span class="new-pour-code">{one.code}</span>
            {CASTS.map((cast) => (
              <Button
                key={cast}
                aria-label={t('bench.begin_of', { code: one.code, cast: t(`bench.cast_${cast}`) })}
                onClick={() => begin(one, cast)}
              >
                {t(`bench.cast_${cast}`)}
              </Button>
            ))}
          </li>
        ))}
      </ul>
      {cases?.length === 0 ? <p class="quiet">{t('bench.no_case')}</p> : null}
      <TextField
        label={t('bench.find_case')}
        what={t('bench.find_case_what')}
        value={search}
        onValue={setSearch}
      />
    </div>
  );
}
