"""Places of the lower at which the slide is told: incisors, last molars, condyles; and where it is pushed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.scans import ArchScan
from mountproof.geometry.poses import Array, transform
from mountproof.occlusion.tips import tip
from mountproof.said import say

_RIGHT, _LEFT = (47, 48, 46, 45), (37, 38, 36, 35)
_FRONT = ((31, 41), (32, 42), (33, 43))


class SlidePlace(NamedTuple):
    """A place of the lower: ``key``, its words, and where it lies at first contact in CR (3,), mm in the frame."""

    key: str
    words: str
    first_mm: Array


def slide_places(lower: ArchScan, start: Array, half_width_mm: float) -> tuple[SlidePlace, ...]:
    """Return the places that the scan shows, in the order in which they are told; ``start`` (4, 4) the pose at first contact.

    The condyles are taken where the hinge axis has them.
    """
    places = []
    front = next((at for teeth in _FRONT if (at := tip_of(lower, teeth)) is not None), None)
    if front is not None:
        places.append(SlidePlace("incisors", say("incisors"), transform(start, front)))
    for key, words, teeth in (
        ("molar_right", say("last molar right"), _RIGHT),
        ("molar_left", say("last molar left"), _LEFT),
    ):
        at = next((at for tooth in teeth if (at := tip_of(lower, (tooth,))) is not None), None)
        if at is not None:
            places.append(SlidePlace(key, words, transform(start, at)))
    for key, words, side in (
        ("condyle_right", say("condyle right"), 1.0),
        ("condyle_left", say("condyle left"), -1.0),
    ):
        places.append(SlidePlace(key, words, np.array([0.0, 0.0, side * half_width_mm])))
    return tuple(places)


def tip_of(lower: ArchScan, teeth: tuple[int, ...]) -> Array | None:
    """Return the middle of the highest points of some teeth, in the lower's own coordinates; None where one is not there."""
    own = [np.unique(lower.faces[lower.teeth == tooth]) for tooth in teeth]
    if any(len(one) == 0 for one in own):
        return None
    return tip(lower.vertices_mm[np.concatenate(own)], "lower")
