"""Question 4, the cause ``scans``: the checks of scans as findings that show a fault itself, weighed by their chances.

What is wrong with scans moves nothing on the instrument, and nothing on the instrument moves scans: before the checks both
are independent, and no check reads both, so they are weighed apart by the same engine, exactly.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.proof_words import SCANS, CauseWords
from mountproof.answers.result import Need, Reason, Verdict, Why
from mountproof.answers.scan_evidence import ScansSeen, scans_seen
from mountproof.case.model import Case
from mountproof.doubt.causes import Direct, Target
from mountproof.doubt.faults import scan_faults
from mountproof.doubt.hypotheses import NOTHING, enumerate_hypotheses
from mountproof.doubt.weighing import Checks, speaks, weigh
from mountproof.said import joined, say

#: Chances that a fault shows in a check, and that a check shows it without: our choices, no source. A mirrored mesh faces
#: inwards only where its triangles were not turned along with it.
_UNIT: Final = ({"scan_unit": 0.98}, 0.001)
_ARCHES: Final = ({"scan_arches": 0.95}, 0.001)
_SIDES: Final = ({"scan_sides": 0.98, "scan_mirrored": 0.98}, 0.001)
_OUTSIDE: Final = ({"scan_turned": 0.98, "scan_mirrored": 0.5}, 0.001)
_COMPARED: Final = ({"scan_sides": 0.95, "scan_mirrored": 0.95}, 0.01)
#: From this chance on the scans are told of before anything else is read from them.
_MAYBE: Final = 0.25


class ScansWeighed(NamedTuple):
    """The chance that the scans are not what is said of them, in which words, and what speaks for it and against it."""

    chance: float
    cause: CauseWords
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    seen: ScansSeen


def weighed_scans(case: Case, tells: float) -> ScansWeighed | None:
    """Weigh what the checks find of the scans of the casts; None where there is no scan.

    ``tells``: a finding speaks for or against from this log factor on.
    """
    seen = scans_seen(case)
    if seen is None:
        return None
    checks = Checks(directs=_directs(seen))
    hypotheses = enumerate_hypotheses(scan_faults())
    nothing = np.zeros((0, 0))
    found = weigh(nothing, hypotheses, checks, Target(nothing, nothing))
    by_mode = np.zeros(len(hypotheses.modes))
    for acting, weight in zip(hypotheses.acting, found.weights, strict=True):
        by_mode[list(acting)] += weight
    single = [(words, f["scans"]) for words, f in speaks(nothing, hypotheses, checks)]
    return ScansWeighed(
        1.0 - found.chances()[NOTHING],
        SCANS[hypotheses.modes[int(np.argmax(by_mode))].key],
        tuple(words for words, f in single if f > tells),
        tuple(words for words, f in single if f < -tells),
        seen,
    )


def _directs(seen: ScansSeen) -> tuple[Direct, ...]:
    """Return the findings, seen or not, of the checks that could be made."""
    out = [
        _direct("unit", seen, _UNIT, say("the size of the scans fits their unit")),
        _direct("outside", seen, _OUTSIDE, say("the scans face outwards")),
    ]
    if seen.paired or seen.about("arches"):
        out.append(_direct("arches", seen, _ARCHES, say("upper and lower scan lie as upper and lower do")))
    if (seen.numbered and seen.paired) or seen.about("sides"):
        fits = say("right and left of the scans fit their tooth numbers")
        out.append(_direct("sides", seen, _SIDES, fits))
    if seen.compared:
        chances, otherwise = _COMPARED
        words = say("somebody compared a tooth that stands out with the patient")
        out.append(Direct("sides_compared", words, chances, otherwise, seen=False))
    return tuple(out)


def _direct(about: str, seen: ScansSeen, chances: tuple[dict[str, float], float], fits: str) -> Direct:
    found = seen.about(about)
    words = joined("; ", dict.fromkeys(f.what for f in found)) if found else fits
    return Direct(f"scan_{about}", words, chances[0], chances[1], seen=bool(found))


def tell_scans(weighed: ScansWeighed | None, ledger: Ledger) -> list[str]:
    """Say what is wrong with the scans, and what to do, before anything else; nothing where that is not likely."""
    if weighed is None:
        return []
    if weighed.chance < _MAYBE:
        return []
    odd = {f.todo: f.what for f in weighed.seen.found if f.about != "untold"}
    ledger.needs[:0] = [Need(todo, what, "scans") for todo, what in odd.items()]
    ledger.reasons[:0] = [Reason(Why.FAULTY, what) for what in odd.values()]
    if not ledger.verdicts:
        what = say(
            "nothing of the mounting can be read from these scans, and no check on the bench was entered"
        )
        ledger.because(Verdict.CANNOT_TELL, Why.FAULTY, what)
    ledger.notes.append(
        say(
            "What rests on the scans is not judged here until that is put right; what was read on the bench does not hang "
            "on them."
        )
    )
    percent = say("{percent:.0f} %", percent=100 * weighed.chance)
    if weighed.chance >= 2.0 * _MAYBE:
        return [say("{cause} ({percent})", cause=weighed.cause.words, percent=percent)]
    return [say("perhaps {cause} ({percent})", cause=weighed.cause.words, percent=percent)]


def ask_of_scans(case: Case, ledger: Ledger) -> None:
    """Ask what the shape of scans does not tell: whether right is right."""
    seen = scans_seen(case)
    for one in seen.about("untold") if seen is not None else ():
        ledger.need(one.todo, one.what, "scans.sides_compared")
