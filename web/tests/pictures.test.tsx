/** The pictures of an answer: what the server draws is shown as it came, told to those who do not see it, and kept on trouble. */
import { cleanup, fireEvent, render, waitFor } from '@testing-library/preact';
import { afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import type { Shapes } from '../src/api/shapes';
import { language } from '../src/app/settings';
import { speak } from '../src/app/words';
import Message from '../src/sheet/Message';
import Pictures from '../src/sheet/pictures';
import { Drawing } from '../src/sheet/pictures/Drawing';

beforeAll(async () => {
  language.value = 'en';
  await speak('en');
});
afterEach(() => {
  cleanup();
  vi.unstubAllGlobals();
});

const word = { d: '', text: 'R', look: 'bold', x: 4, y: 9.5, size: 12, anchor: 'end' } as const;
const line = { d: 'M0 0 L1 1', text: '', look: 'faint', x: 0, y: 0, size: 0, anchor: 'start' } as const;
const drawing: Shapes['DrawingOut'] = {
  name: 'scatter',
  title: 'Records',
  alt: 'Two records, from the side.',
  view: '-4 -6 648 200',
  pixels: [],
  marks: [line, word],
  table: { title: 'Numbers', columns: ['record', 'mm'], rows: [['A', '+0.12']], note: '' },
};
const json = (status: number, body: unknown) =>
  Promise.resolve(
    new Response(JSON.stringify(body), { status, headers: { 'Content-Type': 'application/json' } }),
  );

describe('a drawing', () => {
  it('shows paths and words where the server put them', () => {
    const { container } = render(<Drawing drawing={drawing} />);
    expect(container.querySelector('svg')?.getAttribute('viewBox')).toBe(drawing.view);
    expect(container.querySelector('path.look-faint')?.getAttribute('d')).toBe(line.d);
    const text = container.querySelector('text');
    expect(text?.textContent).toBe('R');
    expect(text?.getAttribute('class')).toBe('look-bold');
    expect([text?.getAttribute('x'), text?.getAttribute('text-anchor')]).toEqual(['4', 'end']);
  });

  it('is named, described, and told as a table', () => {
    const { getByRole, container } = render(<Drawing drawing={drawing} />);
    const named = container.querySelector('svg');
    const of = (name: string) => document.getElementById(named?.getAttribute(name) ?? '')?.textContent;
    expect(of('aria-labelledby')).toBe(drawing.title);
    expect(of('aria-describedby')).toBe(drawing.alt);
    fireEvent.click(container.querySelector('summary') as HTMLElement);
    expect(getByRole('table', { hidden: true }).textContent).toContain('+0.12');
  });

  it('lies on paper where it has pixels, and says what an empty table means', () => {
    const pixels = [{ url: 'data:image/png;base64,AAAA', x: 0, y: 0, width: 2, height: 1 }];
    const table = { ...drawing.table, rows: [], note: 'Nothing odd.' };
    const { container } = render(<Drawing drawing={{ ...drawing, pixels, table }} />);
    expect(container.querySelector('.picture-paper image')?.getAttribute('href')).toBe(pixels[0]?.url);
    expect(container.textContent).toContain('Nothing odd.');
    expect(container.querySelector('details')).toBeNull();
  });
});

describe('the pictures of an answer', () => {
  it('are asked for anew when the answer is another one', async () => {
    const fetched = vi.fn((_: Request) => json(200, { question: 'record', drawings: [drawing] }));
    vi.stubGlobal('fetch', fetched);
    const { findByText, rerender } = render(<Pictures caseId={7} question="record" digest="a" />);
    await findByText('Records');
    expect(fetched.mock.calls[0]?.[0].url).toContain('/api/cases/7/pictures/record');
    rerender(<Pictures caseId={7} question="record" digest="b" />);
    await waitFor(() => expect(fetched).toHaveBeenCalledTimes(2));
  });

  it('say what went wrong', async () => {
    const fault = { code: 'x', what: 'a scan is missing', todo: 'Enter it', where: '', field: '' };
    vi.stubGlobal('fetch', () => json(422, { faults: [{ ...fault, line: null, got: '', allowed: '' }] }));
    const { findByText } = render(<Pictures caseId={7} question="record" digest="a" />);
    await findByText(/a scan is missing/);
  });
});

describe('the message', () => {
  it('is written for whom it is chosen, and copied whole', async () => {
    const fetched = vi.fn((asked: Request) => {
      const to = new URL(asked.url).searchParams.get('to') ?? '';
      return json(200, { subject: `For the ${to}`, lines: ['Hello,', '', 'measured'], text: `whole ${to}` });
    });
    vi.stubGlobal('fetch', fetched);
    const writeText = vi.fn(() => Promise.resolve());
    vi.stubGlobal('navigator', { clipboard: { writeText } });
    const { findByText, getByRole } = render(<Message caseId={7} digest="a" />);
    await findByText('For the lab');
    fireEvent.change(getByRole('combobox'), { target: { value: 'dentist' } });
    await findByText('For the dentist');
    fireEvent.click(getByRole('button', { name: 'Copy the message' }));
    await waitFor(() => expect(writeText).toHaveBeenCalledWith('whole dentist'));
  });
});
