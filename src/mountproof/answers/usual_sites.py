"""Where every tooth of an arch stands, seen from above, as far as a bench case tells it: a stand-in, shown as assumed."""

from __future__ import annotations

from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import tooth_places
from mountproof.case.model import Case
from mountproof.said import say
from mountproof.teeth import place, right_to_left, side_of

#: How far from the middle each tooth stands (mm), from the first incisor backward. Common practice, no source.
_ASIDE_MM = (4.5, 12.0, 17.0, 21.0, 23.5, 26.0, 28.0, 29.0)
#: Between which named groups, and how far from the first to the second, each tooth stands.
_AHEAD = (
    ("incisors", "canines", 0.0),
    ("incisors", "canines", 0.4),
    ("canines", "first molars", 0.0),
    ("canines", "first molars", 0.35),
    ("canines", "first molars", 0.65),
    ("first molars", "second molars", 0.0),
    ("first molars", "second molars", 1.0),
    ("first molars", "second molars", 1.9),
)


def usual_sites(case: Case, ledger: Ledger) -> dict[int, tuple[float, float]]:
    """Return (ahead, right) in mm of the 16 upper teeth (ISO 3950), from the groups of teeth entered or usual.

    Groups that were not named lie where they usually do against those that were.
    """
    usual = {
        str(t.name): t.x_mm
        for t in tooth_places(case.model_copy(update={"teeth_at": {}}), Ledger(ledger.key))
    }
    given = {str(t.name): t.x_mm for t in tooth_places(case, ledger)}
    shift = [given[n] - usual[n] for n in usual if n in given]
    off = sum(shift) / len(shift) if shift else 0.0
    ahead = {n: given.get(n, x + off) for n, x in usual.items()}
    ledger.assume(
        say(
            "how far the teeth stand to each side (incisors {first:g} to third molars {last:g} mm)",
            first=_ASIDE_MM[0],
            last=_ASIDE_MM[-1],
        ),
        _ASIDE_MM[6],
        "mm",
        say("second molars; common practice, no source"),
        "teeth_at",
    )
    out = {}
    for tooth in right_to_left("upper"):
        k = place(tooth) - 1
        near, far, part = _AHEAD[k]
        sign = 1.0 if side_of(tooth) == "right" else -1.0
        out[tooth] = (ahead[near] + part * (ahead[far] - ahead[near]), sign * _ASIDE_MM[k])
    return out
