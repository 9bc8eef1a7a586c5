/** Few teeth or none: how far a base gives, the tip of a tracing, and an index over implants. */
import { t } from '../../app/words';
import { typedCase } from '../core/saving';
import { isGroup, namesAt, valueAt } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { EntryBox } from '../parts/EntryBox';

export function BasesForm({ caseId }: { caseId: number }) {
  const fits = [
    { value: 'true', words: t('entry.fits') },
    { value: 'false', words: t('entry.fits_not') },
  ];
  const marked = isGroup(valueAt(typedCase.value, 'marks.places'));
  return (
    <>
      <p class="block-text">{t('entry.bases_text')}</p>
      <Block
        title={t('entry.pushes_title')}
        text={t(marked ? 'entry.pushes_text' : 'entry.pushes_no_marks', {
          marks: namesAt(typedCase.value, 'marks.places').join(', '),
        })}
        field="few_teeth.pushes"
      >
        <ListTable
          caseId={caseId}
          list="few_teeth.pushes"
          caption={t('entry.pushes_title')}
          item={t('entry.push')}
          steps={['arch', 'pair', 'at_rest_mm', 'pushed_right_mm', 'pushed_left_mm', 'pressed_mm']}
        />
      </Block>
      <Block title={t('entry.tracing_title')} text={t('entry.tracing_text')} field="few_teeth.tracing">
        <ListTable
          caseId={caseId}
          list="few_teeth.tracing"
          caption={t('entry.tracing_title')}
          item={t('entry.point')}
          steps={['ahead_mm', 'right_mm', 'sitting']}
        />
      </Block>
      <Block title={t('entry.index_title')}>
        <div class="boxes">
          <EntryBox caseId={caseId} field="few_teeth.index_fits" choices={fits} />
        </div>
      </Block>
    </>
  );
}
