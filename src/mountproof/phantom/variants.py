"""The demo case with one thing wrong at a time: what was changed, by how much, and the changed casts or poses.

Each variant changes one item of the made-up case and leaves the rest as it is, so that what an answer
says can be compared with what was done.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom import kestrel, truth
from mountproof.phantom.arch import PhantomArch

Array = NDArray[np.float64]

#: What is changed, by name.
VARIANTS: Final[dict[str, str]] = {
    "D-2": "lower cast 0.15 mm narrower at the second molars",
    "D-3": "lower cast lifted 0.25 mm on the right during set",
    "D-4": "record out: the bases meet behind the right second molars before any tooth",
    "D-5": "curved pin",
    "D-6": "records 1 and 2 both sagged on the left",
    "D-7": "scans in inches, mirrored, or swapped",
    "D-8": "record that rests on the six front teeth only",
}
NARROWED_MM: Final = 0.15
LIFTED_MM: Final = 0.25
#: How far below its place the left condyle stands in both records of D-6, and how far forward (mm).
SAG_DOWN_MM: Final = 0.30
SAG_FORWARD_MM: Final = 0.26
MM_PER_INCH: Final = 25.4


def narrowed(cast: PhantomArch, by_mm: float = NARROWED_MM) -> PhantomArch:
    """D-2: the cast with its width reduced in proportion, by this much across the second molars (2 x 28 mm)."""
    scale = 1.0 - by_mm / (2.0 * truth.SECOND_MOLAR_MM[2])
    return cast._replace(vertices_mm=cast.vertices_mm * np.array([1.0, 1.0, scale]))


def lifted_right(upper_from_lower: Array, by_mm: float = LIFTED_MM) -> Array:
    """D-3: the pose after the right second molar rose by this much and the left one stayed where it was.

    A roll about the line through the left second molar parallel to x, by 2 atan(rise / (2 width)): the chord of the
    right molar's path is then the rise to second order.
    """
    width = 2.0 * truth.SECOND_MOLAR_MM[2]
    angle = 2.0 * np.arctan(by_mm / (2.0 * width))
    c, s = np.cos(angle), np.sin(angle)
    roll = np.eye(4)
    # About x, taking +z towards +y.
    roll[1:3, 1:3] = [[c, s], [-s, c]]
    pivot = np.array([0.0, truth.SECOND_MOLAR_MM[1], -truth.SECOND_MOLAR_MM[2]])
    roll[:3, 3] = pivot - roll[:3, :3] @ pivot
    out: Array = roll @ upper_from_lower
    return out


class BaseContact(NamedTuple):
    """D-4: the bases touch behind the teeth: where (program frame, mm), and how far the teeth then stay apart (mm)."""

    point_mm: tuple[float, float, float]
    stays_open_mm: float


#: The pad behind tooth 47 meets the tuberosity behind 17 while the first teeth still lack this much.
BASE_CONTACT: Final = BaseContact((45.0, -36.0, 30.0), 0.40)


def curved_pin_mm(opening_rad: float) -> float:
    """D-5: rise of a pin whose curve is an arc about the hinge, through the tip of the straight one: s = R theta."""
    return float(np.hypot(kestrel.PIN_AHEAD_MM, kestrel.PIN_BELOW_MM) * opening_rad)


def sagged_left(record: truth.Condyles) -> truth.Condyles:
    """D-6: a record whose left condyle sagged forward and down, the right one as it was."""
    x, y, z = record.left_mm
    return record._replace(left_mm=(x + SAG_FORWARD_MM, y, z - SAG_DOWN_MM))


def in_inches(cast: PhantomArch) -> PhantomArch:
    """D-7: the same cast with its numbers in inches (the field is then misnamed on purpose: nobody said so)."""
    return cast._replace(vertices_mm=cast.vertices_mm / MM_PER_INCH)


def mirrored(cast: PhantomArch, *, rewound: bool = False) -> PhantomArch:
    """D-7: the mirror image left to right; ``rewound`` turns the faces so that they still point outwards.

    Labels stay as they were: they are what the person believes.
    """
    faces = np.ascontiguousarray(cast.faces[:, ::-1]) if rewound else cast.faces
    return cast._replace(vertices_mm=cast.vertices_mm * np.array([1.0, 1.0, -1.0]), faces=faces)


def swapped(upper: PhantomArch, lower: PhantomArch) -> tuple[PhantomArch, PhantomArch]:
    """D-7: the lower handed in as the upper and the other way round."""
    return lower, upper


#: D-8: the upper teeth whose edges rest in the record.
FRONT_STOPS: Final = (13, 12, 11, 21, 22, 23)
