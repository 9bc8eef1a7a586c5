"""What is told about contacts: tooth pairs, sites under a foil, teeth, and what a hole hides.

Two lengths are kept apart. *Along closure* is the arc a place travels until it meets its opponent; *along the
normal* is the shortest way between two parallel inclines there, smaller by the cosine of the tilt against the
direction of closing (exact for planes, first order for curved ones). Areas are seen along closure: cells of the
map. A site is a gap below a thickness; its size says nothing about how hard teeth meet.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.contact import PairContact
from mountproof.geometry.surface import Surface
from mountproof.occlusion.incline import ToothFrame

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

#: Thicknesses of foil and film for which sites are listed, micrometres (shim stock 8 and 12, films 40 to 200).
FOILS_UM: tuple[float, ...] = (8.0, 12.0, 40.0, 100.0, 200.0)

State = Literal["holds", "free", "unknown"]


class Pair(NamedTuple):
    """One tooth pair at one closure, from its exact first contact.

    ``closing_rad`` closing angle from the given pose at which they first touch; ``remaining_rad`` what is left of it;
    ``remaining_along_closure_mm`` the arc left at that place (negative: overlap), ``remaining_along_normal_mm`` the
    same along the contact's normal; ``upper_point_mm``, ``lower_point_mm`` (3,) the place on each arch at the given
    pose; ``upper_facing``, ``lower_facing`` the inclines; ``tilt_deg`` between normal and closing; ``known`` False where a
    border of a scan lies at the place, so that the contact may be an end of the scan and no tooth.
    """

    upper_tooth: int
    lower_tooth: int
    closing_rad: float
    remaining_rad: float
    remaining_along_closure_mm: float
    remaining_along_normal_mm: float
    upper_point_mm: F64
    lower_point_mm: F64
    upper_facing: str
    lower_facing: str
    tilt_deg: float
    kind: str
    upper_face: int
    lower_face: int
    known: bool


class Site(NamedTuple):
    """A connected patch of one tooth pair whose gap is below one thickness.

    ``number`` counts the sites of that thickness, smallest gap first; points are at its first contact, at the given
    pose; ``area_mm2`` as seen along closure, 0 for less than a cell; ``open_edge`` True where it runs into a hole:
    it may be larger.
    """

    number: int
    foil_um: float
    upper_tooth: int
    lower_tooth: int
    gap_along_closure_mm: float
    gap_along_normal_mm: float
    area_mm2: float
    upper_point_mm: F64
    lower_point_mm: F64
    upper_facing: str
    lower_facing: str
    open_edge: bool


class Tooth(NamedTuple):
    """One tooth at one closure.

    ``smallest_gap_mm`` along closure over the known cells and the exact contacts, NaN where nothing opposes;
    ``area_mm2`` (0 for less than a cell) and ``state`` per foil; ``facing_mm2`` the area over which it has an
    opponent, the unknown part included;
    ``unknown_mm2`` the part that a hole leaves open. A state is ``holds`` where something known is below the foil,
    ``unknown`` where none is but a hole may hide one, else ``free``.
    """

    tooth: int
    smallest_gap_mm: float
    area_mm2: tuple[float, ...]
    state: tuple[State, ...]
    facing_mm2: float
    unknown_mm2: float

    @property
    def unknown_share(self) -> float:
        """Unknown part of the area over which the tooth has an opponent, 0 to 1."""
        return self.unknown_mm2 / self.facing_mm2 if self.facing_mm2 > 0.0 else 0.0


class SiteTable(NamedTuple):
    """Everything at one closure. ``closed_rad`` beyond the given pose; sites by foil, then by gap."""

    closed_rad: float
    foils_um: tuple[float, ...]
    pairs: tuple[Pair, ...]
    teeth: tuple[Tooth, ...]
    sites: tuple[Site, ...]
    unknown_mm2: float


class Sited(NamedTuple):
    """A closing map with teeth on it: made once, read at any closure.

    ``upper_tooth``, ``lower_tooth`` (nr, nz) the tooth of each cell, 0 for none; ``upper_frames``, ``lower_frames`` the
    directions of each tooth; ``upper_teeth`` (m,), ``lower_teeth`` (m',) the tooth of each face.
    """

    closing: ClosingMap
    upper: Surface
    lower: Surface
    upper_tooth: I32
    lower_tooth: I32
    upper_frames: dict[int, ToothFrame]
    lower_frames: dict[int, ToothFrame]
    pairs: tuple[PairContact, ...]
    upper_teeth: I32
    lower_teeth: I32
