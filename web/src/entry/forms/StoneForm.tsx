/** Stone, water, the gap they fill, where the casts were luted, and the clock. */
import { t } from '../../app/words';
import { under } from '../core/names';
import { typedCase } from '../core/saving';
import { itemsAt, isGroup, textOf } from '../core/values';
import { ListTable } from '../grid/ListTable';
import { Block } from '../parts/Block';
import { FieldsOf } from '../parts/Fields';
import { Plan } from '../plan/Plan';
import type { Spot } from '../plan/plan';

const SHEET = [
  'water_ml_per_100g',
  'setting_expansion_percent',
  'powder_density_g_per_ml',
  'mix_s',
  'work_min',
  'set_min',
  'release_min',
];

function spotsOf(list: 'luted_at' | 'gaps'): Spot[] {
  return itemsAt(typedCase.value, `bench.${list}`).flatMap((item, at): Spot[] => {
    if (!isGroup(item)) return [];
    const gap = textOf(item['gap_mm']);
    return [
      {
        key: `${list}.${at + 1}`,
        label: list === 'gaps' ? gap : `${at + 1}`,
        ahead: textOf(item['ahead_mm']),
        right: textOf(item['right_mm']),
        kind: list === 'gaps' ? 'gap' : 'luted',
      },
    ];
  });
}

export function StoneForm({ caseId }: { caseId: number }) {
  const bench = (...names: string[]) => names.map((name) => under('bench', name));
  return (
    <>
      <Block title={t('entry.weighed_title')}>
        <FieldsOf caseId={caseId} names={bench('powder_g', 'water_ml', 'room_c')} />
      </Block>
      <Block title={t('entry.gap_title')} text={t('entry.gap_text')}>
        <FieldsOf caseId={caseId} names={bench('mean_gap_mm', 'base_area_mm2', 'volume_ml')} />
      </Block>
      <Block title={t('entry.sheet_title')} text={t('entry.sheet_text')} field="bench.sheet">
        <FieldsOf caseId={caseId} names={SHEET.map((name) => under('bench.sheet', name))} />
      </Block>
      <Block title={t('entry.places_of_base')} text={t('entry.places_of_base_text')}>
        <div class="beside">
          <div class="stack">
            <div data-field="bench.luted_at">
              <ListTable
                caseId={caseId}
                list="bench.luted_at"
                caption={t('entry.luted_title')}
                item={t('entry.place')}
                captionSeen
                steps={['ahead_mm', 'right_mm']}
              />
            </div>
            <div data-field="bench.gaps">
              <ListTable
                caseId={caseId}
                list="bench.gaps"
                caption={t('entry.gaps_title')}
                item={t('entry.place')}
                captionSeen
                steps={['ahead_mm', 'right_mm', 'gap_mm']}
              />
            </div>
          </div>
          <Plan
            spots={[...spotsOf('luted_at'), ...spotsOf('gaps')]}
            fieldOf={(key) => `bench.${key}.ahead_mm`}
          />
        </div>
      </Block>
      <Block title={t('entry.clock_title')} text={t('entry.clock_text')}>
        <FieldsOf caseId={caseId} names={bench('powder_met_water', 'hands_off', 'released')} />
      </Block>
    </>
  );
}
