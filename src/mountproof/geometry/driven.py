"""Arches driven along their guides: at each pose of the axis the lower closes until a tooth, the table or the pin stops it.

The axis belongs to the lower. Seen from the lower it does not move, and it is the upper that is carried: so the lower is
sorted once for all poses, and a pose costs what one first contact costs. The mirror y -> -y turns the lower that stands under
the axis into an arch that stands above it, and the upper into the one that closes. Derivation: docs/theory/excursions.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry.contact import Contact, first_contact
from mountproof.geometry.poses import Array, checked, closed, inverse, transform
from mountproof.geometry.stops import Table, table_closing
from mountproof.geometry.surface import Surface, moved, prepare, split

#: Up becomes down.
_MIRROR: Final = np.diag([1.0, -1.0, 1.0, 1.0])
#: Parts farther apart than this along r or z at the start are not asked about (mm): no jaw goes so far.
_FAR_MM: Final = 15.0

StoppedBy = Literal["teeth", "table", "nothing"]


class PairGap(NamedTuple):
    """How far two parts are from meeting at a station: along closing (mm, 0 where they stop it) and where (3,), on the upper."""

    upper_label: int
    lower_label: int
    gap_mm: float
    point_mm: Array


class Station(NamedTuple):
    """The lower at one pose of the axis.

    ``closing_rad`` from the pose that was prepared; ``motion`` (4, 4) of the lower from there; ``stopped_by``; ``touch``: the
    faces that stop it, point and normal in the frame of the upper (None: no tooth stops it). ``pairs``: nearest first.
    """

    axis: Array
    closing_rad: float
    motion: Array
    stopped_by: StoppedBy
    touch: Contact | None
    pairs: tuple[PairGap, ...]


class Driven(NamedTuple):
    """Two arches made ready to be driven: the mirrored lower that stands, the mirrored upper that is carried, and their parts."""

    standing: Surface
    carried: Surface
    near: tuple[tuple[int, int], ...]
    standing_parts: dict[int, Surface]
    carried_parts: dict[int, Surface]


def driven(
    upper: Surface,
    lower: Surface,
    upper_labels: NDArray[np.integer] | None = None,
    lower_labels: NDArray[np.integer] | None = None,
) -> Driven:
    """Prepare two arches at their present pose, in centric relation; labels (m,) a face, 0 for what is asked only as a whole.

    Raises ValueError when the arches are swapped or labels do not match the faces.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    standing = prepare(lower.vertices_mm * [1.0, -1.0, 1.0], lower.faces, arch="upper")
    carried = prepare(upper.vertices_mm * [1.0, -1.0, 1.0], upper.faces, arch="lower")
    if upper_labels is None or lower_labels is None:
        return Driven(standing, carried, (), {}, {})
    below, above = split(standing, lower_labels), split(carried, upper_labels)
    near = tuple((u, w) for u, a in above.items() for w, b in below.items() if _near(a, b))
    return Driven(standing, carried, near, below, above)


def _near(one: Surface, other: Surface) -> bool:
    a, b = one.boxes[1], other.boxes[1]
    radii = math.sqrt(a[0]) - math.sqrt(b[1]), math.sqrt(b[0]) - math.sqrt(a[1])
    return bool(max(*radii, a[2] - b[3], b[2] - a[3]) < _FAR_MM)


def stopped(
    ready: Driven,
    axis: ArrayLike,
    table: Table | None = None,
    *,
    parts: bool = True,
    within_mm: float = math.inf,
    latest_rad: float = math.inf,
) -> Station:
    """Close the lower about the axis pose (4, 4) until a tooth or the table stops it, and measure what stays open.

    ``parts``: ask for the gaps of the parts too, all that are below ``within_mm`` (and some that are not). A gap is the arc about
    the axis, at the place where the parts would meet first. ``latest_rad``: a closing at which something else stops it, such as a
    stop in front (``stops.plane_closing``); it counts as the table.
    Raises ValueError for an axis that is no rigid motion, FaultError where an arch would lie behind it.
    """
    hinge = checked(axis, (4, 4), "axis")
    back = _MIRROR @ inverse(hinge) @ _MIRROR
    touch = first_contact(ready.standing, moved(ready.carried, back))
    by_table = latest_rad if table is None else min(table_closing(table, hinge), latest_rad)
    closing = min(by_table, math.inf if touch is None else touch.closing_rad)
    if not math.isfinite(closing):
        return Station(hinge, math.nan, hinge, "nothing", None, ())
    motion = hinge @ closed(closing)
    by_teeth = touch is not None and touch.closing_rad <= by_table
    told = _in_upper(touch, motion) if touch is not None and by_teeth else None
    gaps = _pairs(ready, back, hinge, closing, within_mm) if parts else ()
    return Station(hinge, closing, motion, "teeth" if by_teeth else "table", told, gaps)


def driven_along(
    ready: Driven,
    axes: Sequence[Array],
    table: Table | None = None,
    *,
    parts: bool = True,
    within_mm: float = math.inf,
    threads: int = 1,
) -> tuple[Station, ...]:
    """Return ``stopped`` at each axis pose (4, 4), on so many threads: the same to the last bit on any number."""
    if not axes:
        return ()

    def one(axis: Array) -> Station:
        return stopped(ready, axis, table, parts=parts, within_mm=within_mm)

    # the first one by itself: what the standing arch works out is worked out once
    first = one(axes[0])
    with ThreadPoolExecutor(max(threads, 1)) as pool:
        return (first, *pool.map(one, axes[1:]))


def _in_upper(touch: Contact, motion: Array) -> Contact:
    """The contact in the frame of the upper; the faces go back to their arches."""
    point = transform(motion, touch.point_mm * [1.0, -1.0, 1.0])
    # seen from the standing lower the normal points to the upper
    normal = -(motion[:3, :3] @ (touch.normal * [1.0, -1.0, 1.0]))
    kind = {"vertex-face": "face-vertex", "face-vertex": "vertex-face"}.get(touch.kind, touch.kind)
    return Contact(touch.closing_rad, kind, touch.lower_face, touch.upper_face, point, normal)


def _pairs(ready: Driven, back: Array, hinge: Array, closing: float, within_mm: float) -> tuple[PairGap, ...]:
    here = {u: moved(part, back) for u, part in ready.carried_parts.items()}
    out = []
    for u, w in ready.near:
        below = ready.standing_parts[w]
        # no place of the part lies nearer to the axis than its box
        latest = closing + within_mm / math.sqrt(below.boxes[1, 0])
        met = first_contact(below, here[u], within_rad=latest)
        if met is None:
            continue
        radius = math.hypot(met.point_mm[0], met.point_mm[1])
        at = transform(hinge @ closed(met.closing_rad), met.point_mm * [1.0, -1.0, 1.0])
        out.append(PairGap(u, w, (met.closing_rad - closing) * radius, at))
    return tuple(sorted(out, key=lambda g: (g.gap_mm, g.upper_label, g.lower_label)))
