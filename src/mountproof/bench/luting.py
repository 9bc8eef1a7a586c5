"""Where the casts are luted together: whether the places hold a plane, and what they leave loose."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from mountproof.faults import Fault, FaultError
from mountproof.geometry.support import amplification, support
from mountproof.said import say


class LutingPlan(NamedTuple):
    """What luted places hold: their outline, how an error of one of them grows at each tooth, what stays loose.

    ``amplification`` is by tooth; ``loose_tilt_rad`` the standard uncertainty of the tilt about the line the places
    come nearest to, for an error ``u_place_mm`` of each; ``loose_about`` that line's direction (forward, right).
    """

    places: int
    area_mm2: float
    slenderness: float
    amplification: Mapping[str, float]
    loose_tilt_rad: float
    loose_about: tuple[float, float]
    worst_tooth: str


def luting_plan(
    places_xz_mm: Sequence[tuple[float, float]],
    teeth_xz_mm: Mapping[str, tuple[float, float]],
    u_place_mm: float,
    refuse_beyond: float = 2.0,
) -> LutingPlan:
    """Return what luted places (forward, right; mm) hold at the teeth.

    Two places are a hinge and a third near their line adds little: refused, with FaultError, where fewer than three
    places are given or where an error of a place would grow by more than ``refuse_beyond`` at a tooth. ``u_place_mm``
    is how far one place may give way (standard uncertainty).
    """
    if not teeth_xz_mm:
        raise ValueError("name the teeth at which the places must hold")
    if not u_place_mm >= 0.0:
        raise ValueError("u_place_mm cannot be below zero")
    places = np.asarray(places_xz_mm, dtype=np.float64).reshape(-1, 2)
    if places.shape[0] < 3:
        raise FaultError([_few(places.shape[0])])
    shape = support(places)
    names = list(teeth_xz_mm)
    try:
        grows = amplification(places, [teeth_xz_mm[n] for n in names])
    except ValueError:
        raise FaultError([_line(say("all places lie in one line"), math.inf, refuse_beyond)]) from None
    worst = int(np.argmax(grows))
    if grows[worst] > refuse_beyond:
        what = say(
            "an error of one place grows {times:.1f} times at {place}", times=grows[worst], place=names[worst]
        )
        raise FaultError([_line(what, float(grows[worst]), refuse_beyond)])
    tilt = u_place_mm / (shape.across_mm * math.sqrt(places.shape[0]))
    return LutingPlan(
        places.shape[0],
        shape.area_mm2,
        shape.slenderness,
        {n: float(g) for n, g in zip(names, grows, strict=True)},
        tilt,
        (float(shape.loose_about[0]), float(shape.loose_about[1])),
        names[worst],
    )


def best_third_place(
    two_xz_mm: Sequence[tuple[float, float]],
    candidates_xz_mm: Mapping[str, tuple[float, float]],
    teeth_xz_mm: Mapping[str, tuple[float, float]],
) -> tuple[str, float]:
    """Return which candidate place, added to those given, keeps the largest growth of an error smallest, and that growth."""
    best, least = "", math.inf
    for name, place in candidates_xz_mm.items():
        try:
            grows = float(np.max(amplification([*two_xz_mm, place], list(teeth_xz_mm.values()))))
        except ValueError:
            continue
        if grows < least:
            best, least = name, grows
    return best, least


def _few(count: int) -> Fault:
    return Fault(
        code="luting.few",
        field="bench.luted_at",
        what=say("two places let the cast turn about the line through them"),
        got=say("{count} places", count=count),
        allowed=say("three or more, not in a line"),
        todo=say("Lute at one more place, well away from the line through the others"),
    )


def _line(what: str, grows: float, limit: float) -> Fault:
    return Fault(
        code="luting.line",
        field="bench.luted_at",
        what=what,
        got=say("grows {times:.1f} times", times=grows) if math.isfinite(grows) else say("no plane"),
        allowed=say("at most {limit:g} times", limit=limit),
        todo=say("Lute at one more place, well away from the line through the others"),
    )
