"""The search of one pair of parts as ``draws`` asks for it: its scratch, motions in bunches, and what is wanted of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _guesses, _pair_search, _small_motions
from mountproof.geometry._bunch_lanes import LANES, ROWS
from mountproof.geometry._leaf_pairs import Room
from mountproof.geometry._pair_bounds import LID, Frame
from mountproof.geometry._pair_features import Corners
from mountproof.geometry._parts import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Corners whose places at every motion of a bunch are kept.
_KEPT = 1024


#: How many times as far the second search near a guess goes.
_WIDER = 6.0

#: Bunches that have one motion between them whose closing the others' are guessed from.
_APART = 3


#: Halves of motions that may wait: one for each time that any number of motions is halved.
_HALVES = 64


def room_for(lowers: tuple[Part, ...]) -> Room:
    """Scratch for any of some lower parts."""
    n = max(len(low.nodes) for low in lowers)
    v = max(len(low.turned) for low in lowers)
    gaps = np.zeros(LANES, np.float32)
    return Room(
        lanes=np.zeros((ROWS, LANES)),
        cut=np.zeros(LANES),
        gaps=np.zeros(LANES),
        patch=np.zeros((3, LANES), np.float32),
        patch_cut=np.zeros(LANES, np.float32),
        patch_gaps=gaps,
        patch_bits=gaps.view(np.uint32),
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
        keys=np.zeros(_pair_search.WAITING, np.int64),
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


class Bunched(NamedTuple):
    """Some motions in bunches that are alike: their order, the first of each bunch and the end.

    ``lanes``, ``thetas``, ``about`` of each are told in ``_small_motions._laid``.
    """

    order: Ints
    starts: Ints
    lanes: NDArray[np.float32]
    thetas: Floats
    about: Floats


def bunched_by(told: Floats, chosen: NDArray[np.integer]) -> Bunched:
    """Bunches of motions that are alike in d_r and d_z."""
    order, count = chosen.astype(np.int32), -(-len(chosen) // LANES)
    starts = np.zeros(count + 1, np.int32)
    keys = np.ascontiguousarray(told[order, :2].T)
    _small_motions._gathered(
        keys, LANES, order, starts, np.zeros((_HALVES, 2), np.int32), np.zeros((_HALVES, 4))
    )
    lanes, thetas = np.zeros((count, 5, LANES), np.float32), np.zeros((count, LANES))
    about = np.zeros((count, 13))
    _small_motions._laid(told, order, starts, lanes, thetas, about)
    return Bunched(order, starts, lanes, thetas, about)


class Two(NamedTuple):
    """Two parts, the lower's frame, all motions as it tells them, and what touches at each (see ``_pair_search``)."""

    up: Part
    low: Part
    frame: Frame
    told: Floats
    which: Ints


class Search(NamedTuple):
    """What the search of two parts needs of all motions."""

    motions: Floats
    poses: Floats
    room: Room

    def __call__(
        self,
        two: Two,
        limit_rad: Floats,
        bunched: Bunched,
        asked: int = _pair_search.EXACT,
        patch_mm: float = 0.0,
    ) -> Floats:
        """First contacts of the bunched motions, or what else is ``asked``, as far as they are within the limit; else inf."""
        closing = np.full(len(self.motions), np.inf)
        _pair_search._bunches(
            two.up,
            two.low,
            two.frame,
            self.motions,
            self.poses,
            two.told,
            bunched.order,
            bunched.starts,
            bunched.lanes,
            bunched.thetas,
            bunched.about,
            limit_rad,
            asked,
            patch_mm,
            self.room,
            closing,
            two.which,
        )
        return closing

    def near(
        self, two: Two, limit_rad: Floats, chosen: NDArray[np.integer], guess_rad: Floats, spare_rad: float
    ) -> Floats:
        """First contacts of the motions ``chosen``, sought near a guess first: what may end early is quick."""
        closing = np.full(len(self.motions), np.inf)
        for spare in (spare_rad, _WIDER * spare_rad, np.inf):
            near_it = np.minimum(limit_rad, guess_rad + spare)
            if len(chosen) == 0:
                break
            closing[chosen] = self(two, near_it, bunched_by(two.told, chosen))[chosen]
            chosen = chosen[np.isinf(closing[chosen]) & (near_it[chosen] < limit_rad[chosen])]
        return closing

    def tangents(self, two: Two, chosen: Ints, closing: Floats) -> Floats:
        """Tangents (k, 6) of the contacts of the motions ``chosen`` (see ``_guesses``)."""
        out = np.zeros((len(chosen), _guesses.TANGENT))
        _guesses._tangents(
            two.up,
            two.low,
            two.frame,
            self.poses,
            two.told,
            chosen,
            closing,
            two.which,
            self.room,
            out,
        )
        return out

    def guesses(self, two: Two, bunched: Bunched, tangent: Floats, spare_rad: float) -> Floats:
        """Guess the closing of all bunched motions from exact ones of some, which ``tangent`` (6,) guesses."""
        firsts = np.append(bunched.starts[:-1:_APART], len(bunched.order)).astype(np.int32)
        some = bunched.order[(firsts[:-1] + firsts[1:]) // 2]
        far, rough, fine = (np.full(len(self.motions), np.inf) for _ in range(3))
        _guesses._guessed(two.told, some, np.array([0, len(some)], np.int32), tangent[None], rough)
        closing = self.near(two, far, some, rough, spare_rad)
        _guesses._guessed(two.told, bunched.order, firsts, self.tangents(two, some, closing), fine)
        return fine


def nominal(up: Part, low: Part, frame: Frame, pose: Floats, room: Room) -> tuple[float, Floats]:
    """Exact first contact of two parts at the nominal pose, and its tangent (6,)."""
    still = np.eye(4)[None]
    search, one = Search(still, pose[None], room), np.zeros(1, np.int32)
    two = Two(up, low, frame, as_told(still, frame), np.zeros((1, 5), np.int32))
    closing = search(two, np.full(1, np.inf), bunched_by(two.told, one))
    return float(closing[0]), search.tangents(two, one, closing)[0]
