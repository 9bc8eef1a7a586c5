import { cleanup, render } from '@testing-library/preact';
import { afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { caseHref, entryHref, readRoute, viewHref } from '../src/app/route';
import { language } from '../src/app/settings';
import { Guarded } from '../src/app/shell/Guarded';
import { Button, Faults, Field, Fold } from '../src/app/ui';
import { speak, t } from '../src/app/words';

beforeAll(async () => {
  language.value = 'en';
  await speak('en');
});
afterEach(cleanup);

describe('addresses', () => {
  it.each([
    ['', { view: 'cases', rest: [] }],
    ['#/cases', { view: 'cases', rest: [] }],
    ['#/pours', { view: 'pours', rest: [] }],
    ['#/practice', { view: 'practice', rest: [] }],
    ['#/case/7', { view: 'case', id: 7, part: 'sheet', rest: [] }],
    [
      '#/case/7/enter/field/marks.readings_mm.A-B.C',
      { view: 'case', id: 7, part: 'enter', rest: ['field', 'marks.readings_mm.A-B.C'] },
    ],
    ['#/case/7/space', { view: 'case', id: 7, part: 'space', rest: [] }],
    ['#/case/0', { view: 'nowhere', address: '#/case/0' }],
    ['#/case/7/elsewhere', { view: 'nowhere', address: '#/case/7/elsewhere' }],
    ['#/case/7e1', { view: 'nowhere', address: '#/case/7e1' }],
    ['#/case/7/enter/%E0%A4', { view: 'case', id: 7, part: 'enter', rest: ['%E0%A4'] }],
  ])('%s is read', (hash, route) => expect(readRoute(hash)).toEqual(route));

  it('come back as they were made, whatever stands in them', () => {
    const field = 'records."a/b #1".kind';
    expect(readRoute(entryHref(3, field))).toEqual({
      view: 'case',
      id: 3,
      part: 'enter',
      rest: ['field', field],
    });
    expect(readRoute(caseHref(3, 'history', 'compare', '1', '2'))).toMatchObject({
      rest: ['compare', '1', '2'],
    });
    expect(readRoute(viewHref('devices'))).toEqual({ view: 'devices', rest: [] });
  });

  it.each([
    ['scans.1.placement', 'space'],
    ['procedure.2.met', 'bench'],
    ['pours.1.begun', 'bench'],
    ['foils.3.tooth', 'enter'],
    ['', 'enter'],
  ])('an entry of %s is made in %s', (field, part) =>
    expect(readRoute(entryHref(1, field))).toMatchObject({ part }),
  );
});

describe('a view that goes wrong', () => {
  it('says so and leaves the rest of the page', () => {
    const told = vi.spyOn(console, 'error').mockImplementation(() => undefined);
    const Broken = () => {
      throw new Error('no such thing');
    };
    const page = render(
      <div>
        <p>beside</p>
        <Guarded>
          <Broken />
        </Guarded>
      </div>,
    );
    expect(page.getByText('beside')).toBeTruthy();
    expect(page.getByRole('heading').textContent).toBe(t('app.broken'));
    expect(page.getByRole('alert').textContent).toContain('no such thing');
    expect(told).toHaveBeenCalled();
  });
});

const fault = (field: string, what: string) => ({
  code: 'c',
  what,
  todo: 'do it',
  where: '',
  line: null,
  field,
  got: '',
  allowed: '',
});

describe('parts', () => {
  it('a field ties its label, what it is for and its faults to its entry', () => {
    const page = render(
      <Field label="Pin" unit="mm" what="how far" faults={[fault('pin', 'too far')]} assumed="4">
        {(names) => <input {...names} />}
      </Field>,
    );
    const entry = page.getByLabelText('Pin');
    expect(entry.getAttribute('aria-invalid')).toBe('true');
    const described = (entry.getAttribute('aria-describedby') ?? '')
      .split(' ')
      .map((id) => document.getElementById(id)?.textContent);
    expect(described.join(' ')).toContain('how far');
    expect(described.join(' ')).toContain('assumed: 4');
    expect(described.join(' ')).toContain('too far do it');
  });

  it('a button that waits says why, stays reachable and does nothing', () => {
    const pressed = vi.fn();
    const page = render(
      <Button not="not yet" onClick={pressed}>
        Go
      </Button>,
    );
    const button = page.getByRole('button');
    button.click();
    expect(pressed).not.toHaveBeenCalled();
    expect(button.hasAttribute('disabled')).toBe(false);
    expect(button.textContent).toContain('not yet');
  });

  it('a fold names what it opens', () => {
    const opened = vi.fn();
    const page = render(
      <Fold level={3} head="Head" open={false} onOpen={opened}>
        body
      </Fold>,
    );
    const button = page.getByRole('button');
    expect(button.getAttribute('aria-expanded')).toBe('false');
    expect(document.getElementById(button.getAttribute('aria-controls') ?? '')?.textContent).toBe('body');
    button.click();
    expect(opened).toHaveBeenCalledWith(true);
  });

  it('all faults are shown, none where there is none', () => {
    const page = render(<Faults faults={[fault('a', 'first'), fault('b', 'second')]} />);
    expect(page.getByRole('alert').textContent).toMatch(/first.*second/);
    page.rerender(<Faults faults={[]} />);
    expect(page.queryByRole('alert')).toBeNull();
  });
});

describe('words', () => {
  it('follow the language', async () => {
    language.value = 'de';
    await speak('de');
    expect(t('app.close')).toBe('Schließen');
    expect(document.documentElement.lang).toBe('de');
    language.value = 'en';
    await speak('en');
    expect(t('app.close')).toBe('Close');
  });

  it('that come late, after another choice, are not shown', async () => {
    language.value = 'de';
    const late = speak('en');
    await speak('de');
    await late;
    expect(t('app.close')).toBe('Schließen');
    language.value = 'en';
    await speak('en');
  });
});
