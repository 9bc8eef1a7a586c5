"""The search of one pair of parts as ``draws`` asks for it: its scratch, motions in bunches, and what is wanted of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _pair_search, _small_motions
from mountproof.geometry._bunch_lanes import LANES, ROWS
from mountproof.geometry._leaf_pairs import Room
from mountproof.geometry._pair_bounds import LID, Frame
from mountproof.geometry._pair_features import Corners
from mountproof.geometry._parts import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Corners whose places at every motion of a bunch are kept.
_KEPT = 1024


def room_for(lowers: tuple[Part, ...]) -> Room:
    """Scratch for any of some lower parts."""
    n = max(len(low.nodes) for low in lowers)
    v = max(len(low.turned) for low in lowers)
    return Room(
        lanes=np.zeros((ROWS, LANES)),
        cut=np.zeros(LANES),
        gaps=np.zeros(LANES),
        patch=np.zeros((5, LANES)),
        lids=np.zeros((n, LID)),
        lid_stamp=np.zeros(n, np.int32),
        stamp=np.zeros(1, np.int32),
        places=np.zeros(v, np.int32),
        corner_stamp=np.zeros(v, np.int32),
        corners_stamp=np.zeros(3, np.int32),
        r=np.zeros((_KEPT, LANES)),
        z=np.zeros((_KEPT, LANES)),
        phi=np.zeros((_KEPT, LANES)),
        boxes=np.zeros((_KEPT, 4)),
        found=np.zeros(LANES),
        best=np.zeros((LANES, 5), np.int32),
        what=np.zeros((1, 5), np.int32),
        points=np.zeros((1, 12)),
        touch=np.zeros(4),
        about=np.zeros(13),
        keys=np.zeros(_pair_search.WAITING),
        pairs=np.zeros((_pair_search.WAITING, 2), np.int32),
        carried=np.zeros((3, 4)),
        corners=corners(),
        counts=np.zeros(8, np.int64),
    )


def corners() -> Corners:
    return Corners(np.zeros((3, 3)), np.zeros(3), *(np.zeros(3) for _ in range(4)))


def as_told(motions: Floats, frame: Frame) -> Floats:
    """Motions as a part's own frame tells them (see ``_small_motions``)."""
    told = np.zeros((len(motions), _small_motions.COLUMNS))
    _small_motions._told(motions, frame.cos, frame.sin, frame.rc, frame.zc, told)
    return told


def nominal(up: Part, low: Part, frame: Frame, pose: Floats, room: Room) -> float:
    """Exact first contact of two parts at the nominal pose."""
    still = np.eye(4)[None]
    search = Search(still, pose[None], room)
    one, told = np.zeros(1, np.int32), as_told(still, frame)
    return float(
        search(up, low, frame, told, np.full(1, np.inf), bunched_by(told, one), np.zeros((1, 5), np.int32))[0]
    )


class Bunched(NamedTuple):
    """Some motions in bunches that are alike: their order, the first of each bunch and the end, how many bunches."""

    order: Ints
    starts: Ints
    bunches: int


def bunched_by(told: Floats, chosen: NDArray[np.integer]) -> Bunched:
    order = chosen.astype(np.int32)
    starts = np.zeros(len(order) // LANES + 4, np.int32)
    count = int(_small_motions._gathered(told, LANES, order, starts)) if len(order) else 0
    return Bunched(order, starts, count)


class Search(NamedTuple):
    """What the search of a pair of parts needs of all motions."""

    motions: Floats
    poses: Floats
    room: Room

    def __call__(
        self,
        up: Part,
        low: Part,
        frame: Frame,
        told: Floats,
        limit_rad: Floats,
        bunched: Bunched,
        which: Ints,
        asked: int = _pair_search.EXACT,
        patch_mm: float = 0.0,
    ) -> Floats:
        """First contacts of the bunched motions, or what else is ``asked``, as far as they are within the limit; else inf."""
        closing = np.full(len(self.motions), np.inf)
        _pair_search._bunches(
            up,
            low,
            frame,
            self.motions,
            self.poses,
            told,
            bunched.order,
            bunched.starts,
            bunched.bunches,
            limit_rad,
            asked,
            patch_mm,
            self.room,
            closing,
            which,
        )
        return closing
