"""Part of question 7: the log of a trial, as a table and as a list for the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from mountproof.answers.change_allowed import Allowed
from mountproof.answers.change_swept import Swept
from mountproof.answers.foils import written
from mountproof.answers.picture_data import Replay, ReplayRound
from mountproof.answers.result import Table
from mountproof.case.model import Case
from mountproof.occlusion.incline import ToothFrame, facing
from mountproof.occlusion.trial import State
from mountproof.occlusion.trial_cuts import Cut
from mountproof.said import figure, joined, say

#: What is taken off less deeply than this is no step for a hand: it is counted, not listed. Our choice, mm.
_SHOWN_MM = 0.005


def _pin_title(found: Swept) -> str:
    return say("pin over MIP, mm") if found.heights.by_mip else say("pin over first contact, mm")


def round_table(
    case: Case, found: Swept, states: Sequence[State], totals: Sequence[Cut], step: float
) -> Table:
    """Return one line a round: who met first, the pin after it, how much came off, and what holds then."""
    rows = []
    for n, state in enumerate(states[1:], start=1):
        one = state.rounds[-1]
        most = max(one.cuts, key=lambda cut: cut.across_mm)
        rows.append(
            (
                figure(n, "d"),
                pair_of(case, one.first),
                figure(found.heights.pin_mm(state.closing_rad) + 0.0, "+.2f"),
                figure(len(one.cuts), "d"),
                say("{mm:.2f} ({tooth})", mm=most.across_mm, tooth=written(case, most.tooth)),
                figure(sum(cut.volume_mm3 for cut in one.cuts), ".2f"),
                joined(", ", (pair_of(case, pair) for pair in one.holding)),
            )
        )
    last = joined(
        ", ",
        (say("{tooth} {mm:.2f}", tooth=written(case, c.tooth), mm=c.across_mm) for c in totals),
    )
    return Table(
        say("A trial on duplicates of the scans, {mm:g} mm a round", mm=step),
        (
            say("round"),
            say("meets first"),
            _pin_title(found),
            say("teeth touched"),
            say("most off, mm (tooth)"),
            say("all off, mm3"),
            say("pairs that hold after it"),
        ),
        tuple(rows),
        say(
            "What comes off is shared as entered. In all, mm across the surface at the deepest place: {teeth}. One order "
            "among those that the record leaves open; the scans themselves are not changed.",
            teeth=last,
        ),
    )


def bench_list(
    case: Case, found: Swept, states: Sequence[State], so_far: Sequence[Sequence[Cut]], allow: Allowed,
    frames: Mapping[int, ToothFrame],
) -> Table:  # fmt: skip
    """Return the list for the bench: round, tooth, incline, depth, depth so far against the budget, pin and contacts after it."""
    rows = []
    for n, state in enumerate(states[1:], start=1):
        one = state.rounds[-1]
        totals = {cut.tooth: cut.across_mm for cut in so_far[n - 1]}
        pin = figure(found.heights.pin_mm(state.closing_rad) + 0.0, "+.2f")
        holds = joined(", ", (pair_of(case, pair) for pair in one.holding))
        told = False
        for cut in sorted(one.cuts, key=lambda c: -c.across_mm):
            off = totals.get(cut.tooth, 0.0)
            if not cut.tooth or cut.across_mm < _SHOWN_MM:
                continue
            budget = allow.budget_mm.get(cut.tooth)
            left = "-" if budget is None else figure(budget - off + 0.0, ".2f")
            rows.append(
                (
                    figure(n, "d"),
                    written(case, cut.tooth),
                    _incline(cut, frames),
                    figure(cut.across_mm, ".2f"),
                    figure(off, ".2f"),
                    left,
                    "" if told else pin,
                    "" if told else holds,
                )
            )
            told = True
    return Table(
        say("List for the bench: the same trial, tooth by tooth, for duplicate casts only"),
        (
            say("round"),
            say("tooth"),
            say("surface"),
            say("off, mm"),
            say("off so far, mm"),
            say("left of its budget, mm"),
            _pin_title(found),
            say("pairs that hold after the round"),
        ),
        tuple(rows),
        say(
            "Across the surface, at the deepest place of the tooth in that round. Never on the master cast, and no instruction "
            "for the mouth. A line is a tooth without a budget: no limit is claimed for it. Cuts below {mm:g} mm are not listed.",
            mm=_SHOWN_MM,
        ),
    )  # fmt: skip


def branch_table(
    case: Case, found: Swept, ways: Sequence[tuple[str, Sequence[State], Sequence[Cut], str]]
) -> Table:
    """Return all ways of a trial side by side."""
    rows = []
    shared = ways[0][1]
    for name, states, cuts, why in ways:
        last = states[-1]
        totals = [c for c in cuts if c.tooth]
        same = sum(a is b for a, b in zip(states, shared, strict=False)) - 1
        most = max(totals, key=lambda c: c.across_mm, default=None)
        rows.append(
            (
                name,
                "-" if states is shared else figure(max(same, 0), "d"),
                figure(len(last.rounds), "d"),
                figure(found.heights.pin_mm(last.closing_rad) + 0.0, "+.2f"),
                figure(sum(c.across_mm >= _SHOWN_MM for c in totals), "d"),
                "-" if most is None else say("{mm:.2f} ({tooth})", mm=most.across_mm, tooth=written(case, most.tooth)),
                figure(sum(c.volume_mm3 for c in cuts), ".2f"),
                joined(", ", (pair_of(case, pair) for pair in last.rounds[-1].holding)) if last.rounds else "-",
                why or "-",
            )
        )  # fmt: skip
    return Table(
        say("The ways of the trial side by side"),
        (
            say("way"),
            say("rounds kept"),
            say("rounds"),
            _pin_title(found),
            say("teeth touched"),
            say("most off, mm (tooth)"),
            say("all off, mm3"),
            say("pairs that hold at its end"),
            say("why it ends"),
        ),
        tuple(rows),
        say(
            "Every way has duplicates of its own. Which of them is taken, if any, is the clinician's choice."
        ),
    )


def replay(
    found: Swept,
    name: str,
    states: Sequence[State],
    totals: Sequence[Sequence[Cut]],
    teeth: tuple[int, ...],
    why: str,
) -> Replay:
    """Return a way of a trial for a picture: each round with what has come off until then."""
    rounds = tuple(
        ReplayRound(
            n,
            found.heights.pin_mm(state.closing_rad) + 0.0,
            state.rounds[-1].first,
            state.rounds[-1].holding,
            {cut.tooth: cut.across_mm for cut in cuts if cut.tooth},
        )
        for n, (state, cuts) in enumerate(zip(states[1:], totals, strict=True), start=1)
    )
    return Replay(name, teeth, rounds, why)


def _incline(cut: Cut, frames: Mapping[int, ToothFrame]) -> str:
    return facing(frames[cut.tooth], cut.tooth, np.array(cut.normal)) if cut.tooth in frames else "-"


def pair_of(case: Case, pair: tuple[int, int]) -> str:
    """Return the names of a pair of teeth, (upper, lower); 0 is no tooth."""
    return joined(" / ", (written(case, tooth) if tooth else say("no tooth") for tooth in pair))
