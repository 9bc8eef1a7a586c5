"""Part of question 5: where the lower comes to rest from first contact in CR, whether that is one place, and on what it rests."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.answers.progress import Progress
from mountproof.answers.scanned_contacts import Closed
from mountproof.answers.slide_places import SlidePlace
from mountproof.geometry.carry import Carried, exact, from_covariance
from mountproof.geometry.contact import Contact
from mountproof.geometry.poses import Array, inverse, point_jacobian, transform, translation
from mountproof.geometry.settling import Push, Settled, settle
from mountproof.geometry.surface import moved
from mountproof.occlusion.change import carried_closing
from mountproof.said import say

#: Other starts: the record's pose shifted so far (mm: ahead, up, right), more than a record usually strays.
OFFSETS_MM = ((0.0, 0.0, 0.3), (0.3, 0.0, -0.3))
#: Rests farther apart than this at any place are two (mm): what a foil of 40 um tells, and a little.
ONE_REST_MM = 0.05
#: Noise of two scanned surfaces is common to contacts nearer than this (mm).
_NOISE_LENGTH_MM = 1.0


class Support(NamedTuple):
    """A pair of teeth (0: beside the teeth) at rest, and what part of the push it carries (0 to 1)."""

    upper: int
    lower: int
    share: float


class Rested(NamedTuple):
    """The lower at rest: ``motion`` (6, rotation first) what the noise of the scans leaves open; ``supports``, largest first.

    ``apart_mm``: how far the ends from other starts lie from this one at most, at any place; ``starts``: how many came to rest.
    """

    settled: Settled
    push: Push
    motion: Carried
    supports: tuple[Support, ...]
    apart_mm: float
    starts: int


def rested(
    closed: Closed,
    start: Array,
    push: Push,
    places: tuple[SlidePlace, ...],
    noise_mm: float,
    progress: Progress,
) -> Rested | None:
    """Settle the lower from first contact, ``start`` (4, 4), and from starts beside it; None where nothing meets.

    ``push`` takes hold where it lies at ``start``.
    """
    evidence = closed.evidence
    assert evidence is not None
    upper, lower = evidence.sited.upper, evidence.sited.lower
    hold = transform(inverse(start), np.asarray(push.point_mm))
    ends = []
    for n, offset in enumerate(((0.0, 0.0, 0.0), *OFFSETS_MM)):
        begun = translation(np.array(offset)) @ closed.pose

        def step(number: int, _: float, n: int = n) -> None:
            done = n + 1.0 - 1.0 / (1.0 + 0.05 * number)
            progress(done / (1 + len(OFFSETS_MM)), say("settling into MIP"))

        at = transform(begun, hold)
        found = settle(upper, moved(lower, begun), Push((at[0], at[1], at[2]), push.direction), progress=step)
        if found is None and n == 0:
            return None
        if found is not None:
            ends.append(found)
    end = ends[0]
    own = np.array([transform(inverse(start), place.first_mm) for place in places])
    there = [transform(one.upper_from_lower, own) for one in ends if one.settled]
    apart = max((float(np.linalg.norm(t - there[0], axis=1).max()) for t in there), default=math.nan)
    return Rested(end, push, _noise(end, noise_mm), _supports(closed, end, push), apart, len(there))


def start_motion(first: Contact, motion: Carried, noise: Carried) -> Carried:
    """Return what is open of the lower at first contact (6): the record's and placement's motion, then closed till it touches.

    ``noise``: of the gap there, along the normal, mm.
    """
    p, n = first.point_mm, first.normal
    along = float(n @ np.array([-p[1], p[0], 0.0]))
    closes = carried_closing(first, motion) - first.closing_rad + noise.times(1.0 / along)
    turn = np.zeros((6, 1))
    turn[2] = 1.0
    return motion + closes.linear(turn)


def shift_of(place: SlidePlace, slide: Array, at_start: Carried, at_end: Carried) -> Carried:
    """Return how far a place slides (ahead, up, right; mm), with its doubt; ``slide`` (4, 4) leads from start to end.

    The end does not move with the doubt of the start: see docs/theory/slide.md.
    """
    there = transform(slide, place.first_mm)
    ends = at_end.linear(point_jacobian(there), there)
    begins = at_start.linear(point_jacobian(place.first_mm), place.first_mm)
    return ends - begins


def _noise(end: Settled, noise_mm: float) -> Carried:
    """Return the motion (6) of the rest that a noise of the surfaces leaves open, through the contacts that carry."""
    if not end.rests:
        return exact(np.zeros(6))
    points = np.array([r.point_mm for r in end.rests])
    normals = np.array([r.normal for r in end.rests])
    rows = np.concatenate([np.cross(points, normals), normals], axis=1)
    apart = np.linalg.norm(points[:, None] - points[None], axis=2) / _NOISE_LENGTH_MM
    cov = 2.0 * noise_mm**2 * np.exp(-0.5 * apart**2)
    # turns counted in mm at the arch's size, so that nothing is lost or made up by their smallness
    scale = np.array([50.0] * 3 + [1.0] * 3)
    back = np.linalg.pinv(rows / scale, rcond=1e-6) / scale[:, None]
    return from_covariance(np.zeros(6), back @ cov @ back.T, "assumed/scan/rest")


def _supports(closed: Closed, end: Settled, push: Push) -> tuple[Support, ...]:
    evidence = closed.evidence
    assert evidence is not None
    way = np.asarray(push.direction) / np.linalg.norm(push.direction)
    found: dict[tuple[int, int], float] = {}
    for r in end.rests:
        pair = int(evidence.upper_teeth[r.upper_face]), int(evidence.lower_teeth[r.lower_face])
        found[pair] = found.get(pair, 0.0) - r.share * float(r.normal @ way)
    return tuple(
        Support(*pair, share) for pair, share in sorted(found.items(), key=lambda item: (-item[1], item[0]))
    )
