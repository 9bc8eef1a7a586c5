"""The graduation of a pin: from millimetres along the pin to what its scale shows, and back.

A scale may count up or down when the pin opens, start anywhere, be in millimetres or in plain notches, and its
millimetres may be meant along the pin, along an arc about the hinge, or at the teeth. A calibration with two
or more blocks of known thickness under the tip settles all of that except where parallel members read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.bench.pin import Pin, Tooth, opening_at, opening_from_pin
from mountproof.faults import Fault, FaultError
from mountproof.geometry.carry import Carried, exact, measured, stack, through
from mountproof.geometry.poses import Array
from mountproof.said import figure, joined, say


class PinScale(NamedTuple):
    """What a scale reads: ``reading = zero + marks_per_mm * mm``.

    ``zero`` is the reading with the members parallel; ``marks_per_mm`` is below zero on a scale that counts down
    as the pin opens. ``zero_and_slope`` carries both with their doubt; ``assumed`` says that nobody measured them.
    """

    zero_and_slope: Carried
    assumed: bool = False

    @property
    def zero(self) -> float:
        """Reading with the members parallel."""
        return float(self.zero_and_slope.values[0])

    @property
    def marks_per_mm(self) -> float:
        """Graduations for each millimetre along the pin, with the sign of the scale."""
        return float(self.zero_and_slope.values[1])

    @property
    def mm_per_mark(self) -> float:
        """Millimetres along the pin for one graduation, always above zero."""
        return 1.0 / abs(self.marks_per_mm)

    @property
    def counts_up(self) -> bool:
        """Whether the reading grows when the pin is opened."""
        return self.marks_per_mm > 0.0


def stated_scale(
    mm_per_mark: float = 1.0,
    counts_up: bool = True,
    zero: float = 0.0,
    u_zero: float = 0.0,
    u_relative: float = 0.0,
    assumed: bool = True,
) -> PinScale:
    """Return a scale as stated, not calibrated: ``mm_per_mark`` along the pin, direction, reading when parallel.

    ``u_zero`` in graduations, ``u_relative`` of the slope, both standard uncertainties.
    """
    if not (mm_per_mark > 0.0 and math.isfinite(mm_per_mark) and math.isfinite(zero)):
        raise ValueError("a graduation is longer than zero millimetres and the zero reading is finite")
    slope = (1.0 if counts_up else -1.0) / mm_per_mark
    parts = [measured(zero, u_zero, "scale/zero"), measured(slope, abs(slope) * u_relative, "scale/slope")]
    return PinScale(stack(parts), assumed)


class Calibration(NamedTuple):
    """A calibrated scale, its residuals (graduations, one a block) and their chi-square with degrees of freedom."""

    scale: PinScale
    residuals: Array
    chi_square: float
    dof: int


def calibrate(
    block_mm: Sequence[float],
    reading: Sequence[float],
    u_block_mm: float,
    u_reading: float,
    zero: Carried | None = None,
) -> Calibration:
    """Return the scale from blocks of known thickness (mm) under the tip and the readings (graduations) they gave.

    Straight line by least squares; the doubt of each block and each reading (standard uncertainties, independent)
    goes into slope and zero with their correlation. ``zero``, where given, is the reading observed with the
    members parallel, and replaces the intercept. Raises FaultError where two blocks of different thickness are
    missing, or where the readings do not follow the blocks beyond their doubt (direction cannot be told).
    """
    b = np.asarray(block_mm, dtype=np.float64)
    g = np.asarray(reading, dtype=np.float64)
    if b.shape != g.shape or b.ndim != 1 or not (np.all(np.isfinite(b)) and np.all(np.isfinite(g))):
        raise ValueError("blocks and readings must be two finite lists of the same length")
    if not (u_block_mm >= 0.0 and u_reading >= 0.0):
        raise ValueError("standard uncertainties cannot be below zero")
    if b.shape[0] < 2 or float(np.ptp(b)) <= 2.0 * u_block_mm:
        raise FaultError(
            [_fault(say("needs two blocks of different thickness"), say("{blocks} mm", blocks=_listed(b)))]
        )
    design = np.stack([np.ones_like(b), b], axis=1)
    solve: Array = np.linalg.pinv(design).astype(np.float64)
    line = solve @ g
    u_each = math.hypot(u_reading, line[1] * u_block_mm)
    residuals = g - design @ line
    dof = b.shape[0] - 2
    sources = tuple(f"scale/block {x:g} mm" for x in b)
    both = Carried(line, _unique(sources), solve * u_each)
    if abs(line[1]) <= 2.0 * float(both.us[1]):
        raise FaultError(
            [
                _fault(
                    say("the readings do not follow the blocks"),
                    say("{readings} at {blocks} mm", readings=_listed(g), blocks=_listed(b)),
                )
            ]
        )
    chi = float(np.sum((residuals / u_each) ** 2)) if u_each > 0.0 else 0.0
    carried = both if zero is None else stack([zero, both[1]])
    return Calibration(PinScale(carried), residuals, chi, dof)


def reading_from_mm(scale: PinScale, pin_mm: Carried | float) -> Carried:
    """Return the scale reading (graduations) for millimetres along the pin, above zero when opened."""
    mm = pin_mm if isinstance(pin_mm, Carried) else exact(pin_mm)
    return through(lambda v: v[1] + v[2] * v[0], stack([mm, scale.zero_and_slope]))


def mm_from_reading(scale: PinScale, reading: Carried | float) -> Carried:
    """Return the millimetres along the pin that a scale reading (graduations) means."""
    g = reading if isinstance(reading, Carried) else exact(reading)
    return through(lambda v: (v[0] - v[1]) / v[2], stack([g, scale.zero_and_slope]))


class Meaning(NamedTuple):
    """One thing the graduations could mean: its name, millimetres along the pin a graduation, distance in u."""

    name: str
    mm_per_mark: float
    off_by_u: float


def scale_meanings(
    scale: PinScale, pin: Pin, incisor: Tooth | None = None, at_mm: float = 4.0, within_u: float = 2.0
) -> tuple[Meaning, ...]:
    """Return what the calibrated graduations can mean, nearest first: those within ``within_u`` uncertainties.

    Offered are whole and half millimetres along the pin, millimetres of arc about the hinge on a straight pin,
    and millimetres of opening at the incisors; compared at ``at_mm`` of pin. None of them: plain notches.
    """
    theta = opening_from_pin(pin, at_mm)
    offers = {say("{size:g} mm along the pin", size=size): size for size in (0.5, 1.0, 1.5, 2.0)}
    if pin.kind == "straight":
        offers[say("1 mm of arc about the hinge")] = at_mm / (pin.radius_mm * theta)
    if incisor is not None:
        offers[say("1 mm of opening at the incisors")] = at_mm / opening_at(incisor, theta).gap_mm
    u = float(scale.zero_and_slope.us[1]) / scale.marks_per_mm**2
    found = [
        Meaning(n, size, abs(size - scale.mm_per_mark) / u if u > 0.0 else math.inf)
        for n, size in offers.items()
    ]
    exactly = [
        m._replace(off_by_u=0.0) if math.isclose(m.mm_per_mark, scale.mm_per_mark) else m for m in found
    ]
    return tuple(sorted((m for m in exactly if m.off_by_u <= within_u), key=lambda m: m.off_by_u))


def _unique(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{name}#{i + 1}" for i, name in enumerate(names))


def _listed(values: Array) -> str:
    return joined("; ", (figure(float(value)) for value in values))


def _fault(what: str, got: str) -> Fault:
    return Fault(
        code="scale.calibration",
        field="instrument.pin.calibration",
        what=say("the pin scale cannot be calibrated: {what}", what=what),
        got=got,
        allowed=say("two or more blocks that differ by more than their doubt, each with the reading it gave"),
        todo=say(
            "Put two things of known thickness (measured by the same caliper) under the tip and read the scale"
        ),
    )
