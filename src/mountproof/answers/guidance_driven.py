"""Two scans driven along the settings of both joints, over the whole range that the records leave open."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from mountproof.answers.excursion_data import Direction, Touch, Travel
from mountproof.answers.guidance_ranges import JointRange
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Arch
from mountproof.geometry.driven import Driven, Station, driven, driven_along
from mountproof.geometry.guides import OTHER, Guide, Side, Straight, protruded, sideways
from mountproof.geometry.poses import Array, inverse, transform
from mountproof.geometry.stops import Table
from mountproof.geometry.surface import moved, prepare
from mountproof.said import say
from mountproof.teeth import along_arch_key, is_tooth

#: Travel of the condyles that go forward: steps with the middle settings, and where the others are tried (mm).
_STEP_MM: Final = 0.5
_MOST_MM: Final = 5.0
#: From this travel on a touch of back teeth counts: before it the contact of centric relation has only just parted.
FROM_MM: Final = 1.0
#: Closer than this (mm) counts as touching: the thickness of common marking paper; common practice, no source.
TOUCH_MM: Final = 0.04
#: How far the patient's condyles may lie nearer or farther apart than those of the instrument (mm, together).
WIDTH_MM: Final = 10.0
_THREADS: Final = 2
#: Gaps wider than this are not told (mm).
FAR_MM: Final = 3.0


def drive(
    closed: Closed,
    joints: dict[str, JointRange],
    half_mm: float,
    incisor_mm: Array,
    progress: Progress,
    table: Table | None = None,
) -> tuple[Travel, ...]:
    """Return what every tooth does in protrusion and to both sides, as far as the settings of the joints are known.

    ``half_mm``: half the distance of the condyles; ``incisor_mm`` (3,): where the incisors stand; ``table``: the incisal
    table under its pin, where one is set. Directions of which a setting is not told are left out.
    """
    ready = made_ready(closed)
    hidden = _hidden(closed)
    todo: list[tuple[Direction, Callable[[int, float], Array], int, float]] = []
    ahead = ahead_axes(joints, half_mm)
    if ahead is not None:
        todo.append(("ahead", *ahead))
    for side in ("right", "left"):
        aside = aside_axes(joints[OTHER[side]], half_mm)
        if aside is not None:
            todo.append((side, *aside))
    out = []
    for n, (direction, axis, settings, last) in enumerate(todo):
        progress(n / len(todo), say("moving the lower along its guides"))
        out.append(_travel(ready, direction, axis, settings, last, incisor_mm, hidden, table))
    return tuple(out)


def made_ready(closed: Closed) -> Driven:
    """Return both scans ready to be driven, the lower as the record holds it."""
    up, low = closed.arches[Arch.UPPER], closed.arches[Arch.LOWER]
    upper = prepare(up.vertices_mm, up.faces, arch="upper")
    lower = moved(prepare(low.vertices_mm, low.faces, arch="lower"), closed.pose)
    return driven(upper, lower, up.teeth, low.teeth)


def _last(went_mm: float) -> float:
    """How far to go: no farther than the record, of which the guide is the chord."""
    return max(min(math.floor(went_mm / _STEP_MM) * _STEP_MM, _MOST_MM), 2.0)


def ahead_axes(
    joints: dict[str, JointRange], half_mm: float
) -> tuple[Callable[[int, float], Array], int, float] | None:
    """Return the axis pose (4, 4) by setting (0: the middle one) and travel, how many settings, and how far to go (mm).

    Straight ahead, each condyle as far as its share of the record; None where a joint is not told.
    """
    right, left = joints["right"], joints["left"]
    if right.ahead is None or left.ahead is None:
        return None
    # as unequal as the condyles went in the record
    mean = 0.5 * (right.forward_mm + left.forward_mm)
    shares = right.forward_mm / mean, left.forward_mm / mean
    middle = (right.ahead.middle, left.ahead.middle, 2.0 * half_mm)
    ends = itertools.product((right.ahead.low, right.ahead.high), (left.ahead.low, left.ahead.high))
    tried = [
        middle,
        *((a, b, middle[2]) for a, b in ends),
        *((middle[0], middle[1], middle[2] + by) for by in (-WIDTH_MM, WIDTH_MM)),
    ]

    def axis(setting: int, travel: float) -> Array:
        a, b, width = tried[setting]
        return protruded(Straight(a), Straight(b), travel * shares[0], travel * shares[1], width)

    return axis, len(tried), _last(mean)


def aside_axes(joint: JointRange, half_mm: float) -> tuple[Callable[[int, float], Array], int, float] | None:
    """Return the same for the jaw going to the other side of ``joint``; None where it is not told."""
    if joint.sideways is None:
        return None
    moving: Side = "right" if joint.side == "right" else "left"
    width = 2.0 * half_mm
    middle = (joint.sideways.middle, *joint.ways[0], width)
    tried = [
        middle,
        *((a, *way, width) for a in (joint.sideways.low, joint.sideways.high) for way in joint.ways[1:]),
        *((*middle[:3], width + by) for by in (-WIDTH_MM, WIDTH_MM)),
    ]

    def axis(setting: int, travel: float) -> Array:
        down, inward, shift, apart = tried[setting]
        guide = Guide(Straight(down), Straight(down), inward, shift)
        return sideways(guide, moving, travel, apart)

    return axis, len(tried), _last(joint.sideways_mm or joint.forward_mm)


def _hidden(closed: Closed) -> set[int]:
    """Teeth at which a hole may hide a contact."""
    if closed.evidence is None:
        return set()
    return {t.tooth for t in closed.evidence.table.teeth if t.unknown_mm2 > 0.0}


def _travel(
    ready: Driven,
    direction: Direction,
    axis: Callable[[int, float], Array],
    settings: int,
    last: float,
    incisor_mm: Array,
    hidden: set[int],
    table: Table | None,
) -> Travel:
    ways = np.arange(0.0, last + 1e-9, _STEP_MM)
    coarse = np.unique([FROM_MM, 0.5 * (FROM_MM + last), last])
    axes = [axis(0, t) for t in ways] + [axis(k, t) for k in range(1, settings) for t in coarse]
    stations = driven_along(ready, axes, table, within_mm=FAR_MM, threads=_THREADS)
    fine, rest = stations[: len(ways)], stations[len(ways) :]
    there = {t for s in stations for p in s.pairs for t in (p.upper_label, p.lower_label) if is_tooth(t)}
    teeth = tuple(sorted(there, key=along_arch_key))
    gap = np.stack([_gaps(s, teeth) for s in fine], axis=1)
    least = [np.min(gap[:, ways >= FROM_MM - 1e-9], axis=1)]
    for k in range(settings - 1):
        part = rest[k * len(coarse) : (k + 1) * len(coarse)]
        least.append(np.min(np.stack([_gaps(s, teeth) for s in part], axis=1), axis=1))
    every = np.stack(least, axis=1)
    low, high = np.min(every, axis=1), np.max(every, axis=1)
    touch = tuple(
        _touch(a, b, t in hidden) for t, a, b in zip(teeth, low.tolist(), high.tolist(), strict=True)
    )
    start = transform(inverse(fine[0].motion), incisor_mm)
    gone = [
        float(np.linalg.norm(transform(s.motion, start) - incisor_mm))
        if s.stopped_by != "nothing"
        else math.nan
        for s in fine
    ]
    return Travel(
        direction,
        ways,
        np.array(gone),
        teeth,
        gap,
        tuple(_guide(s) for s in fine),
        low,
        high,
        touch,
        settings,
        TOUCH_MM,
        FROM_MM,
        FAR_MM,
        fine,
        () if table is None else tuple(s.stopped_by == "table" for s in fine),
    )


def _gaps(station: Station, teeth: Sequence[int]) -> Array:
    found: dict[int, float] = {}
    for p in station.pairs:
        for t in (p.upper_label, p.lower_label):
            found[t] = min(found.get(t, math.inf), p.gap_mm)
    return np.array([found.get(t, math.inf) if found.get(t, math.inf) < FAR_MM else math.inf for t in teeth])


def _guide(station: Station) -> tuple[int, int] | None:
    """The pair of teeth that stops the closing; None where something without a number does."""
    if station.stopped_by != "teeth" or not station.pairs or station.pairs[0].gap_mm > TOUCH_MM:
        return None
    return station.pairs[0].upper_label, station.pairs[0].lower_label


def _touch(low: float, high: float, hidden: bool) -> Touch:
    if high <= TOUCH_MM:
        return "always"
    if low <= TOUCH_MM:
        return "depends"
    return "unknown" if hidden else "never"
