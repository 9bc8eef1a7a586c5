/** Articulators that were measured once and are kept: put one into this case, or keep this one under its name. */
import { signal } from '@preact/signals';
import { useEffect, useId, useState } from 'preact/hooks';
import { api, ask } from '../../api/client';
import type { Fault, Shapes } from '../../api/shapes';
import { taken, theCase } from '../../app/current';
import { link, onEvent } from '../../app/events';
import { Button, Faults, say } from '../../app/ui';
import { t } from '../../app/words';
import { onTheWay } from '../core/saving';
import { isGroup, textOf, valueAt } from '../core/values';
import { Block } from '../parts/Block';

type Profile = Shapes['ProfileOut'];

const profiles = signal<readonly Profile[]>([]);

async function load(): Promise<void> {
  const got = await ask(api.GET('/api/profiles'));
  if (got.kind === 'ok') profiles.value = got.value;
}

function useProfiles(): readonly Profile[] {
  const up = link.value !== 'down';
  useEffect(() => {
    if (up) void load();
    return onEvent((event) => {
      if (event.kind === 'profiles' || event.kind === 'anew') void load();
    });
  }, [up]);
  return profiles.value;
}

export function Profiles({ caseId }: { caseId: number }) {
  const kept = useProfiles();
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const name = textOf(valueAt(theCase.value?.entered, 'instrument.name'));
  return (
    <Block title={t('entry.profiles_title')} text={t('entry.profiles_text')}>
      <div class="adders">
        <PutIn caseId={caseId} kept={kept} onFaults={setFaults} />
        <Keep name={name} kept={kept} onFaults={setFaults} />
      </div>
      <Faults faults={faults} />
    </Block>
  );
}

type Told = { kept: readonly Profile[]; onFaults: (faults: readonly Fault[]) => void };

function PutIn({ caseId, kept, onFaults }: Told & { caseId: number }) {
  const id = useId();
  const [chosen, setChosen] = useState('');
  const putIn = async () => {
    const found = theCase.value;
    if (found === null) return;
    const body = { name: chosen, based_on: found.revision };
    const got = taken(
      await ask(api.POST('/api/cases/{id}/profile', { params: { path: { id: caseId } }, body })),
    );
    if (got.kind === 'faults') onFaults(got.faults);
    else if (got.kind === 'conflicts') onFaults(got.conflicts.faults);
    else onFaults([]);
    if (got.kind === 'ok') say(t('entry.put_in_done', { name: chosen }));
  };
  const not =
    kept.length === 0
      ? t('entry.no_profiles')
      : chosen === ''
        ? t('entry.choose_profile')
        : onTheWay.value.length > 0
          ? t('entry.wait_saved')
          : undefined;
  return (
    <div class="adder">
      <div class="field">
        <label class="field-label" htmlFor={id}>
          {t('entry.profile')}
        </label>
        <select
          id={id}
          class="input"
          data-entry="@profile"
          value={chosen}
          onChange={(event) => setChosen(event.currentTarget.value)}
        >
          <option value="">{t('entry.not_said')}</option>
          {kept.map((profile) => (
            <option key={profile.name} value={profile.name}>
              {t('entry.profile_by', { name: profile.name, who: profile.who })}
            </option>
          ))}
        </select>
      </div>
      <Button not={not} onClick={() => void putIn()}>
        {t('entry.put_in')}
      </Button>
      <p class="small quiet adder-what">{t('entry.put_in_what')}</p>
    </div>
  );
}

function Keep({ name, kept, onFaults }: Told & { name: string }) {
  const keepIt = async () => {
    const entered = valueAt(theCase.value?.entered, 'instrument');
    if (!isGroup(entered)) return;
    const based_on = kept.find((profile) => profile.name === name)?.revision ?? 0;
    const call = api.PUT('/api/profiles/{name}', {
      params: { path: { name } },
      body: { entered: { ...entered }, based_on },
    });
    const got = await ask(call);
    if (got.kind === 'faults') onFaults(got.faults);
    else if (got.kind === 'conflicts') onFaults(got.conflicts.faults);
    else onFaults([]);
    if (got.kind === 'ok') {
      say(t('entry.keep_done', { name }));
      await load();
    }
  };
  const same = kept.find((profile) => profile.name === name);
  const not =
    name === '' ? t('entry.no_instrument') : onTheWay.value.length > 0 ? t('entry.wait_saved') : undefined;
  return (
    <div class="adder">
      <Button not={not} onClick={() => void keepIt()}>
        {name === '' ? t('entry.keep_instrument') : t('entry.keep_as', { name })}
      </Button>
      <p class="small quiet adder-what">
        {same === undefined ? t('entry.keep_what') : t('entry.keep_again', { who: same.who })}
      </p>
    </div>
  );
}
