"""Exact first contact of two arches that close about the hinge axis.

The upper stands; the lower turns by Rz(+theta) about z. In r = hypot(x, y), phi = atan2(y, x), z this adds theta to the
lower's phi, so two points of equal r and z meet at theta = phi_upper - phi_lower, and first contact is the least such
gap of all pairs of faces: negative when the given pose already overlaps. Closed forms and the proof that they
suffice: docs/theory/first-contact.md.
"""

from __future__ import annotations

import math
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
    _first(upper.tree, lower.tree, *upper.tolerances(lower), within_rad, found, which)
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
    up = upper.vertices_mm[upper.faces[which[0]]]
    low = lower.vertices_mm[lower.faces[which[1]]] @ _turn(closing).T
    across = np.zeros(3)
    if kind == 2:
        i, j = int(which[3]), int(which[4])
        u, v = up[(i + 1) % 3] - up[i], low[(j + 1) % 3] - low[j]
        across = np.cross(u, v)
        if np.linalg.norm(across) <= PARALLEL_SIN * np.linalg.norm(u) * np.linalg.norm(v):
            across = np.zeros(3)
    faces = (low, up) if kind == 0 else (up, low)
    point = found[1:4].copy()
    against = np.array([point[1], -point[0], 0.0])  # all that is left where both faces have no area
    candidates = (across, *(np.cross(f[1] - f[0], f[2] - f[0]) for f in faces), against)
    normal = next(n / np.linalg.norm(n) for n in candidates if np.any(n))
    return Contact(closing, KINDS[kind], int(which[0]), int(which[1]), point,
                   normal if normal @ against >= 0.0 else -normal)  # fmt: skip


def _turn(angle_rad: float) -> NDArray[np.float64]:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
