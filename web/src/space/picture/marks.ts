/** From what the server tells to the labels of the picture. */
import type { Shapes } from '../../api/shapes';
import { GROUP, type Label } from '../gl/labels';
import type { Tap } from '../gl/stage';
import type { Place } from './motion';
import type { Site, Stop } from './scene';

const MOST_NUMBERED = 9;
const group = (moves: boolean) => (moves ? GROUP.lower : GROUP.upper);

function fixed(label: Shapes['LabelOut']): Label {
  const { kind, words: text, point_mm: at, moves } = label;
  const frame = kind === 'line' || kind === 'side';
  const front = { tooth: 0.5, contour: 0.8, line: 3, side: 4 }[kind];
  return { text, style: kind, at, moves, group: frame ? GROUP.frame : group(moves), front };
}

function numbered(site: Site, rank: number, chosen: boolean): Label[] {
  const style = chosen ? 'chosen' : rank === 0 ? 'first' : 'site';
  const text = `${rank + 1}`;
  const front = chosen ? 6 : 1.6;
  return [
    { text, style, at: site.point_mm, moves: false, group: GROUP.upper, front },
    { text, style, at: site.lower_point_mm, moves: true, group: GROUP.lower, front },
  ];
}

/** Through both casts: wherever it is, what meets is marked. What is only near is seen through a cusp. */
const THROUGH = { meets: 90, near: 6 };

/** Marks at what meets, then at what is nearest. */
const placed = (place: Place, rank: number): Label[] => {
  const style = place.kind === 'meets' ? 'first' : 'site';
  const text = `${rank + 1}`;
  const front = THROUGH[place.kind];
  return [
    { text, style, at: place.point_mm, moves: false, group: GROUP.upper, front },
    { text, style, at: place.lower_point_mm, moves: true, group: GROUP.lower, front },
  ];
};

/** Everything that is written into the picture at one position of a movement. */
export const movingLabels = (always: readonly Shapes['LabelOut'][], places: readonly Place[]): Label[] => [
  ...places.filter((_, rank) => rank < MOST_NUMBERED).flatMap(placed),
  ...always.map(fixed),
];

/** A mark at the place that somebody tapped. */
const tapped = (tap: Tap): Label => ({
  text: '+',
  style: 'landmark',
  at: tap.at,
  moves: tap.arch === 'lower',
  group: group(tap.arch === 'lower'),
  front: 3,
});

/** Everything that is written into the picture at one place of the slider. */
export function labelsOf(
  always: readonly Shapes['LabelOut'][],
  stop: Stop | null,
  chosen: string | null,
  tap: Tap | null,
): Label[] {
  const sites = (stop?.sites ?? [])
    .map((site, rank) => ({ site, rank }))
    .filter(({ site, rank }) => rank < MOST_NUMBERED || site.key === chosen)
    .flatMap(({ site, rank }) => numbered(site, rank, site.key === chosen));
  const contours = (stop?.labels ?? []).map(fixed);
  return [...(tap === null ? [] : [tapped(tap)]), ...sites, ...always.map(fixed), ...contours];
}
