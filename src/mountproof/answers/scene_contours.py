"""Where the numbers on the contour lines of the gap stand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.scene_parts import KNOWN, SceneArch, SceneLabel
from mountproof.geometry.poses import Array
from mountproof.said import say

#: A line is numbered once a tooth where it crosses at least so many sides of faces: some two millimetres of line.
_FEWEST_CROSSINGS = 8
#: Two numbers stand at least so far apart.
_APART_MM = 1.3


def contour_labels(arch: SceneArch, closed_rad: float, edges_mm: Sequence[float]) -> tuple[SceneLabel, ...]:
    """Return a number for each contour line of each tooth, once a tooth, apart from each other.

    ``closed_rad``: how far closed from the record's pose; ``edges_mm``: gaps at which lines are drawn. Each stands on a side of a
    face on which the gap passes that value, exactly there by linear interpolation, as the line is drawn.
    """
    left = np.where(arch.state == KNOWN, (arch.turn_rad - closed_rad) * arch.radius_mm, np.nan)
    sides = _sides(arch.faces[(np.isfinite(left)[arch.faces]).all(axis=1)])
    if not len(sides):
        return ()
    tooth = arch.tooth[sides[:, 0]]
    sides, tooth = sides[tooth > 0], tooth[tooth > 0]
    a, b = left[sides[:, 0]], left[sides[:, 1]]
    placed: list[tuple[Array, str]] = []
    by_tooth = []
    # The widest gaps first: their lines are the longest and find a place anywhere.
    for edge in sorted(edges_mm, reverse=True):
        passes = np.flatnonzero((a < edge) != (b < edge))
        share = (edge - a[passes]) / (b[passes] - a[passes])
        one, other = arch.vertices_mm[sides[passes, 0]], arch.vertices_mm[sides[passes, 1]]
        at = one + share[:, None] * (other - one)
        by_tooth += [(int(t), edge, at[tooth[passes] == t]) for t in np.unique(tooth[passes])]
    for _, edge, at in sorted(by_tooth, key=lambda found: (found[0], -found[1])):
        if len(at) < _FEWEST_CROSSINGS:
            continue
        point = _apart(at, np.array([p for p, _ in placed]).reshape(-1, 3))
        if point is not None:
            placed.append((point, say("{mm:g}", mm=edge)))
    return tuple(SceneLabel("contour", words, point, arch.arch == "lower") for point, words in placed)


def _sides(faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return every side of the faces once, ends ascending."""
    sides = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    key = sides[:, 0].astype(np.int64) << 32 | sides[:, 1]
    return sides[np.unique(key, return_index=True)[1]]


def _apart(at: Array, placed: Array) -> Array | None:
    """Return the place of ``at`` (k, 3) that is farthest from what is placed, None where that is too near.

    The first number of all stands at the end of the line that is farthest from its middle.
    """
    if not len(placed):
        away = np.linalg.norm(at - at.mean(axis=0), axis=1)
        return np.asarray(at[int(np.argmax(away))])
    near = placed[np.linalg.norm(placed - at.mean(axis=0), axis=1) < 15.0]
    if not len(near):
        return _apart(at, near)
    away = np.linalg.norm(at[:, None, :] - near[None, :, :], axis=2).min(axis=1)
    best = int(np.argmax(away))
    return np.asarray(at[best]) if away[best] >= _APART_MM else None
