import { describe, expect, it } from 'vitest';
import { NEW } from '../../entry/core/names';
import { placeIn } from './numbers';
import { newPlace, nextTo, placeOf } from './target';

describe('a place as typed', () => {
  it.each([
    ['21.4 3.0 -8.2', [21.4, 3, -8.2]],
    ['21.4, 3.0, -8.2', [21.4, 3, -8.2]],
    ['21,4 3,0 −8,2', [21.4, 3, -8.2]],
    ['[21,4; 3; -8,2]', [21.4, 3, -8.2]],
    ['21.4 3.0', null],
    ['1 2 x', null],
    ['', null],
    ['1 2 3 4', null],
  ])('%s', (text, wanted) => expect(placeIn(text)).toEqual(wanted));
});

describe('the entry that a tap fills', () => {
  const placement = 'scans.1.placement';
  it.each([
    ['scans.1.placement.landmarks.2.ahead_mm', 'scans.1.placement.landmarks.2.scan'],
    ['scans.1.placement.landmarks.+.name', 'scans.1.placement.landmarks.+.scan'],
    ['scans.1.placement.hinge_distances.1.name', 'scans.1.placement.hinge_distances.1.scan'],
    ['scans.1.placement.average.incisors', 'scans.1.placement.average.incisors'],
    ['scans.1.placement.third_point.ahead_mm', null],
    ['scans.1.unit', null],
    ['scans.2.placement.landmarks.2.scan', null],
  ])('from %s', (field, wanted) => expect(placeOf(field, placement)).toBe(wanted));

  it('is a new landmark where none is in hand', () => {
    expect(newPlace(placement, 'landmarks')).toBe('scans.1.placement.landmarks.+.scan');
    expect(nextTo('scans.1.placement.landmarks.+.scan')).toBe('scans.1.placement.landmarks.+.name');
    expect(NEW).not.toBe('+');
  });
});
