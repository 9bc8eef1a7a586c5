"""What the shape of one arch tells about how it lies: its size, its tooth side, where it opens, where teeth stand.

All of it is free of scale and changes nothing. What cannot be told is zero or None, never a guess.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from mountproof.geometry.folds import folds, smoothed_copy
from mountproof.geometry.topology import Topology
from mountproof.said import say
from mountproof.teeth import Arch, arch_of, is_tooth, mirrored, place, side_of

Floats = npt.NDArray[np.float64]
Faces = npt.NDArray[Any]

#: A piece is debris when it is small in area (against the largest piece) and in size (against the whole arch,
#: about 80 mm): less than 4 mm across. The smallest crown is twice that; beside a stone base it is small in area only.
DEBRIS_AREA_SHARE = 0.02
DEBRIS_SIZE_SHARE = 0.05

#: The vector area of an open surface is compared with its area; a scan of one arch has about a half, a nearly
#: closed body nothing. Below this share the border says nothing about the tooth side.
_OPEN_SHARE = 0.15

#: Grooves and pits of teeth face the tooth side: 0.22 to 0.26 of all hollow folds on real crowns, whatever the
#: noise up to 0.1 mm; evenly hollow bodies come to 0. Below this share it is not told.
_GROOVE_SHARE = 0.10
_SMOOTHING_ROUNDS = 10

#: At the open end an arch is wider than at the front by far more than this factor.
_WIDER = 1.25
#: Share of the depth of the arch that counts as its front and its back.
_END_SHARE = 0.2
#: Share of the area left out on each side before a width is taken.
_TRIM = 0.05


class ToothSide(NamedTuple):
    """Direction (3,) of length one in which the teeth point, and the words for how it was told."""

    direction: Floats
    told_by: str


def no_debris(vertices: Floats, faces: Faces, topology: Topology) -> npt.NDArray[np.bool_]:
    """Pieces of a surface that are more than debris: (k,) bool for the k pieces of its ``topology``."""
    area = topology.area_mm2
    large: npt.NDArray[np.bool_] = area >= DEBRIS_AREA_SHARE * area.max(initial=0.0)
    points = vertices[np.unique(faces[large[topology.components.of_face]])]
    whole = float(np.linalg.norm(np.ptp(points, axis=0))) if points.size else 0.0
    return large | (topology.size_mm >= DEBRIS_SIZE_SHARE * whole)


def area_vectors(vertices: Floats, faces: Faces) -> tuple[Floats, Floats]:
    """Vector areas (m, 3) and centres (m, 3) of faces, in units of the vertices."""
    corner = vertices[faces]
    return np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]) / 2, corner.mean(axis=1)


def longest_extent(vertices: Floats, faces: Faces) -> float:
    """Largest box side of the vertices of ``faces`` along their own principal axes."""
    points = vertices[np.unique(faces)]
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    return float(np.ptp(centred @ axes, axis=0).max(initial=0.0))


def tooth_side(vertices: Floats, faces: Faces, topology: Topology) -> ToothSide | None:
    """Tell where the teeth of a scan point, in the scan's own axes; None where its shape does not tell.

    An open scan has its border away from the teeth, so its vector area points to them; grooves and pits face
    them on any scan. ``topology`` is that of the same surface; faces turned inside out are allowed for.
    """
    kept = no_debris(vertices, faces, topology)
    used = np.ascontiguousarray(faces[kept[topology.components.of_face]])
    if topology.volume_mm3[kept].sum() < 0:
        used = np.ascontiguousarray(used[:, ::-1])
    vectors, _ = area_vectors(vertices, used)
    whole = float(np.linalg.norm(vectors, axis=1).sum())
    if whole == 0.0:
        return None
    by_border = vectors.sum(axis=0) / whole
    found = folds(smoothed_copy(vertices, used, _SMOOTHING_ROUNDS), used)
    by_grooves = found.hollow / found.hollow_sum if found.hollow_sum > 0 else np.zeros(3)
    border_tells = float(np.linalg.norm(by_border)) >= _OPEN_SHARE
    grooves_tell = float(np.linalg.norm(by_grooves)) >= _GROOVE_SHARE
    if border_tells and grooves_tell and float(by_border @ by_grooves) < 0:
        return None
    if border_tells:
        return ToothSide(by_border / np.linalg.norm(by_border), say("its border lies on the other side"))
    if grooves_tell:
        return ToothSide(by_grooves / np.linalg.norm(by_grooves), say("its grooves and pits face there"))
    return None


def opens_towards(vertices: Floats, faces: Faces) -> int:
    """Sign of x at the open end of an arch seen along y: -1, 1, or 0 where it cannot be told.

    ``vertices`` (n, 3) with y along the tooth side; the open end is the wider one. One side alone tells nothing.
    """
    vectors, centre = area_vectors(vertices, faces)
    weight = np.linalg.norm(vectors, axis=1)
    x, z = centre[:, 0], centre[:, 2]
    low, high = (_quantile(x, weight, q) for q in (_TRIM, 1 - _TRIM))
    z_span = _quantile(z, weight, 1 - _TRIM) - _quantile(z, weight, _TRIM)
    if high - low <= 0 or z_span < high - low:
        return 0
    reach = _END_SHARE * (high - low)
    widths = [
        _quantile(z[end], weight[end], 1 - _TRIM) - _quantile(z[end], weight[end], _TRIM)
        for end in (x <= low + reach, x >= high - reach)
    ]
    if widths[0] > _WIDER * widths[1]:
        return -1
    return 1 if widths[1] > _WIDER * widths[0] else 0


def tooth_points(vertices: Floats, faces: Faces, labels: npt.NDArray[Any]) -> dict[int, Floats]:
    """Centre (3,) of the surface of each labelled tooth; ``labels`` (m,), numbers that are no tooth left out."""
    vectors, centre = area_vectors(vertices, faces)
    weight = np.linalg.norm(vectors, axis=1)
    found = {}
    for tooth in np.unique(labels).tolist():
        own = labels == tooth
        if is_tooth(tooth) and weight[own].sum() > 0:
            found[int(tooth)] = np.average(centre[own], axis=0, weights=weight[own])
    return found


def arch_by_labels(teeth: Mapping[int, Any]) -> Arch | None:
    """The arch most of the numbered teeth belong to; None for none or a tie."""
    upper = sum(arch_of(t) == "upper" for t in teeth)
    if 2 * upper == len(teeth):
        return None
    return "upper" if 2 * upper > len(teeth) else "lower"


def molar_width(teeth: Mapping[int, Floats]) -> tuple[int, int, float] | None:
    """The hindmost pair of back teeth that stand on both sides: right, left, distance of their centres."""
    pairs = [(place(t), t) for t in teeth if side_of(t) == "right" and place(t) >= 4 and mirrored(t) in teeth]
    if not pairs:
        return None
    _, right = max(pairs)
    left = mirrored(right)
    return right, left, float(np.linalg.norm(teeth[right] - teeth[left]))


def to_the_right(teeth: Mapping[int, Floats]) -> Floats | None:
    """Vector from the left teeth to the right teeth of the same names; None without a pair."""
    pairs = [teeth[t] - teeth[mirrored(t)] for t in teeth if side_of(t) == "right" and mirrored(t) in teeth]
    if pairs:
        return np.asarray(np.mean(pairs, axis=0), dtype=np.float64)
    right = [p for t, p in teeth.items() if side_of(t) == "right"]
    left = [p for t, p in teeth.items() if side_of(t) == "left"]
    if right and left:
        return np.asarray(np.mean(right, axis=0) - np.mean(left, axis=0), dtype=np.float64)
    return None


def to_the_front(teeth: Mapping[int, Floats]) -> Floats | None:
    """Vector from the back teeth to the front teeth, each side on its own so that one side is enough."""
    found = []
    for side in ("right", "left"):
        front = [p for t, p in teeth.items() if side_of(t) == side and place(t) <= 3]
        back = [p for t, p in teeth.items() if side_of(t) == side and place(t) >= 4]
        if front and back:
            found.append(np.mean(front, axis=0) - np.mean(back, axis=0))
    return np.asarray(np.mean(found, axis=0), dtype=np.float64) if found else None


def _quantile(values: Floats, weights: Floats, q: float) -> float:
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weights[order])
    return float(values[order[min(int(np.searchsorted(total, q * total[-1])), len(order) - 1)]])
