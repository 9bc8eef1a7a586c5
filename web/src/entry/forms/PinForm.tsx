/** What the pin showed, or was set to, in the states of the casts. */
import { t } from '../../app/words';
import { typedCase } from '../core/saving';
import { statesOf } from '../grid/shape';
import { ListTable } from '../grid/ListTable';
import { useStateWords } from '../grid/words';
import { Block } from '../parts/Block';

export function PinForm({ caseId }: { caseId: number }) {
  const words = useStateWords();
  const states = [...statesOf(typedCase.value).keys()].map((name) => ({
    value: name,
    words: `${name}: ${words(name)}`,
  }));
  return (
    <Block
      title={t('entry.pin_title')}
      text={t(states.length === 0 ? 'entry.pin_no_states' : 'entry.pin_text')}
      field="pin_readings"
    >
      <ListTable
        caseId={caseId}
        list="pin_readings"
        caption={t('entry.pin_title')}
        item={t('entry.pin_reading')}
        steps={['state', 'reads', 'set_by_hand']}
        choices={{ state: states }}
      />
    </Block>
  );
}
