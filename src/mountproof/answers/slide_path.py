"""The way from first contact in CR to the rest: which teeth carry, how the pin stands, and where friction would stop it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.slide_rest import Rested
from mountproof.bench.pin import Pin, pin_from_motion
from mountproof.geometry.poses import Array, inverse, transform
from mountproof.geometry.settling import Push, friction_holds
from mountproof.geometry.surface import moved
from mountproof.geometry.touches import touches_within

#: Faces nearer than this touch, on the way (mm): a fifth of the thinnest foil.
TOUCH_MM = 0.002
#: At most so many poses of the way are told.
_MOST = 12


class Stage(NamedTuple):
    """One pose of the way: ``travel_mm`` of the first place up to here, the pairs of teeth in touch, the pin, friction.

    ``places_mm`` (n, 3): where each of the pairs is nearest, in the frame. ``moved`` (4, 4): from first contact to here;
    ``pin_mm`` how far the pin has to come up (minus: down) since first contact, None without an instrument; ``holds``: contacts
    with the stated friction could hold the push here.
    """

    travel_mm: float
    pairs: tuple[tuple[int, int], ...]
    places_mm: Array
    moved: Array
    pin_mm: float | None
    holds: bool


def stages(
    evidence: ContactEvidence, rest: Rested, start: Array, place_mm: Array, pin: Pin | None, friction: float
) -> tuple[Stage, ...]:
    """Return poses of the way in their order, the first and the last among them; ``place_mm`` (3,) at first contact."""
    path = rest.settled.path
    own = transform(inverse(start), place_mm)
    there = np.array([transform(pose, own) for pose in path])
    travel = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(there, axis=0), axis=1))])
    wanted = np.linspace(0.0, travel[-1], min(_MOST, len(path)))
    chosen = sorted({0, len(path) - 1, *(int(np.argmin(np.abs(travel - w))) for w in wanted)})
    return tuple(_stage(evidence, rest, start, path[k], float(travel[k]), pin, friction) for k in chosen)


def _stage(
    evidence: ContactEvidence,
    rest: Rested,
    start: Array,
    pose: Array,
    travel_mm: float,
    pin: Pin | None,
    friction: float,
) -> Stage:
    near = touches_within(evidence.sited.upper, moved(evidence.sited.lower, pose), 2.0 * TOUCH_MM)
    at = near.gap_mm <= TOUCH_MM
    places: dict[tuple[int, int], Array] = {}
    for k in np.argsort(near.gap_mm, kind="stable").tolist():
        if at[k]:
            u, w = near.faces[k].tolist()
            places.setdefault((int(evidence.upper_teeth[u]), int(evidence.lower_teeth[w])), near.point_mm[k])
    pairs = tuple(sorted(places))
    since = pose @ inverse(start)
    here = transform(since, np.asarray(rest.push.point_mm))
    push = Push((here[0], here[1], here[2]), rest.push.direction)
    holds = friction_holds(near.point_mm[at], near.normal[at], push, friction)
    reads = None if pin is None else pin_from_motion(pin, since)
    there = np.array([places[pair] for pair in pairs]).reshape(-1, 3)
    return Stage(travel_mm, pairs, there, since, reads, holds)
