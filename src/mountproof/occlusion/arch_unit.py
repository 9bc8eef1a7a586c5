"""In which unit a scan seems to be, by the size an arch can have. It is only ever asked, never applied."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.geometry.topology import Finding
from mountproof.said import figure, joined, say
from mountproof.teeth import tooth_text

#: Distance between the same back tooth of both sides, mm (common practice, no source).
MOLAR_WIDTH_MM = (30.0, 75.0)
#: Longest side of a scan of one arch or one side of it, with or without its base, mm (common practice, no source).
EXTENT_MM = (30.0, 130.0)
#: What is usual, to choose between two units that would both fit: about the widest part of an arch, mm.
_USUAL_WIDTH_MM, _USUAL_EXTENT_MM = 48.0, 65.0


class _Unit(NamedTuple):
    code: str
    words: str
    mm: float
    todo: str


_SAY = say(
    "Look into the export settings, then state the unit of the scan in the case; it is not changed here"
)
_UNITS = (
    _Unit("scan.unit_inch", say("inches"), 25.4, _SAY),
    _Unit("scan.unit_metre", say("metres"), 1000.0, _SAY),
    _Unit("scan.unit_centimetre", say("centimetres"), 10.0, _SAY),
    _Unit("scan.unit_micrometre", say("micrometres"), 0.001, _SAY),
    _Unit(
        "scan.unit_twice",
        say("millimetres that were multiplied by 25.4 once more"),
        1 / 25.4,
        say("The numbers were mm already: state mm as the unit of the scan"),
    ),
    _Unit(
        "scan.unit_twice",
        say("millimetres that were multiplied by 1000 once more"),
        0.001,
        say("The numbers were mm already: state mm as the unit of the scan"),
    ),
)


def unit_findings(extent: float, molars: tuple[int, int, float] | None) -> tuple[Finding, ...]:
    """Find whether a scan can be in mm.

    ``extent`` longest side of the scan, in its numbers; ``molars`` (right tooth, left tooth, distance) where
    teeth are numbered, which then decides. Returns nothing when mm fits, ``scan.unit_inch``,
    ``scan.unit_metre``, ``scan.unit_centimetre``, ``scan.unit_micrometre`` or ``scan.unit_twice`` when another reading fits (the
    nearest to the usual, others named in the sentence), ``scan.unit_unknown`` when none does.
    """
    if molars is not None:
        size, (low, high), usual = molars[2], MOLAR_WIDTH_MM, _USUAL_WIDTH_MM
        seen = say(
            "teeth {right} and {left} stand {size} mm apart",
            right=tooth_text(molars[0]),
            left=tooth_text(molars[1]),
            size=_plain(size),
        )
    else:
        size, (low, high), usual = extent, EXTENT_MM, _USUAL_EXTENT_MM
        seen = say("the scan is {size} mm long", size=_plain(size))
    if low <= size <= high:
        return ()
    fits = [u for u in _UNITS if low <= size * u.mm <= high]
    if not fits:
        what = say(
            "{seen}; an arch has {low:.0f} to {high:.0f} mm, and no usual unit makes that of it",
            seen=seen,
            low=low,
            high=high,
        )
        todo = say("Measure the same distance on the cast with the caliper, then state the unit of the scan")
        return (Finding("scan.unit_unknown", what, todo, "ask"),)
    # Ties and near ties go to the unit that comes first in the table.
    best = min(fits, key=lambda u: max(size * u.mm / usual, usual / (size * u.mm)))
    others = [u for u in fits if u.words != best.words]
    also = joined(
        "", (say("; {unit} would make it {size:.0f} mm", unit=u.words, size=size * u.mm) for u in others)
    )
    what = say(
        "{seen}: read as {unit} that would be {size:.1f} mm{also}",
        seen=seen,
        unit=best.words,
        size=size * best.mm,
        also=also,
    )
    return (Finding(best.code, what, best.todo, "stop"),)


def _plain(size: float) -> str:
    """Write a length of any order of size without an exponent."""
    return figure(size, ".4f" if size < 1.0 else ".1f" if size < 1000.0 else ".0f")
