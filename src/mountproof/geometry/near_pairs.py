"""Which pairs of faces are about to touch, kept from pose to pose of a lower that moves by small steps without overlap."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry import _near_pairs as kernels
from mountproof.geometry._near_blocks import Faces, Placed, Rows
from mountproof.geometry._near_met import OnePair, _met
from mountproof.geometry._near_pairs import Pairs
from mountproof.geometry._nearest import LEAF_FACES
from mountproof.geometry._two_faces import _triangle_pair
from mountproof.geometry.poses import Array, closed
from mountproof.geometry.surface import Surface, moved
from mountproof.geometry.touches import Touches, told

#: Lengths (mm) below this are rounding: bounds of distances give way by so much.
_ROUNDING_MM = 1e-9
#: Room for pairs at first: twice what the phantom's arches take.
_ROOM = 1 << 16


class NearPairs:
    """The pairs that may meet, for a lower that stands at ``pose`` (4, 4), where it must not overlap the upper.

    It asks the arches as a whole: nothing that meets is left out (docs/theory/settling.md). It changes as it is asked, so one
    belongs to one search.
    """

    def __init__(self, upper: Surface, lower: Surface, pose: Array) -> None:
        self._upper, self._lower = upper, lower
        self._up, self._low = upper.standing_blocks, lower.blocks
        # a depth of at most 31 in each tree, one waits at each
        self._stack, self._until = np.zeros((128, 3), np.int32), np.zeros(kernels.WAYS)
        self._one = OnePair(*(np.zeros(n) for n in (3, 4, 1, 6, 6)))
        self._met = 1 << 12
        self._begin(_ROOM, pose, pose)

    def _begin(self, room: int, here: Array, there: Array) -> None:
        """Begin with the whole arches, with room for so many pairs of blocks and of faces, and for the parts that these take."""
        leaves, nodes = room // 32 + 2, room // 8 + 2
        self._up_faces, self._up_leaves = _faces(leaves), _rows(self._up.row)
        rows = _rows(self._low.row), _rows(2 * self._low.row)
        self._here, self._there = (_placed(leaves, nodes, pose, *rows) for pose in (here, there))
        self._pairs, self._near = _pairs(room), np.zeros((room, 2), np.int32)
        self._size, self._gone = 1, np.zeros(kernels.WAYS)

    @property
    def pose(self) -> Array:
        """Where the lower stands, (4, 4)."""
        return self._here.pose

    def go(self, pose: Array) -> None:
        """Let the lower stand at another pose, that ``closed`` has shown to be without overlap."""
        self._gone += self._went(self.pose, pose)
        if np.array_equal(self._there.pose, pose):  # as it was left by ``closed``: nothing is carried twice
            self._here, self._there = self._there, self._here
        else:
            self._here = _at(self._here, pose)

    def anew(self) -> None:
        """Forget what is kept: whatever is asked next is searched from the whole arches."""
        self._pairs, self._size = _whole(self._pairs), 1

    def within(self, within_mm: float, *, ends: bool = False) -> Touches:
        """Every corner and edge that meets a face or an edge within an arc of closing, told as by ``touches_within``.

        ``ends``: two edges also where they meet at an end of one, and that corner meets the faces beside the other as well.
        """
        lower, found, which = self._asked(self.pose, within_mm, 0.0, first_found=False, ends=ends)
        return told(self._upper, lower, 0.0, found, which)

    def closed(
        self, tried: Array, within_mm: float, likely: NDArray[np.int64]
    ) -> tuple[float, Touches] | None:
        """The closing (rad) to first contact from a pose near this one, and the pairs within an arc once closed so.

        ``likely`` (n, 2): pairs of faces that may be first: one that meets tells how far to look. None when none of them
        meets.
        """
        low, up = self._lower, self._upper
        tol, _, _ = up.tolerances(low)
        early = _earliest(up.vertices_mm, up.faces, low.rest_mm, low.faces, tried, likely, tol)
        if not early < np.inf:
            return None
        spare_mm = 0.25 * within_mm
        while True:
            goal = closed(early) @ tried
            lower, found, which = self._asked(goal, within_mm, spare_mm, first_found=True)
            more = float(found[:, 0].min())
            # what is farther from the way there than is spared has not touched on the way to the end either
            if self._went(goal, closed(more) @ goal).max() <= spare_mm:
                return early + more, told(up, lower, more, found, which).within(within_mm)
            early += more

    def _went(self, here: Array, there: Array) -> Array:
        """How far the lower goes at most from pose to pose (mm), for each larger block."""
        out = np.zeros(kernels.WAYS)
        kernels._went(self._low.boxes, here, there, out)
        return out

    def _asked(
        self, goal: Array, within_mm: float, spare_mm: float, *, first_found: bool, ends: bool = False
    ) -> tuple[Surface, Array, NDArray[np.int64]]:
        """The lower at a pose, and what meets there within an arc; what never touches on the way there is left out."""
        self._there = _at(self._there, goal)
        lower = moved(self._lower, goal)
        went = self._went(self.pose, goal)
        count = -1
        while count < 0:
            size, count = kernels._due(
                self._up, self._low, self._up_faces, self._up_leaves, self._here, self._there, self._pairs, self._size,
                self._gone, went, self._until, within_mm + spare_mm + _ROUNDING_MM, self._near, self._stack, self._one.scratch,
            )  # fmt: skip
            if size < 0 or count < 0:
                # what was under way is lost: from the whole arches again, with more room
                self._begin(2 * len(self._near), self.pose, goal)
                size, count = 1, -1
            self._size = size
        while True:
            found, which = np.zeros((self._met, 4)), np.zeros((self._met, 5), np.int64)
            met = _met(
                self._up_faces, self._there, self._near, count,
                *self._upper.tolerances(lower), within_mm, first_found, ends, found, which, self._one,
            )  # fmt: skip
            if met <= self._met:
                # by the numbers of the faces: the order of the search does not show
                order = np.lexsort(which[:met, ::-1].T)
                return lower, found[order], which[order]
            self._met = 2 * met


def _pairs(room: int) -> Pairs:
    upper, lower, way = (np.zeros(room, np.int32) for _ in range(3))
    return _whole(Pairs(upper, lower, way, np.zeros(room)))


def _whole(pairs: Pairs) -> Pairs:
    """The same room for pairs of blocks, with that of the whole arches first, due at once."""
    pairs.upper[0] = pairs.lower[0] = pairs.way[0] = 1
    pairs.due_mm[0] = -np.inf
    return pairs


def _placed(leaves: int, nodes: int, pose: Array, leaf_rows: Rows, node_rows: Rows) -> Placed:
    bricks, made = np.zeros((nodes, 12)), np.zeros(nodes, np.int32)
    return Placed(np.array(pose, order="C"), _faces(leaves), bricks, made, leaf_rows, node_rows, 1)


def _at(placed: Placed, pose: Array) -> Placed:
    return placed._replace(pose=np.array(pose, order="C"), stamp=placed.stamp + 1)


def _rows(n: int) -> Rows:
    return Rows(np.zeros(n, np.int32), np.zeros(1, np.int32))


def _faces(leaves: int) -> Faces:
    n = leaves * LEAF_FACES
    return Faces(
        corners=np.zeros((n, 3, 3)),
        boxes=np.zeros((n, 6)),
        polar=np.zeros((n, 3, 3)),
        rings=np.zeros((n, 6)),
        numbers=np.zeros(n, np.int32),
        owned=np.zeros(n, np.int32),
        boxed=np.zeros(leaves, np.int32),
        ringed=np.zeros(n, np.int32),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _earliest(
    up: Array,
    up_faces: NDArray[np.int32],
    low: Array,
    low_faces: NDArray[np.int32],
    pose: Array,
    pairs: NDArray[np.int64],
    tol: float,
) -> float:
    """The least closing of these pairs of faces; infinite when none meets."""
    best = 4.0
    a = np.zeros((3, 3))
    b = np.zeros((3, 3))
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    for i in range(pairs.shape[0]):
        for c in range(3):
            v = low_faces[pairs[i, 1], c]
            for k in range(3):
                a[c, k] = up[up_faces[pairs[i, 0], c], k]
                b[c, k] = (
                    pose[k, 0] * low[v, 0] + pose[k, 1] * low[v, 1] + pose[k, 2] * low[v, 2] + pose[k, 3]
                )
        best = _triangle_pair(a, b, tol, best, touch, feature)
    return best if best < 4.0 else np.inf
