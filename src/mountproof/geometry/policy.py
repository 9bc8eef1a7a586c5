"""The one numerical tolerance, with its derivation. Nothing else in geometry names a small number.

**Length.** Points of a cast stand some 100 mm from the hinge axis, where neighbouring float64 numbers are
100 mm x 2^-52 = 2e-14 mm apart. A closed form of first contact (docs/theory/first-contact.md) rounds some
dozen times, and a sliver of height h lifts that by its edge length over h, so the features of one sharp
place (a vertex, its edges, its faces) can disagree by some 1e-13 mm about where they end. The tolerance is
2^-43 of the reach of the case: 1e-11 mm at 100 mm, a hundred times above the rounding and a million times
below what any scanner resolves. Two features whose projections miss each other by less than it are taken
to meet; so the answer cannot fall through the crack between a vertex and its neighbour.

**Angle.** A bound that prunes may be wrong by its own rounding, a few units of 2^-53 of an angle below pi.
2^-46 rad (1.4e-14) is added before anything is thrown away.
"""

from __future__ import annotations

from typing import Final

#: Fraction of the reach (largest distance of a point from the hinge's origin) below which lengths are equal.
LENGTH_REL: Final = 2.0**-43

#: Radians given to every pruning bound before it may discard anything.
ANGLE_SLACK_RAD: Final = 2.0**-46


def length_tol_mm(reach_mm: float) -> float:
    """Length below which two places are the same place.

    ``reach_mm``: largest distance of any point of the case from the origin, mm. Returns mm.
    """
    return LENGTH_REL * reach_mm
