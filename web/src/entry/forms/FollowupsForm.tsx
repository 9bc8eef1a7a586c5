/** What the mouth showed afterwards: one fold for each visit. */
import { useState } from 'preact/hooks';
import { Button, Fold } from '../../app/ui';
import { t } from '../../app/words';
import { NEW, under } from '../core/names';
import { send, takeOut, typedCase } from '../core/saving';
import { isGroup, itemsAt, textOf, type Json } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { FieldsOf } from '../parts/Fields';

const LIST = 'followups';
const NAMES = [
  'date',
  'delivered',
  'by',
  'minutes',
  'first_contact',
  'thickness_um',
  'held',
  'free',
  'others_free',
  'visit',
  'note',
];

export function FollowupsForm({ caseId }: { caseId: number }) {
  const visits = itemsAt(typedCase.value, LIST);
  return (
    <>
      <p class="block-text">{t('entry.followups_text')}</p>
      {visits.map((visit, at) => (
        <Visit key={at} caseId={caseId} visit={visit} at={at + 1} />
      ))}
      <div class="row" data-field={LIST}>
        <Button
          onClick={() => send(caseId, [{ field: under(LIST, NEW), value: {} }], t('entry.add_followup'))}
        >
          {t('entry.add_followup')}
        </Button>
      </div>
    </>
  );
}

function Visit({ caseId, visit, at }: { caseId: number; visit: Json; at: number }) {
  const [open, setOpen] = useState(true);
  const here = under(LIST, at);
  const day = isGroup(visit) ? textOf(visit['date']) : '';
  const title = day === '' ? t('entry.followup_at', { at }) : t('entry.followup_on', { at, day });
  return (
    <Fold level={3} head={title} open={open} onOpen={setOpen}>
      <div class="stack" data-field={here}>
        <FieldsOf caseId={caseId} names={NAMES.map((name) => under(here, name))} />
        <ListTable
          caseId={caseId}
          list={under(here, 'adjusted')}
          caption={t('entry.adjusted_title')}
          captionSeen
          item={t('entry.adjusted')}
          steps={['tooth', 'um']}
        />
        <div class="row">
          <Button look="plain" onClick={() => takeOut(caseId, here, title)}>
            {t('entry.take_out_of', { name: title })}
          </Button>
        </div>
      </div>
    </Fold>
  );
}
