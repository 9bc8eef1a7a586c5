"""Part of question 7: a trial on working duplicates of the scans, round by round, down to a height."""

from __future__ import annotations

from typing import Final

from mountproof.answers.change_stands import Stand
from mountproof.answers.change_swept import Swept
from mountproof.answers.foils import iso, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.answers.result import Quantity, Table
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.sweep import sweep
from mountproof.occlusion.trial import Plan, Round, State, begin, run, stop_at
from mountproof.said import capital, figure, joined, say

#: What one round removes, mm across the surface; small steps, each looked at. Common practice, no source.
STEP_MM: Final = 0.05
#: Rounds that are told at most, and how far beyond the height the duplicates reach, mm of arc.
_MOST_ROUNDS, _BEYOND_MM = 20, 0.3
_WHY_ENDED: Final = {
    "blocked": say("the teeth that meet first may not be reshaped: the trial ends there"),
    "end": say("the trial ends where the duplicates end"),
    "coarse": say("the faces of the scans are too wide for so small a step: the trial ends there"),
}


def trial(
    case: Case, ledger: Ledger, closed: Closed, found: Swept, target: Stand, progress: Progress
) -> None:
    """Note what every round of a trial takes off until the height is reached; nothing where nothing overlaps."""
    evidence, heights = closed.evidence, found.heights
    if evidence is None or target.closing.value <= heights.first.closing_rad:
        return
    progress(0.6, say("trying it on duplicates"))
    step = ledger.assume(
        say("what one round of a trial removes, across the surface"),
        STEP_MM,
        "mm",
        say("common practice, no source"),
    )
    kept = frozenset(iso(case, tooth) for tooth in case.dentition.implants)
    sited = evidence.sited
    radius = float(heights.first.point_mm[0])
    end = target.closing.value + _BEYOND_MM / radius
    start = begin(sited.upper, sited.lower, evidence.upper_teeth, evidence.lower_teeth, sited.closing, end)
    states = run(start, Plan(step, "both", kept), stop_at(target.closing.value), _MOST_ROUNDS)
    rounds = [(state, state.rounds[-1]) for state in states[1:] if len(state.rounds) and not state.stopped]
    _ended(case, ledger, states[-1], kept)
    if not rounds:
        return
    ledger.tables.append(_table(case, found, rounds, step))
    last = rounds[-1][0]
    whole = sweep(sited.upper, sited.lower, evidence.upper_teeth, evidence.lower_teeth, [last.closing_rad],
                  chart=sited.closing).volume_mm3.sum()  # fmt: skip
    off = sum(cut.volume_mm3 for cut in last.totals())
    if whole > 0.0:
        more = say("The trial takes off {more:.0f} % more than overlaps: faces of a scan stay flat between their corners.",
                   more=max(100.0 * (off / float(whole) - 1.0), 0.0))  # fmt: skip
        ledger.notes.append(more)
    if states[-1].closing_rad >= target.closing.value:
        ledger.quantities.append(
            Quantity("trial_rounds", say("rounds of a trial to this height, {mm:g} mm each", mm=step),
                     float(len(rounds)), "", decimals=0, assumed=True)
        )  # fmt: skip


def _ended(case: Case, ledger: Ledger, last: State, kept: frozenset[int]) -> None:
    if last.stopped:
        ledger.notes.append(capital(say("{why}.", why=_WHY_ENDED[last.stopped])))
    if kept:
        names = joined(", ", (written(case, t) for t in sorted(kept)))
        ledger.notes.append(say("Implants keep their shape in the trial: {teeth}.", teeth=names))


def _table(case: Case, found: Swept, rounds: list[tuple[State, Round]], step: float) -> Table:
    rows = []
    for n, (state, one) in enumerate(rounds, start=1):
        most = max(one.cuts, key=lambda cut: cut.across_mm)
        rows.append(
            (
                figure(n, "d"),
                _pair(case, one.first),
                figure(found.heights.pin_mm(state.closing_rad) + 0.0, "+.2f"),
                figure(len(one.cuts), "d"),
                say("{mm:.2f} ({tooth})", mm=most.across_mm, tooth=written(case, most.tooth)),
                figure(sum(cut.volume_mm3 for cut in one.cuts), ".2f"),
                joined(", ", (_pair(case, pair) for pair in one.holding)),
            )
        )
    last = joined(
        ", ",
        (
            say("{tooth} {mm:.2f}", tooth=written(case, c.tooth), mm=c.across_mm)
            for c in rounds[-1][0].totals()
        ),
    )
    return Table(
        say("A trial on duplicates of the scans, {mm:g} mm a round", mm=step),
        (
            say("round"),
            say("meets first"),
            say("pin over MIP, mm") if found.heights.by_mip else say("pin over first contact, mm"),
            say("teeth touched"),
            say("most off, mm (tooth)"),
            say("all off, mm3"),
            say("pairs that hold after it"),
        ),
        tuple(rows),
        say(
            "Both teeth of a pair share what comes off. In all, mm across the surface at the deepest place: {teeth}. One order "
            "among those that the record leaves open; the scans themselves are not changed.",
            teeth=last,
        ),
    )


def _pair(case: Case, pair: tuple[int, int]) -> str:
    return joined(" / ", (written(case, tooth) if tooth else say("no tooth") for tooth in pair))
