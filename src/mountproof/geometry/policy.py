"""The one numerical tolerance, with its derivation. Nothing else in geometry names a small number.

**Length.** Points of a cast stand some 100 mm from the hinge axis, where neighbouring float64 numbers are
100 mm x 2^-52 = 2e-14 mm apart. A closed form of first contact (docs/theory/first-contact.md) rounds some
dozen times, and a sliver of height h lifts that by its edge length over h, so the features of one sharp
place (a vertex, its edges, its faces) can disagree by some 1e-13 mm about where they end. The tolerance is
2^-43 of the reach of the case: 1e-11 mm at 100 mm, a hundred times above the rounding and a million times
below what any scanner resolves. Two features whose projections miss each other by less than it are taken
to meet; so the answer cannot fall through the crack between a vertex and its neighbour.

**Angle.** A bound that prunes may be wrong by its own rounding, a few units of 2^-53 of an angle below pi.
2^-46 rad (1.4e-14) is added before anything is thrown away. Where features are taken to meet that miss each
other by the length tolerance, the point found may stand that far outside its face, along each of the three
axes; seen from the hinge, at a radius of at least the nearest x of the arch, that is an angle of sqrt(3) times the
tolerance over that x. Both arches may do so: four times the tolerance over the nearest x covers them.

**Direction.** The direction of an edge of 0.01 mm is known to 2e-14 mm / 0.01 mm = 2e-12, so the cross product
of two edges at an angle below 2^-20 (1e-6) may point anywhere by some 1e-6; there the normal of a face is
taken instead, which is the same normal wherever the two edges lie in faces that touch.
"""

from __future__ import annotations

from typing import Final

#: Fraction of the reach (largest distance of a point from the hinge's origin) below which lengths are equal.
LENGTH_REL: Final = 2.0**-43

#: Radians given to every pruning bound before it may discard anything.
ANGLE_SLACK_RAD: Final = 2.0**-46

#: Sine of the angle between two edges below which their cross product is no normal.
PARALLEL_SIN: Final = 2.0**-20


def length_tol_mm(reach_mm: float) -> float:
    """Length below which two places are the same place.

    ``reach_mm``: largest distance of any point of the case from the origin, mm. Returns mm.
    """
    return LENGTH_REL * reach_mm


def prune_slack_rad(tol_mm: float, nearest_mm: float) -> float:
    """Angle added to a bound before it may discard a pair of faces.

    ``tol_mm``: the length tolerance; ``nearest_mm``: no point that meets is nearer to the hinge axis. Returns rad.
    """
    return ANGLE_SLACK_RAD + 4.0 * tol_mm / nearest_mm
