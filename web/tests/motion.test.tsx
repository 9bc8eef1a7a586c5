/** The slider of a movement: it stops at positions that were worked out, says what is seen there, and names what is missing. */
import { cleanup, fireEvent, render } from '@testing-library/preact';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Shapes } from '../src/api/shapes';
import { language } from '../src/app/settings';
import { speak } from '../src/app/words';
import { movingLabels } from '../src/space/picture/marks';
import { Choice, Marked, Motion } from '../src/space/picture/Motion';
import { at, choose, motions, position, shown } from '../src/space/picture/motion';
import { view } from '../src/space/picture/view';

type Step = Shapes['MotionStepOut'];
const still: Step['moved'] = [
  [1, 0, 0, 0],
  [0, 1, 0, 0],
  [0, 0, 1, 0],
  [0, 0, 0, 1],
];
const step = (amount_mm: number): Step => ({
  amount_mm,
  label: `${amount_mm} mm ahead`,
  line: `${amount_mm} mm ahead: meets at 11 / 41; nearest behind 26 / 36 leaves 0.40 mm.`,
  upper_from_lower: still,
  moved: still,
  closed_rad: null,
  places: [
    {
      kind: 'meets',
      pair: '11 / 41',
      gap: 'touching',
      gap_mm: 0,
      point_mm: [80, -30, 1],
      lower_point_mm: [78, -30, 1],
    },
    {
      kind: 'near',
      pair: '26 / 36',
      gap: '0.400 mm',
      gap_mm: 0.4,
      point_mm: [60, -30, 1],
      lower_point_mm: [58, -30, 1],
    },
  ],
  gaps: [{ tooth: '11', gap: 'touching' }],
});
const ahead: Shapes['MovementOut'] = {
  key: 'ahead',
  title: 'Straight ahead',
  about: 'Amounts are the travel of the condyles.',
  steps: [step(0), step(2.5), step(5)],
  needs: [],
  notes: ['With the middle settings.'],
};
const need = {
  question: 'guidance',
  reading: 'a protrusive record',
  why: 'it sets the joints',
  field: 'records',
};
const right: Shapes['MovementOut'] = {
  key: 'right',
  title: 'Jaw to the right',
  about: '',
  steps: [],
  needs: [need],
  notes: [],
};

beforeAll(async () => {
  language.value = 'en';
  await speak('en');
});
beforeEach(() => {
  motions.value = { revision: 1, movements: [ahead, right], work: null };
  view.value = 'both';
  choose('ahead');
});
afterEach(() => {
  cleanup();
  motions.value = null;
});

describe('the slider of a movement', () => {
  it('says at each position what the server says of it, to the eye and to the ear', () => {
    const { getByRole, container } = render(<Motion caseId={1} />);
    const slider = getByRole('slider', { name: 'Straight ahead' }) as HTMLInputElement;
    expect([slider.min, slider.max, slider.step]).toEqual(['0', '2', '1']);
    fireEvent.input(slider, { target: { value: '1' } });
    expect(position.value).toEqual(step(2.5));
    expect(container.querySelector('.motion-line')?.textContent).toBe(step(2.5).line);
    expect(slider.getAttribute('aria-valuetext')).toBe(step(2.5).line);
    expect(container.querySelector('.slider-shown')?.textContent).toBe('2.5 mm ahead');
    expect(container.textContent).toContain('between them nothing is shown');
  });

  it('goes one position at a time by its buttons, and no farther than the last', () => {
    const { getByRole } = render(<Motion caseId={1} />);
    const next = getByRole('button', { name: 'Next position' });
    for (let k = 0; k < 4; k += 1) fireEvent.click(next);
    expect(at.value).toBe(2);
    expect(next.getAttribute('aria-disabled')).toBe('true');
    fireEvent.click(getByRole('button', { name: 'Position before' }));
    expect(at.value).toBe(1);
  });

  it('names what is missing, with the way to enter it, where there is nothing to show', () => {
    choose('right');
    const { queryByRole, getByRole, container } = render(<Motion caseId={7} />);
    expect(queryByRole('slider')).toBeNull();
    expect(position.value).toBeNull();
    expect(getByRole('link', { name: need.reading }).getAttribute('href')).toContain(
      '/7/enter/field/records',
    );
    expect(container.textContent).toContain('cannot be shown yet');
  });
});

describe('the choice of a movement', () => {
  it('offers closing with bands first, and begins another movement at its first position', () => {
    at.value = 2;
    const { getAllByRole, getByRole } = render(<Choice gaps />);
    expect(getAllByRole('radio')).toHaveLength(3);
    fireEvent.click(getByRole('radio', { name: 'Jaw to the right' }));
    expect([shown.value, at.value]).toEqual(['right', 0]);
    fireEvent.click(getByRole('radio', { name: /gap in bands/ }));
    expect([shown.value, position.value]).toEqual([null, null]);
  });

  it('turns casts that lie opened so that both are seen together, and leaves a chosen view alone', () => {
    expect(view.value).toBe('right');
    choose('right');
    expect(view.value).toBe('front');
    choose(null);
    expect(view.value).toBe('both');
    view.value = 'left';
    choose('right');
    expect(view.value).toBe('left');
    choose(null);
    expect(view.value).toBe('left');
  });
});

describe('what is marked', () => {
  it('stands in the table and on both casts under the same number', () => {
    const { getAllByRole } = render(<Marked step={step(2.5)} />);
    expect(
      getAllByRole('row')
        .slice(1)
        .map((row) => row.textContent),
    ).toEqual(['111 / 41touching', '226 / 360.400 mm']);
    const marks = movingLabels([], step(2.5).places);
    expect(marks.map((mark) => [mark.text, mark.style, mark.moves, mark.at[0]])).toEqual([
      ['1', 'first', false, 80],
      ['1', 'first', true, 78],
      ['2', 'site', false, 60],
      ['2', 'site', true, 58],
    ]);
  });
});
