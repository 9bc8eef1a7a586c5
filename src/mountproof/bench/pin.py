"""The incisal guide pin: opening angle, pin millimetres and what opens at the teeth, exactly.

Sagittal plane of the frame: x anterior, y up, origin on the hinge axis. Opening by theta turns the lower jaw
by Rz(-theta); the pin belongs to the upper member, the table to the lower one. All angles are radians.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.carry import Carried, exact, measured, stack, through
from mountproof.geometry.poses import Array, checked

PinKind = Literal["straight", "curved"]


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin by its lengths at the zero reading.

    ``x_mm`` from the hinge axis forward to the pin, ``below_mm`` from the axis down to the tip; ``straight``
    pins slide at right angles to a table that is flat at zero, ``curved`` ones along an arc about the hinge.
    ``table_slope_rad`` is the slope of the table under the tip, above zero where it rises towards the front.
    """

    x_mm: float
    below_mm: float
    kind: PinKind = "straight"
    table_slope_rad: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in ("straight", "curved"):
            raise ValueError(f"a pin is straight or curved, not {self.kind!r}")
        if not (self.x_mm > 0.0 and math.isfinite(self.x_mm) and math.isfinite(self.below_mm)):
            raise ValueError("the pin stands in front of the hinge: x_mm must be above zero and finite")
        if not abs(self.table_slope_rad) < 0.5 * math.pi:
            raise ValueError("the slope of the table must be less than a right angle")

    @property
    def radius_mm(self) -> float:
        """Distance of the tip from the hinge axis at zero."""
        return math.hypot(self.x_mm, self.below_mm)


class Tooth(NamedTuple):
    """A place in the sagittal plane of the lower jaw: name, ``x_mm`` forward and ``y_mm`` up of the hinge axis."""

    name: str
    x_mm: float
    y_mm: float


class ToothOpening(NamedTuple):
    """What one opening does at one place: vertical gap, how far it goes back, and the chord between (mm)."""

    name: str
    gap_mm: float
    back_mm: float
    chord_mm: float


def pin_from_opening(pin: Pin, theta_rad: float) -> float:
    """Return the millimetres along the pin that hold the members open by ``theta_rad`` (may be negative).

    Straight pin, table level at zero: ``x tan(theta) + below (1/cos(theta) - 1)``; with a table of slope a the
    same tip rests where ``(below + s)(cos + sin tan a) = x sin + below + x (1 - cos) tan a``. Curved pin: the
    arc ``R theta``, on which the tip never leaves its place on the table. Own derivation, exact.
    """
    if pin.kind == "curved":
        return pin.radius_mm * theta_rad
    c, s, t = math.cos(theta_rad), math.sin(theta_rad), math.tan(pin.table_slope_rad)
    over = c + s * t
    if not over > 0.0:
        raise ValueError("the pin cannot reach the table at this opening")
    versine = 2.0 * math.sin(0.5 * theta_rad) ** 2  # 1 - cos without cancellation
    x, h = pin.x_mm, pin.below_mm
    return (x * s + h * versine + t * (x * versine - h * s)) / over


def opening_from_pin(pin: Pin, pin_mm: float) -> float:
    """Return the opening (rad) that a pin slid by ``pin_mm`` holds: the exact inverse of ``pin_from_opening``."""
    if pin.kind == "curved":
        return pin_mm / pin.radius_mm
    t = math.tan(pin.table_slope_rad)
    reach = pin.below_mm + pin_mm
    across, down = pin.x_mm - reach * t, reach + pin.x_mm * t
    size = math.hypot(across, down)
    level = (pin.below_mm + pin.x_mm * t) / size
    if not abs(level) <= 1.0:
        raise ValueError("no opening puts the tip on the table at this pin length")
    return math.atan2(down, across) - math.asin(level)


def tip_travel(pin: Pin, theta_rad: float) -> float:
    """Return how far the tip has walked along the table (mm, forward above zero) when opened by ``theta_rad``.

    Measured along the level of the table at zero; a curved pin stays where it is.
    """
    if pin.kind == "curved":
        return 0.0
    reach = pin.below_mm + pin_from_opening(pin, theta_rad)
    return reach * math.sin(theta_rad) - 2.0 * pin.x_mm * math.sin(0.5 * theta_rad) ** 2


def opening_at(tooth: Tooth, theta_rad: float) -> ToothOpening:
    """Return what an opening by ``theta_rad`` does at one place of the lower jaw: exact rotation."""
    s, v = math.sin(theta_rad), 2.0 * math.sin(0.5 * theta_rad) ** 2
    gap = tooth.x_mm * s + tooth.y_mm * v
    back = tooth.x_mm * v - tooth.y_mm * s
    return ToothOpening(
        tooth.name, gap, back, 2.0 * math.hypot(tooth.x_mm, tooth.y_mm) * abs(math.sin(0.5 * theta_rad))
    )


def opening_from_gap(tooth: Tooth, gap_mm: float) -> float:
    """Return the opening (rad) that gives a vertical gap at one place: ``asin(sin(phi) + t/rho) - phi``.

    Raises ValueError where the place cannot come down so far.
    """
    rho = math.hypot(tooth.x_mm, tooth.y_mm)
    if not (rho > 0.0 and tooth.x_mm > 0.0):
        raise ValueError("the place must lie in front of the hinge axis")
    level = (gap_mm - tooth.y_mm) / rho
    if not abs(level) <= 1.0:
        raise ValueError(f"no opening gives {gap_mm} mm at {tooth.name}")
    return math.asin(level) - math.atan2(-tooth.y_mm, tooth.x_mm)


