"""Exact first contact of two arches that close about the hinge axis.

The upper stands; the lower turns by Rz(+theta) about z. In r = hypot(x, y), phi = atan2(y, x), z this adds theta to the
lower's phi, so two points of equal r and z meet at theta = phi_upper - phi_lower, and first contact is the least such
gap of all pairs of faces: negative when the given pose already overlaps. Closed forms and the proof that they
suffice: docs/theory/first-contact.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._descent import _first
from mountproof.geometry.policy import PARALLEL_SIN
from mountproof.geometry.surface import Surface, split

#: Which features meet, the upper's named first.
KINDS: Final = ("vertex-face", "face-vertex", "edge-edge")


class Contact(NamedTuple):
    """One exact contact.

    ``closing_rad``: angle by which the lower closes from its given pose until the two faces touch (negative: they
    overlap there). ``kind``: one of ``KINDS``. ``upper_face``, ``lower_face``: numbers of the faces. ``point_mm`` (3,): where,
    in the upper's frame. ``normal`` (3,): unit normal of the contact, from the upper towards the lower that closes.
    """

    closing_rad: float
    kind: str
    upper_face: int
    lower_face: int
    point_mm: NDArray[np.float64]
    normal: NDArray[np.float64]

    @property
    def rise(self) -> float:
        """Cosine between the normal and the direction of closing: gap along the normal over gap along closure."""
        x, y = float(self.point_mm[0]), float(self.point_mm[1])
        return abs(float(self.normal[1]) * x - float(self.normal[0]) * y) / math.hypot(x, y)


class PairContact(NamedTuple):
    """First contact of one part of the upper with one part of the lower."""

    upper_label: int
    lower_label: int
    contact: Contact


def first_contact(upper: Surface, lower: Surface, *, within_rad: float = math.inf) -> Contact | None:
    """Return the exact first contact, or None when no closing up to ``within_rad`` brings the surfaces together.

    ``upper``, ``lower``: prepared surfaces in the same hinge frame. Faces whose projections to (r, z) miss each
    other by less than the length tolerance count as meeting. Ties go to the lowest face numbers. Same answer
    to the last bit on every run and thread. Raises ValueError when the arches are swapped.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    found = np.zeros(4)
    which = np.zeros(5, dtype=np.int64)
    _first(upper.tree, lower.carried, *upper.tolerances(lower), within_rad, found, which)
    if which[0] < 0:
        return None
    return told(upper, lower, found, which)


def first_contacts_by_label(
    upper: Surface,
    lower: Surface,
    upper_labels: NDArray[np.integer],
    lower_labels: NDArray[np.integer],
    *,
    within_rad: float | None = None,
) -> tuple[PairContact, ...]:
    """Return the exact first contact of each pair of parts (teeth) that meet, earliest first.

    ``upper_labels`` (m,), ``lower_labels`` (m,): one number per face, 0 for none. ``within_rad``: leave out what meets
    later than this closing angle. Raises ValueError when labels do not match faces.
    """
    limit = math.inf if within_rad is None else within_rad
    lowers = split(lower, lower_labels)
    met = [
        PairContact(u, w, contact)
        for u, part in split(upper, upper_labels).items()
        for w, other in lowers.items()
        if (contact := first_contact(part, other, within_rad=limit)) is not None
    ]
    return tuple(sorted(met, key=lambda p: (p.contact.closing_rad, p.upper_label, p.lower_label)))


def told(upper: Surface, lower: Surface, found: NDArray[np.float64], which: NDArray[np.int64]) -> Contact:
    """Put what a search kernel found into words.

    ``found``: closing angle (rad), point of the upper (mm). ``which``: upper face, lower face, index into ``KINDS``, and
    which corner or edge (0 to 2) of each.
    """
    closing = float(found[0])
    kind = int(which[2])
    c, s = math.cos(closing), math.sin(closing)
    up = [_place(upper, which[0], k, 1.0, 0.0) for k in range(3)]
    low = [_place(lower, which[1], k, c, s) for k in range(3)]
    point = (float(found[1]), float(found[2]), float(found[3]))
    against = (point[1], -point[0], 0.0)  # all that is left where both faces have no area
    normal = next(n for n in _normals(kind, int(which[3]), int(which[4]), up, low, against) if any(n))
    size = math.copysign(math.hypot(*normal), normal[0] * against[0] + normal[1] * against[1])
    return Contact(closing, KINDS[kind], int(which[0]), int(which[1]), np.array(point),
                   np.array([x / size for x in normal]))  # fmt: skip


Vector = tuple[float, float, float]


def _normals(
    kind: int, upper_edge: int, lower_edge: int, up: list[Vector], low: list[Vector], last: Vector
) -> Iterator[Vector]:
    """Candidates for the normal, the best first; one that is no direction is all zeros."""
    if kind == KINDS.index("edge-edge"):
        u = _minus(up[(upper_edge + 1) % 3], up[upper_edge])
        v = _minus(low[(lower_edge + 1) % 3], low[lower_edge])
        across = _cross(u, v)
        if math.hypot(*across) > PARALLEL_SIN * math.hypot(*u) * math.hypot(*v):
            yield across
    for face in (low, up) if kind == KINDS.index("vertex-face") else (up, low):
        yield _cross(_minus(face[1], face[0]), _minus(face[2], face[0]))
    yield last


def _place(surface: Surface, face: int, corner: int, c: float, s: float) -> Vector:
    """A corner at the surface's pose, turned about z."""
    x0, y0, z0 = surface.rest_mm[surface.faces[face, corner]].tolist()
    x, y, z = (m[0] * x0 + m[1] * y0 + m[2] * z0 + m[3] for m in surface.pose[:3].tolist())
    return c * x - s * y, s * x + c * y, z


def _minus(a: Vector, b: Vector) -> Vector:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def _cross(a: Vector, b: Vector) -> Vector:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
