"""Part of question 7: a trial on working duplicates of the scans, round by round, down to a height."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.change_allowed import Allowed, rounds_of, step_of
from mountproof.answers.change_curves import NEAR_MM
from mountproof.answers.change_filled import fill_table
from mountproof.answers.change_replay import bench_list, branch_table, replay, round_table
from mountproof.answers.change_stands import Stand
from mountproof.answers.change_swept import Swept
from mountproof.answers.foils import iso, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Replay
from mountproof.answers.progress import Progress
from mountproof.answers.result import Quantity
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.sweep import sweep
from mountproof.occlusion.incline import ToothFrame, tooth_frames
from mountproof.occlusion.trial import Plan, State, begin, duplicate_id, run
from mountproof.occlusion.trial_cuts import Cut
from mountproof.said import capital, joined, say

#: How far beyond the height the duplicates reach, mm of arc.
_BEYOND_MM: Final = 0.3
_WHY_ENDED: Final = {
    "blocked": say("the teeth that meet first may not be reshaped: the trial ends there"),
    "end": say("the trial ends where the duplicates end"),
    "coarse": say("the faces of the scans are too wide for so small a step: the trial ends there"),
}


class Way(NamedTuple):
    """One way of a trial: its name, the plan it went on by, all its states, and the tooth whose budget ended it (0: none).

    ``totals``: what has come off until each state but the first.
    """

    name: str
    plan: Plan
    states: tuple[State, ...]
    spent: int
    totals: tuple[tuple[Cut, ...], ...]


class Trial(NamedTuple):
    """A trial with all its ways, the first one first; ``frames`` tell which way a place on a tooth faces."""

    ways: tuple[Way, ...]
    frames: Mapping[int, ToothFrame]


def trial(
    case: Case,
    ledger: Ledger,
    closed: Closed,
    found: Swept,
    target: Stand,
    allow: Allowed,
    progress: Progress,
) -> tuple[Replay, ...]:
    """Note what every round of a trial takes off until the height is reached; nothing where nothing overlaps.

    Returns every way of it for a picture.
    """
    if closed.evidence is None or target.closing.value <= found.heights.first.closing_rad:
        return ()
    progress(0.6, say("trying it on duplicates"))
    made = tried(case, closed, target, allow, step_of(case, ledger), progress)
    first = made.ways[0]
    _ended(case, ledger, first, allow)
    if len(first.states) < 2:
        return ()
    last = first.states[-1]
    ledger.tables += [
        round_table(case, found, first.states, first.totals[-1], first.plan.step_mm),
        bench_list(case, found, first.states, first.totals, allow, made.frames),
    ]
    if case.change.fill:
        ledger.tables.append(fill_table(case, found, first.states[-1], first.plan, allow))
    if len(made.ways) > 1:
        ways = [
            (way.name, way.states, way.totals[-1] if way.totals else (), _stopped(case, way))
            for way in made.ways
        ]
        ledger.tables.append(branch_table(case, found, ways))
    _extra(ledger, closed, last, first.totals[-1])
    if last.closing_rad >= target.closing.value:
        ledger.quantities.append(
            Quantity("trial_rounds", say("rounds of a trial to this height, {mm:g} mm each", mm=first.plan.step_mm),
                     float(len(last.rounds)), "", decimals=0, assumed=case.change.step_mm is None)
        )  # fmt: skip
    _names(ledger, closed, last)
    teeth = tuple(sorted({int(t) for arch in closed.arches.values() for t in np.unique(arch.teeth) if t}))
    return tuple(
        replay(found, way.name, way.states, way.totals, teeth, _stopped(case, way)) for way in made.ways
    )


def tried(
    case: Case, closed: Closed, target: Stand, allow: Allowed, step_mm: float, progress: Progress
) -> Trial:
    """Run the first way of the trial and every other that the case asks for."""
    evidence = closed.evidence
    assert evidence is not None and closed.first is not None
    sited = evidence.sited
    radius = float(closed.first.point_mm[0])
    reach = max([_BEYOND_MM, NEAR_MM, *allow.on_mm.values()]) if case.change.fill else _BEYOND_MM
    end = target.closing.value + reach / radius
    start = begin(sited.upper, sited.lower, evidence.upper_teeth, evidence.lower_teeth, sited.closing, end)
    kept = frozenset(allow.kept)
    most = rounds_of(case)
    plan = Plan(step_mm, allow.share, kept)
    first = _way(say("first way"), plan, (start,), target, allow, most)
    ways = [first]
    for one in case.change.branches:
        progress(0.65, say("trying another way: {name}", name=one.name))
        share = allow.share if one.reshape is None else one.reshape.value
        out = kept | {iso(case, t) for t in one.excluded}
        own = Plan(one.step_mm or step_mm, share, out)
        # undone to the end of that round, and gone on by another plan; the first way stays as it is
        ways.append(_way(one.name, own, first.states[: one.after + 1], target, allow, most))
    frames = {
        **tooth_frames(sited.upper.vertices_mm, sited.upper.faces, evidence.upper_teeth, "upper"),
        **tooth_frames(sited.lower.vertices_mm, sited.lower.faces, evidence.lower_teeth, "lower"),
    }
    return Trial(tuple(ways), frames)


def _way(
    name: str, plan: Plan, kept: tuple[State, ...], target: Stand, allow: Allowed, most_rounds: int
) -> Way:
    def stop(state: State) -> bool:
        return state.closing_rad >= target.closing.value or bool(_beyond(state, allow.budget_mm))

    left = most_rounds - (len(kept) - 1)
    states = (*kept[:-1], *run(kept[-1], plan, stop, left)) if left > 0 else kept
    if states[-1].stopped and len(states) > 1:
        # a refused round repeats the state before it, with the reason
        states = (*states[:-2], states[-1])
    spent = _beyond(states[-1], allow.budget_mm)
    # a round that takes a tooth beyond its budget is undone
    states = states[:-1] if spent and len(states) > 1 else states
    return Way(name, plan, states, spent, tuple(state.totals() for state in states[1:]))


def _beyond(state: State, budget_mm: Mapping[int, float]) -> int:
    """Return the tooth that went beyond its own budget most, 0 where none did."""
    if not budget_mm:
        return 0
    over = [(c.across_mm - budget_mm[c.tooth], c.tooth) for c in state.totals() if c.tooth in budget_mm]
    return max(over)[1] if over and max(over)[0] > 1e-9 else 0


def _stopped(case: Case, way: Way) -> str:
    if way.spent:
        return say("the next round would take {tooth} beyond its budget", tooth=written(case, way.spent))
    return _WHY_ENDED.get(way.states[-1].stopped, "")


def _ended(case: Case, ledger: Ledger, way: Way, allow: Allowed) -> None:
    why = _stopped(case, way)
    if why:
        ledger.notes.append(capital(say("{why}.", why=why)))
    elif len(way.states) > rounds_of(case):
        ledger.notes.append(say("The trial ends after {count} rounds, as entered.", count=rounds_of(case)))
    kept = sorted(t for t in allow.kept if t in {iso(case, n) for n in case.dentition.implants})
    if kept:
        names = joined(", ", (written(case, t) for t in kept))
        ledger.notes.append(say("Implants keep their shape in the trial: {teeth}.", teeth=names))


def _extra(ledger: Ledger, closed: Closed, last: State, cuts: tuple[Cut, ...]) -> None:
    evidence = closed.evidence
    assert evidence is not None
    sited = evidence.sited
    whole = sweep(sited.upper, sited.lower, evidence.upper_teeth, evidence.lower_teeth, [last.closing_rad],
                  chart=sited.closing).volume_mm3.sum()  # fmt: skip
    off = sum(cut.volume_mm3 for cut in cuts)
    if whole > 0.0:
        more = say("The trial takes off {more:.0f} % more than overlaps: faces of a scan stay flat between their corners.",
                   more=max(100.0 * (off / float(whole) - 1.0), 0.0))  # fmt: skip
        ledger.notes.append(more)


def _names(ledger: Ledger, closed: Closed, last: State) -> None:
    evidence = closed.evidence
    assert evidence is not None
    sited = evidence.sited
    ledger.notes.append(
        say(
            "The trial was done on duplicates {upper} and {lower} after {count} rounds; the master scans {master_upper} and "
            "{master_lower} are as they were.",
            upper=duplicate_id(last.upper.surface),
            lower=duplicate_id(last.lower.surface),
            count=len(last.rounds),
            master_upper=duplicate_id(sited.upper),
            master_lower=duplicate_id(sited.lower),
        )
    )