def pin_from_motion(pin: Pin, lower_moved: ArrayLike) -> float:
    """Return the millimetres along the pin that keep its tip on the table when the lower member moves (4, 4), not only turns.

    The motion is in the frame of the upper member and begins at zero, members parallel; above zero the pin comes out. The
    table is a plane of the lower member through the tip at zero; the tip must lie in the moved plane. Straight pin:
    linear in the length, solved exactly. Curved pin: the tip runs on its circle about the hinge, where the plane
    ``a cos + b sin = d`` is solved exactly. An opening gives ``pin_from_opening``. Own derivation, docs/theory/slide.md.
    ValueError where the pin does not reach the table.
    """
    given = checked(lower_moved, (4, 4), "lower_moved")
    slope = pin.table_slope_rad
    tip = np.array([pin.x_mm, -pin.below_mm, 0.0])
    normal = np.array([-math.sin(slope), math.cos(slope), 0.0])
    across = given[:3, :3] @ normal
    level = float(normal @ tip) + float(across @ given[:3, 3])
    if pin.kind == "straight":
        # tip (x, -below - s, 0): across . tip(s) = level
        if abs(across[1]) < 1e-9:
            raise ValueError("the pin cannot reach the table after this motion")
        return (float(across @ tip) - level) / float(across[1])
    # the circle of the tip about the hinge, s / R back from its place: Rz(-s / R) tip
    a = float(across[0] * tip[0] + across[1] * tip[1])
    b = float(across[0] * tip[1] - across[1] * tip[0])
    size = math.hypot(a, b)
    if not abs(level) <= size:
        raise ValueError("the pin cannot reach the table after this motion")
    middle = math.atan2(b, a)
    half = math.acos(level / size)
    turns = [math.remainder(middle + sign * half, 2.0 * math.pi) for sign in (1.0, -1.0)]
    return pin.radius_mm * min(turns, key=abs)


class PinRow(NamedTuple):
    """One line of a pin table: pin millimetres, opening (rad), tip travel and the places."""

    pin_mm: float
    theta_rad: float
    tip_travel_mm: float
    places: tuple[ToothOpening, ...]


def pin_table(pin: Pin, teeth: Sequence[Tooth], pin_mm: Sequence[float]) -> tuple[PinRow, ...]:
    """Return what each pin length opens at each place."""
    rows = []
    for reading in pin_mm:
        theta = opening_from_pin(pin, reading)
        rows.append(
            PinRow(reading, theta, tip_travel(pin, theta), tuple(opening_at(t, theta) for t in teeth))
        )
    return tuple(rows)


class Wedge(NamedTuple):
    """The record a hinge opening needs: opening (rad), the thickness at each place, and which wish decided."""

    theta_rad: float
    thickness_mm: Mapping[str, float]
    decided_by: str
    even_sheet_is_thin_by_mm: float


def record_wedge(wishes: Mapping[Tooth, float], also: Sequence[Tooth] = ()) -> Wedge:
    """Return how thick a record must be so that every wished clearance (mm, by place) is reached.

    The place that needs the largest opening decides; ``also`` are further places to report. The last figure
    is what a sheet of even thickness, cut for the thinnest place, lacks at the thickest.
    """
    if not wishes:
        raise ValueError("name at least one place and the clearance wanted there")
    needed = {tooth: opening_from_gap(tooth, gap) for tooth, gap in wishes.items()}
    decided = max(needed, key=lambda tooth: needed[tooth])
    theta = needed[decided]
    thickness = {t.name: opening_at(t, theta).gap_mm for t in (*wishes, *also)}
    return Wedge(theta, thickness, decided.name, max(thickness.values()) - min(thickness.values()))


def wax_layers(thickness_mm: float, sheet_mm: float) -> int:
    """Return the least number of sheets of ``sheet_mm`` that reach a thickness."""
    if not sheet_mm > 0.0:
        raise ValueError("a sheet has a thickness above zero")
    return max(0, math.ceil(round(thickness_mm / sheet_mm, 9)))


def pin_lengths(pin: Pin, u_x_mm: float = 0.0, u_below_mm: float = 0.0) -> Carried:
    """Return the two lengths of a pin with their standard uncertainties, as sources ``length/pin.x``, ``.below``."""
    return stack(
        [measured(pin.x_mm, u_x_mm, "length/pin.x"), measured(pin.below_mm, u_below_mm, "length/pin.below")]
    )


def carried_pin_from_opening(pin: Pin, theta: Carried, lengths: Carried | None = None) -> Carried:
    """Return pin millimetres for an opening that carries its doubt; ``lengths`` from ``pin_lengths``."""
    known = exact([pin.x_mm, pin.below_mm]) if lengths is None else lengths

    def reading(v: Array) -> float:
        return pin_from_opening(Pin(v[1], v[2], pin.kind, pin.table_slope_rad), v[0])

    return through(reading, stack([theta, known]))


def carried_opening_from_pin(pin: Pin, pin_mm: Carried, lengths: Carried | None = None) -> Carried:
    """Return the opening (rad) of a pin reading that carries its doubt; ``lengths`` from ``pin_lengths``."""
    known = exact([pin.x_mm, pin.below_mm]) if lengths is None else lengths

    def angle(v: Array) -> float:
        return opening_from_pin(Pin(v[1], v[2], pin.kind, pin.table_slope_rad), v[0])

    return through(angle, stack([pin_mm, known]))


def members_tilt(pin: Pin, opened_mm: float, needed_mm: float) -> float:
    """Return how far (rad) the members stand from parallel when the pin was opened by the wrong amount.

    Above zero: the pin was opened too far, and the members still stand open in front once the jaws are closed.
    """
    return opening_from_pin(pin, opened_mm) - opening_from_pin(pin, needed_mm)
