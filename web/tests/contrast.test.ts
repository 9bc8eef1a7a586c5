/** Every pair of ink and ground that meets on the page keeps the contrast that WCAG AA asks for, in both looks. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const css = readFileSync('src/app/look/tokens.css', 'utf8');

/** Colours of the first rule whose selector is this text. */
function colours(selector: string): Record<string, string> {
  const from = css.indexOf(`${selector} {`);
  const rule = css.slice(from, css.indexOf('}', from));
  const found = [...rule.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)];
  return Object.fromEntries(found.map((hit): [string, string] => [hit[1] ?? '', hit[2] ?? '']));
}

/** Relative luminance, WCAG 2.2, of a colour as #rrggbb. */
function luminance(colour: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5]
    .map((at) => parseInt(colour.slice(at, at + 2), 16) / 255)
    .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: string, b: string): number {
  const [high = 0, low = 0] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (high + 0.05) / (low + 0.05);
}

const GROUNDS = ['ground', 'sheet', 'sunk'];
const TEXT: [string, string[]][] = [
  ['ink', GROUNDS],
  ['ink-quiet', GROUNDS],
  ['accent', GROUNDS],
  ['accent-ink', ['accent']],
  ['fault', [...GROUNDS, 'fault-ground']],
  ['agrees', ['agrees-ground']],
  ['doubtful', [...GROUNDS, 'doubtful-ground']],
  ['not', [...GROUNDS, 'not-ground']],
  ['tell', ['tell-ground']],
];
const EDGES: [string, string[]][] = [
  ['edge', GROUNDS],
  ['focus', [...GROUNDS, 'doubtful-ground', 'not-ground', 'fault-ground', 'tell-ground']],
];

describe.each([':root', ":root[data-look='dark']"])('%s', (selector) => {
  const named = colours(selector);
  const pairs = (list: [string, string[]][]) =>
    list.flatMap(([ink, grounds]) => grounds.map((ground) => [ink, ground] as const));

  it.each(pairs(TEXT))('%s can be read on %s', (ink, ground) => {
    expect(contrast(named[ink] ?? '', named[ground] ?? '')).toBeGreaterThanOrEqual(4.5);
  });
  it.each(pairs(EDGES))('%s can be seen on %s', (ink, ground) => {
    expect(contrast(named[ink] ?? '', named[ground] ?? '')).toBeGreaterThanOrEqual(3);
  });
});

it('the dark look of the device is the dark look of the settings', () => {
  expect(colours(":root[data-look='auto']")).toEqual(colours(":root[data-look='dark']"));
});

it('measures contrast as the standard does', () => {
  expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 9);
  expect(contrast('#777777', '#ffffff')).toBeCloseTo(4.478, 3);
});
