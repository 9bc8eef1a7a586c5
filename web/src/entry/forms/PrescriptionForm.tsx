/** What the paper to the lab says beside what was measured, and the steps that cannot be taken back. */
import { useState } from 'preact/hooks';
import { Button, Fold } from '../../app/ui';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { NEW, under } from '../core/names';
import { send, takeOut, typedCase } from '../core/saving';
import { isGroup, itemsAt, textOf, type Json } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { Adder } from '../parts/Adder';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';

const own = (...names: string[]) => names.map((name) => under('prescription', name));
const STEPS = 'prescription.steps';
const LEFT = 'prescription.do_not_alter';
const DAYS = [
  'step',
  'teeth',
  'consent',
  'duplicate_trial',
  'reversible_trial',
  'reversible_with',
  'no_reversible_trial',
];

export function PrescriptionForm({ caseId }: { caseId: number }) {
  return (
    <>
      <p class="block-text">{t('entry.prescription_text')}</p>
      <FieldsOf
        caseId={caseId}
        names={own('scheme', 'judged_at_pin', 'allowed_deviation_mm', 'no_new_material')}
      />
      <Block title={t('entry.ovd_title')}>
        <FieldsOf caseId={caseId} names={own('ovd_change_mm', 'ovd_change_at')} />
      </Block>
      <Block title={t('entry.wanted_contacts_title')} field="prescription.contacts">
        <ListTable
          caseId={caseId}
          list="prescription.contacts"
          caption={t('entry.wanted_contacts_title')}
          item={t('entry.line')}
          steps={['teeth', 'relation', 'closure']}
        />
      </Block>
      <Block title={t('entry.left_title')} text={t('entry.left_text')} field={LEFT}>
        <Left caseId={caseId} />
      </Block>
      <Block title={t('entry.verified_title')} text={t('entry.verified_text')} field="prescription.verified">
        <ListTable
          caseId={caseId}
          list="prescription.verified"
          caption={t('entry.verified_title')}
          item={t('entry.line')}
          steps={['what', 'who', 'on']}
        />
      </Block>
      <Block title={t('entry.final_title')} text={t('entry.final_text')} field={STEPS}>
        {itemsAt(typedCase.value, STEPS).map((step, at) => (
          <Step key={at} caseId={caseId} step={step} at={at + 1} />
        ))}
        <NewStep caseId={caseId} />
      </Block>
    </>
  );
}

/** Each a line of one's own words. */
function Left({ caseId }: { caseId: number }) {
  const items = itemsAt(typedCase.value, LEFT).map(textOf);
  return (
    <>
      {items.length === 0 ? null : (
        <ul class="plain-list">
          {items.map((text, at) => (
            <li key={text} class="row" data-field={under(LEFT, at + 1)}>
              <span>{text}</span>
              <Button look="plain" onClick={() => takeOut(caseId, under(LEFT, at + 1), text)}>
                {t('entry.take_out_of', { name: text })}
              </Button>
            </li>
          ))}
        </ul>
      )}
      <Adder
        caseId={caseId}
        keep={LEFT}
        title={t('entry.left_title')}
        label={t('entry.left_label')}
        what={t('entry.left_what')}
        button={t('entry.left_add')}
        taken={items}
        onAdd={(value) => send(caseId, [{ field: under(LEFT, NEW), value }], t('entry.left_title'))}
      />
    </>
  );
}

/** What a step can be, in the words of the case file. */
const kinds = () => {
  const known = fields();
  return known === null ? [] : (fieldAt(known, under(STEPS, NEW, 'step'))?.choices ?? []);
};

function Step({ caseId, step, at }: { caseId: number; step: Json; at: number }) {
  const [open, setOpen] = useState(true);
  const here = under(STEPS, at);
  const kind = isGroup(step) ? textOf(step['step']) : '';
  const name = kinds().find((one) => one.value === kind)?.words ?? kind;
  const title = t('entry.item', { item: name, at });
  return (
    <Fold level={4} head={<span class="first-up">{title}</span>} open={open} onOpen={setOpen}>
      <div class="stack" data-field={here}>
        <FieldsOf caseId={caseId} names={DAYS.map((day) => under(here, day))} />
        <div class="row">
          <Button look="plain" onClick={() => takeOut(caseId, here, title)}>
            {t('entry.take_out_of', { name: title })}
          </Button>
        </div>
      </div>
    </Fold>
  );
}

/** One button for each kind of step: what it is need not be typed. */
function NewStep({ caseId }: { caseId: number }) {
  const add = (step: string) =>
    send(caseId, [{ field: under(STEPS, NEW), value: { step } }], t('entry.final_title'));
  return (
    <div class="row" role="group" aria-label={t('entry.final_add')}>
      <span>{t('entry.final_add')}</span>
      {kinds().map((kind) => (
        <Button key={kind.value} onClick={() => add(kind.value)}>
          {kind.words}
        </Button>
      ))}
    </div>
  );
}
