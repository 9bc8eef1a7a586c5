"""Occlusal device and anterior stop: how far to open for a thickness, and what then stays open behind in excursions."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.guidance_driven import ahead_axes, aside_axes, made_ready
from mountproof.answers.guidance_ranges import JointRange
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Arch
from mountproof.geometry.apart import opening_apart
from mountproof.geometry.driven import Driven, stopped
from mountproof.geometry.guides import OTHER
from mountproof.geometry.poses import Array, closed, opened, transform
from mountproof.geometry.stops import plane_closing
from mountproof.teeth import is_posterior, is_tooth

#: Gaps behind wider than this are not told (mm).
FAR_MM: Final = 6.0


class Behind(NamedTuple):
    """The least gap of back teeth in one direction with the stop in front: where (upper tooth), how wide (mm, inf: beyond)."""

    direction: str
    tooth: int | None
    gap_mm: float


class Stop(NamedTuple):
    """One thickness: opening (rad) over first contact, the tightest pair (ISO 3950, 0 none), and what stays open behind."""

    thickness_mm: float
    opening_rad: float
    upper_tooth: int
    lower_tooth: int
    behind: tuple[Behind, ...]


def stops(
    closing: Closed,
    joints: dict[str, JointRange],
    half_mm: float,
    incisor_mm: Array,
    thicknesses_mm: tuple[float, ...],
) -> tuple[Stop, ...]:
    """Return the opening over first contact in CR that leaves each thickness between all teeth, and the gaps behind.

    ``incisor_mm`` (3,): where the stop in front is met. It is level, and what slides on it is the lower incisors. Excursions
    run with the middle settings; none where no setting is told.
    """
    assert closing.first is not None
    first = closing.first.closing_rad
    up, low = closing.arches[Arch.UPPER], closing.arches[Arch.LOWER]
    touching = transform(closed(first) @ closing.pose, low.vertices_mm)
    with_teeth = np.flatnonzero(up.teeth), np.flatnonzero(low.teeth)
    ready = made_ready(closing)
    axes: list[tuple[str, Callable[[int, float], Array], float]] = []
    ahead = ahead_axes(joints, half_mm)
    if ahead is not None:
        axes.append(("ahead", ahead[0], ahead[2]))
    for side in ("right", "left"):
        aside = aside_axes(joints[OTHER[side]], half_mm)
        if aside is not None:
            axes.append((side, aside[0], aside[2]))
    out = []
    for thickness in thicknesses_mm:
        apart = opening_apart(
            up.vertices_mm, up.faces[with_teeth[0]], touching, low.faces[with_teeth[1]], thickness
        )
        behind = tuple(
            _behind(ready, name, axis, last, first, apart.opening_rad, incisor_mm)
            for name, axis, last in axes
        )
        tight = (
            int(up.teeth[with_teeth[0][apart.upper_face]]),
            int(low.teeth[with_teeth[1][apart.lower_face]]),
        )
        out.append(Stop(thickness, apart.opening_rad, *tight, behind))
    return tuple(out)


def _behind(
    ready: Driven,
    direction: str,
    axis: Callable[[int, float], Array],
    last_mm: float,
    first_rad: float,
    opening_rad: float,
    incisor_mm: Array,
) -> Behind:
    """The least gap of back teeth, half way and at the end."""
    # the incisors of the lower as it was prepared, and where they meet the stop in front
    own = transform(closed(-first_rad), incisor_mm)
    stop = transform(opened(opening_rad), incisor_mm)
    tooth, least = None, math.inf
    for travel in (0.5 * last_mm, last_mm):
        hinge = axis(0, travel)
        latest = plane_closing(hinge, own, stop, [0.0, -1.0, 0.0])
        if not math.isfinite(latest):
            continue
        for p in stopped(ready, hinge, within_mm=FAR_MM, latest_rad=latest).pairs:
            back = is_tooth(p.upper_label) and is_posterior(p.upper_label)
            if back and p.gap_mm < min(least, FAR_MM):
                tooth, least = p.upper_label, p.gap_mm
    return Behind(direction, tooth, least)
