"""How well the hinge axis of the mounting is known: entered, or what is published for where it came from."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.answers.ledger import Ledger
from mountproof.case.model import Case
from mountproof.case.transfer import AxisFrom
from mountproof.records.facebow import AVERAGE, EARS, LOCATED, POINTS, AxisBand
from mountproof.said import say, term

#: What is published of how well an axis is known, by where it came from; where nobody said, points of the skin.
BANDS: dict[AxisFrom | None, AxisBand] = {
    AxisFrom.LOCATED: LOCATED,
    AxisFrom.EARS: EARS,
    AxisFrom.POINTS: POINTS,
    AxisFrom.AVERAGE: AVERAGE,
    None: POINTS,
}


class AxisDoubt(NamedTuple):
    """``u_mm`` (SD of one coordinate), whether nobody measured it, and whether the axis was located on the patient.

    ``u_of_u_mm``: how far that SD itself is open, 0 where it was entered.
    """

    u_mm: float
    assumed: bool
    located: bool
    u_of_u_mm: float = 0.0


def axis_doubt(case: Case, ledger: Ledger) -> AxisDoubt:
    """Return how well the hinge axis is known (SD of one coordinate, right and left alike): entered, or assumed."""
    source = case.facebow.axis
    located = source is AxisFrom.LOCATED
    if case.facebow.axis_u_mm is not None:
        return AxisDoubt(case.facebow.axis_u_mm, False, located)
    where = say("not said where the axis came from") if source is None else term(source.value)
    band = BANDS[source]
    usual = ledger.assume(
        say("how well the hinge axis is known (1 SD of one coordinate)"),
        round(band.sd_mm, 1),
        "mm",
        say(
            "{where}; published: {low:.1f} to {high:.1f} mm",
            where=where,
            low=band.low_mm,
            high=band.high_mm,
        ),
        "facebow.axis_u_mm",
    )
    return AxisDoubt(usual, True, located, band.u_mm)
