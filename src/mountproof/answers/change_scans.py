"""Part of question 7 for scans: what comes off and what is added, pair by pair, over the vertical dimension."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from mountproof.answers.bench_inputs import pin_input
from mountproof.answers.change_allowed import allowed, end_of, keeps, kept_table, own_stand
from mountproof.answers.change_bench import by_lengths, vertical_tables
from mountproof.answers.change_curves import change_evidence, totals
from mountproof.answers.change_limits import within_limits
from mountproof.answers.change_means import tell_means
from mountproof.answers.change_space import space_says
from mountproof.answers.change_space_scans import scan_space
from mountproof.answers.change_stands import Heights, Stand, heights_of
from mountproof.answers.change_swept import (
    Pair,
    Swept,
    depth,
    front_pair,
    overlapping,
    pair_words,
    swept,
    volume,
)
from mountproof.answers.change_tables import height_table, order_table, pair_table
from mountproof.answers.change_trial import trial
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Quantity, Verdict, Why
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, exact
from mountproof.said import capital, joined, say


def scanned_change(
    case: Case, ledger: Ledger, closed: Closed, mounting: Answer, progress: Progress
) -> Answer:
    """Tell what every height takes, the trust in the relation first."""
    heights = heights_of(case, ledger, closed, progress)
    heights = None if heights is None else own_stand(case, heights)
    if heights is None or closed.evidence is None:
        vertical_tables(case, ledger)
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, say("no numbered teeth meet about this hinge"))
        return ledger.answer(say("No teeth of the two scans meet about this hinge."))
    progress(0.5, say("sweeping the vertical dimension"))
    found = swept(closed, heights)
    _trust(mounting, ledger)
    target = end_of(case, ledger, heights)
    allow = keeps(
        allowed(case), tuple(int(t) for arch in closed.arches.values() for t in np.unique(arch.teeth))
    )
    _numbers(case, ledger, found, target)
    sure, unsure = _sure(found, target)
    _judge(case, ledger, found, target, sure, unsure)
    ledger.tables += [
        height_table(case, found),
        pair_table(case, found, target),
        order_table(case, found, target),
    ]
    kept = kept_table(case, allow)
    if kept is not None:
        ledger.tables.append(kept)
    told = totals(found, target)
    window = within_limits(case, ledger, found, target, allow, told)
    bars = tell_means(case, ledger, closed, found, target, allow)
    replays = trial(case, ledger, closed, found, target, allow, progress)
    space = scan_space(case, ledger, closed, heights, found, progress)
    if case.instrument is None:
        vertical_tables(case, ledger)
    else:
        by_lengths(case, ledger, pin_input(case.instrument, case.caliper, Ledger(ledger.key)))
    _needs(case, ledger, heights, mounting)
    headline = joined(
        "; ", filter(None, (_headline(case, found, target, mounting), space_says(case, ledger, space)))
    )
    evidence = change_evidence(found, told)._replace(window=window, replays=replays, space=space, across=bars)
    return ledger.answer(headline, evidence=evidence)


def _trust(mounting: Answer, ledger: Ledger) -> None:
    """What the numbers rest on: the mounting, as question 4 judges it."""
    if mounting.verdict is Verdict.AGREES:
        ledger.because(Verdict.AGREES, Why.INSIDE, say("the mounting agrees with its records (question 4)"))
    elif mounting.verdict is Verdict.DISAGREES:
        text = say(
            "the mounting does not agree with its records (question 4): these numbers are of another jaw relation"
        )
        ledger.because(Verdict.DISAGREES, Why.OUTSIDE, text)
    elif mounting.verdict is Verdict.DOUBTFUL:
        text = say("the mounting is doubtful (question 4), and every number here rests on it")
        ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, text)
    else:
        text = say("nobody can tell yet whether the mounting agrees with its records (question 4)")
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, text)


def _numbers(case: Case, ledger: Ledger, found: Swept, target: Stand) -> None:
    heights = found.heights
    stand = heights.stand("first")
    start = exact(heights.first.closing_rad) if stand is None else stand.closing
    if heights.by_mip:
        ledger.quantity(
            "contact_open",
            say("first contact stands open over the height of MIP, at the pin")
            if heights.pin is not None
            else say("first contact stands open over the height of MIP, at the incisors"),
            heights.carried_pin(start),
            "mm",
            assumed=True,
        )
    deep = overlapping(found, target)
    if deep:
        most = deep[0]
        ledger.quantity("off_most", say("most that comes off one pair, {pair}, across the surface", pair=pair_words(case, most)),
                        depth(found, most, target), "mm", assumed=True)  # fmt: skip
        _volume(ledger, volume(found, deep, target))
        ledger.quantities.append(
            Quantity("off_pairs", say("pairs of teeth that overlap"), float(len(deep)), "", decimals=0)
        )
    front = front_pair(found)
    if front is not None:
        ledger.quantity("front_short", say("gap left at the front, {pair}, along closure", pair=pair_words(case, front)),
                        -front.off(target.closing), "mm", assumed=True)  # fmt: skip


def _volume(ledger: Ledger, all_of_it: Carried) -> None:
    """Note the volume; to first order its interval may reach below zero, which no volume does."""
    made = ledger.quantity(
        "off_volume", say("all that comes off, as volume"), all_of_it, "mm3", decimals=1, assumed=True
    )
    ledger.quantities[-1] = replace(made, low=max(made.low or 0.0, 0.0))


def _sure(found: Swept, target: Stand) -> tuple[list[Pair], list[Pair]]:
    """Return the pairs that overlap at a height whatever the record left open (95 %), and those that may or may not."""
    sure, unsure = [], []
    for pair in found.pairs:
        off = pair.off(target.closing)
        if off.value > 2.0 * off.u:
            sure.append(pair)
        elif off.value > -2.0 * off.u:
            unsure.append(pair)
    return sure, unsure


def _judge(
    case: Case, ledger: Ledger, found: Swept, target: Stand, sure: list[Pair], unsure: list[Pair]
) -> None:
    at = found.at.get(target.key)
    names = joined(", ", (pair_words(case, p) for p in unsure))
    if unsure:
        text = say("whether {pairs} overlap at this height, the record leaves open", pairs=names)
        ledger.because(Verdict.CANNOT_TELL, Why.GUARD_BAND, text)
    elif sure:
        text = say("every pair that overlaps at this height does so over all that the record leaves open")
        ledger.because(Verdict.AGREES, Why.INSIDE, text)
    if at is None:
        return
    hidden = [p for p in found.pairs if found.sweep.unknown_rad[p.row] <= target.closing.value]
    if hidden:
        text = say(
            "a hole of a scan lies at {pairs}: there more may come off than is told",
            pairs=joined(", ", (pair_words(case, p) for p in hidden)),
        )
        ledger.because(Verdict.CANNOT_TELL, Why.UNKNOWN_SURFACE, text)
        ledger.need(say("a scan without the hole"), say("what lies in a hole is unknown, not open"), "scans")


def _needs(case: Case, ledger: Ledger, heights: Heights, mounting: Answer) -> None:
    if not heights.by_mip:
        ledger.need(say("the scanned relation in MIP"), say("the change leads from CR to MIP"), "records")
    if mounting.verdict is not Verdict.AGREES:
        ledger.needs += [need for need in mounting.needs[:2] if need not in ledger.needs]
    ledger.notes.append(
        say(
            "Depths are of both teeth of a pair together; who is reshaped, and how far, is the clinician's choice."
        )
    )
    if not (case.change.budgets or case.change.most_off_mm or case.change.most_on_mm):
        ledger.notes.append(say("No depth budget was entered: no limit of any tooth is claimed."))


def _headline(case: Case, found: Swept, target: Stand, mounting: Answer) -> str:
    heights = found.heights
    before = ""
    if mounting.verdict is Verdict.DISAGREES:
        before = say("First the mounting: it does not agree with its records.")
    elif mounting.verdict is not Verdict.AGREES:
        before = say("With a mounting that is not yet sure:")
    deep = overlapping(found, target) if target.key in found.at else []
    if not heights.by_mip and (target.key != "front" or not deep):
        told = say("the height of MIP is not known; the tables tell what closing beyond first contact takes")
    elif not heights.by_mip:
        told = say(
            "the height of MIP is not known; until the front teeth meet, {lose}",
            lose=_lose(case, found, target, deep),
        )
    elif not deep:
        told = say("at the height of MIP no teeth overlap: nothing need come off to reach it")
    else:
        told = say(
            "to come down to the height of MIP, {mm:.1f} mm {where}, {lose}",
            mm=heights.pin_mm(heights.first.closing_rad),
            where=say("at the pin") if heights.pin is not None else say("at the incisors"),
            lose=_lose(case, found, target, deep),
        )
        front = front_pair(found)
        if front is not None and front.off(target.closing).value < 0.0:
            told += say("; the front teeth stay {mm:.2f} mm short", mm=-front.off(target.closing).value)
    return say("{before} {told}", before=before, told=told) if before else capital(told)


def _lose(case: Case, found: Swept, target: Stand, deep: list[Pair]) -> str:
    most = depth(found, deep[0], target).value
    if len(deep) == 1:
        return say("{pair} lose {most:.2f} mm together", pair=pair_words(case, deep[0]), most=most)
    return say(
        "{count} pairs of teeth lose up to {most:.2f} mm together, most at {pair}",
        count=len(deep), most=most, pair=pair_words(case, deep[0]),
    )  # fmt: skip
