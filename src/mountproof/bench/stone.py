"""Mounting stone: how much powder and water, in how many pours, what it lifts, and when it may be touched.

The ratio is millilitres of water for 100 g of powder, as product sheets print it. Everything the sheet would say and
nobody entered falls back on common practice and is marked assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from mountproof.geometry.carry import Carried, exact, measured, stack, through
from mountproof.geometry.poses import Array
from mountproof.said import say

#: Density of the grains of calcium sulphate hemihydrate (g/mL), handbooks give 2.6 to 2.8.
POWDER_G_PER_ML = 2.75
POWDER_U_G_PER_ML = 0.03


class Sheet(NamedTuple):
    """What the product sheet of the stone says; None where it was not entered."""

    water_ml_per_100g: float | None = None
    expansion_percent: float | None = None
    powder_g_per_ml: float | None = None
    mix_s: float | None = None
    work_min: float | None = None
    set_min: float | None = None
    release_min: float | None = None


#: Common practice, no source: 100 g to 26 mL, mixed by hand 30 to 45 s, poured and adapted within 2 to 3 min, set in
#: about 5 min, released after half an hour to three quarters. An expansion of 0.10 % lies between what is remembered of
#: mounting plaster (0.05 %) and of stone (0.20 %): our choice.
COMMON = Sheet(26.0, 0.10, POWDER_G_PER_ML, 40.0, 2.5, 5.0, 45.0)


def filled_in(sheet: Sheet) -> tuple[Sheet, tuple[str, ...]]:
    """Return the sheet with common practice where nothing was entered, and the names of what is assumed."""
    assumed = tuple(name for name, value in zip(Sheet._fields, sheet, strict=True) if value is None)
    values = [c if v is None else v for v, c in zip(sheet, COMMON, strict=True)]
    return Sheet(*values), assumed


class Mix(NamedTuple):
    """Powder (g) and water (mL) that fill a volume (mL), each with its doubt."""

    powder_g: Carried
    water_ml: Carried
    volume_ml: Carried


def mix_volume_ml(powder_g: float, water_ml: float, powder_g_per_ml: float = POWDER_G_PER_ML) -> float:
    """Return the volume of a mix: grains plus water, ``m / rho + w``. Air is not counted; what it takes adds to it."""
    if not (powder_g >= 0.0 and water_ml >= 0.0 and powder_g_per_ml > 0.0):
        raise ValueError("masses and volumes cannot be below zero, nor the density zero")
    return powder_g / powder_g_per_ml + water_ml


def mix_for_volume(
    volume_ml: Carried | float, water_ml_per_100g: float, powder_g_per_ml: Carried | float = POWDER_G_PER_ML
) -> Mix:
    """Return powder and water for a volume: ``m = V / (1/rho + w)`` with w mL for each gram, water ``w m``."""
    if not 0.0 < water_ml_per_100g < 200.0:
        raise ValueError("water is given in mL for 100 g of powder: between 0 and 200")
    volume = volume_ml if isinstance(volume_ml, Carried) else exact(volume_ml)
    density = powder_g_per_ml if isinstance(powder_g_per_ml, Carried) else exact(powder_g_per_ml)
    if not (volume.value >= 0.0 and density.value > 0.0):
        raise ValueError("a volume cannot be below zero, nor the density zero")
    w = water_ml_per_100g / 100.0
    powder = through(lambda v: v[0] / (1.0 / v[1] + w), stack([volume, density]))
    return Mix(powder, powder.times(w), volume)


def volume_of_gap(area_mm2: Carried | float, gap_mm: Carried | float) -> Carried:
    """Return the volume (mL) between cast and plate: area times mean height of the gap."""
    a = area_mm2 if isinstance(area_mm2, Carried) else exact(area_mm2)
    g = gap_mm if isinstance(gap_mm, Carried) else exact(gap_mm)
    return through(lambda v: v[0] * v[1] / 1000.0, stack([a, g]))


def water_for(powder_g: float, water_ml_per_100g: float) -> float:
    """Return the water (mL) for a mass of powder."""
    return powder_g * water_ml_per_100g / 100.0


def ratio_deviation_percent(powder_g: float, water_ml: float, water_ml_per_100g: float) -> float:
    """Return by how many per cent the water used is above (or below) what the sheet asks for."""
    wanted = water_for(powder_g, water_ml_per_100g)
    if not wanted > 0.0:
        raise ValueError("powder and ratio must be above zero")
    return 100.0 * (water_ml - wanted) / wanted


def expansion_lift_mm(height_mm: float, expansion_percent: float) -> float:
    """Return how much a column of stone may lift: height times free setting expansion, an upper bound for one pour."""
    if height_mm < 0.0:
        raise ValueError("a height cannot be below zero")
    return height_mm * expansion_percent / 100.0


class WedgeLift(NamedTuple):
    """Lift at the middle (mm), tilt forward (rad, front lifted more above zero) and sideways (right more above zero)."""

    middle_mm: float
    pitch_rad: float
    roll_rad: float
    largest_mm: float
    least_mm: float


def wedge_lift(
    places_xz_mm: Sequence[tuple[float, float]], heights_mm: Sequence[float], expansion_percent: float
) -> WedgeLift:
    """Return lift and tilt of stone that is not equally high: the expansion times the plane through the heights.

    ``places`` (n, 2): forward and right of the middle; three or more that do not lie in a line. Trap: a wedge tilts as
    well as lifts; confined stone may expand less, so both are bounds.
    """
    places = np.asarray(places_xz_mm, dtype=np.float64).reshape(-1, 2)
    heights = np.asarray(heights_mm, dtype=np.float64)
    if places.shape[0] != heights.shape[0] or places.shape[0] < 3:
        raise ValueError("three or more places, each with its height, are needed")
    middle = places.mean(axis=0)
    design = np.column_stack([np.ones(places.shape[0]), places - middle])
    if np.linalg.matrix_rank(design) < 3:
        raise ValueError("the places lie in one line")
    plane: Array = np.linalg.lstsq(design, heights, rcond=None)[0] * (expansion_percent / 100.0)
    lifts = heights * (expansion_percent / 100.0)
    return WedgeLift(
        float(plane[0]), math.atan(plane[1]), math.atan(plane[2]), float(lifts.max()), float(lifts.min())
    )


class Pours(NamedTuple):
    """One pour or two: the height of each (mm), the lift that is left (mm), and which limit asked for the second."""

    heights_mm: tuple[float, ...]
    lift_mm: float
    lift_in_one_mm: float
    because: str


def pours(
    height_mm: float,
    expansion_percent: float,
    one_pour_mm: float,
    lift_limit_mm: float,
    thin_mm: float = 5.0,
) -> Pours:
    """Return whether to pour once or twice.

    Twice where the gap is higher than ``one_pour_mm`` or one pour may lift more than ``lift_limit_mm``. The first pour
    stops ``thin_mm`` short of the cast and sets; the second, thin one lifts only by its own share.
    """
    if not (height_mm > 0.0 and one_pour_mm > 0.0 and lift_limit_mm > 0.0 and thin_mm > 0.0):
        raise ValueError("heights and limits must be above zero")
    lift = expansion_lift_mm(height_mm, expansion_percent)
    high, lifts = height_mm > one_pour_mm, lift > lift_limit_mm
    if not (high or lifts) or height_mm <= thin_mm:
        return Pours((height_mm,), lift, lift, "")
    because = say("height and lift") if high and lifts else say("height") if high else say("lift")
    return Pours((height_mm - thin_mm, thin_mm), expansion_lift_mm(thin_mm, expansion_percent), lift, because)


class Step(NamedTuple):
    """One moment of the mounting: its name, seconds after powder met water, and whether it was assumed."""

    name: str
    after_s: float
    assumed: bool


def steps(sheet: Sheet) -> tuple[Step, ...]:
    """Return the moments of one mounting, counted from powder into water: the only zero all of them share."""
    full, assumed = filled_in(sheet)
    mix, work, initial, release = full.mix_s, full.work_min, full.set_min, full.release_min
    if mix is None or work is None or initial is None or release is None:
        raise ValueError("the sheet has no times")
    if not 0.0 < mix < 60.0 * work <= 60.0 * initial <= 60.0 * release:
        raise ValueError("mixing ends before pouring, pouring before setting, setting before release")
    return (
        Step(say("stop mixing"), mix, "mix_s" in assumed),
        Step(say("poured by"), 60.0 * work, "work_min" in assumed),
        Step(say("hands off from"), 60.0 * work, "work_min" in assumed),
        Step(say("initial set"), 60.0 * initial, "set_min" in assumed),
        Step(say("may be released"), 60.0 * release, "release_min" in assumed),
        Step(say("verify with the record in"), 60.0 * release, "release_min" in assumed),
    )


def clock(met_water: datetime, moments: Sequence[Step]) -> tuple[tuple[Step, datetime], ...]:
    """Return each moment with its absolute time, so that a sleeping computer cannot lose it."""
    return tuple((s, met_water + timedelta(seconds=s.after_s)) for s in moments)


def density(assumed_u: float = POWDER_U_G_PER_ML) -> Carried:
    """Return the density of the grains (g/mL) as an assumption with its doubt."""
    return measured(POWDER_G_PER_ML, assumed_u, "assumed/powder density")
