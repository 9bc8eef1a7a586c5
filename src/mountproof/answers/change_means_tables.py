"""Part of question 7: the tables of the means, of cusp tips across inclines, and of thirds that were seen by eye."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from mountproof.answers.change_across import ZONES, Across, K, Tip
from mountproof.answers.change_stands import Stand
from mountproof.answers.cusp_words import cusp_words
from mountproof.answers.foils import written
from mountproof.answers.result import Table
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.said import figure, joined, say, term
from mountproof.teeth import along_arch_key


class Line(NamedTuple):
    """One number of one means: its value, or between which counts it lies (of ``of`` in all), the limit, and whether it holds."""

    means: str
    words: str
    value: Carried | None
    unit: str
    most: float | None
    state: str
    between: tuple[int, int] | None = None
    of: int | None = None
    rule: str = ""


def means_table(target: Stand, lines: Sequence[Line]) -> Table:
    """Return all numbers of all means at one height, side by side with the clinician's limits."""
    rows = [
        (
            one.means,
            one.words,
            _told(one),
            _interval(one),
            one.rule or ("-" if one.most is None else _limit(one)),
            one.state or "-",
        )
        for one in lines
    ]
    return Table(
        say("Means side by side, at this height: {height}", height=target.words),
        (say("means"), say("number"), say("value"), say("95 %"), say("at most"), say("over all that stays open")),
        tuple(rows),
        say(
            "At most: the clinician's own limits, none of ours; a line without one is a number and no statement. Holds: within "
            "the limit over the whole 95 % interval of pose and landmarks. The rule of thirds (inner third: subtract, middle: "
            "add, outer: move or operate) is common practice, no source. No means is chosen here: that stays with the clinician "
            "and the patient."
        ),
    )  # fmt: skip


def _told(one: Line) -> str:
    if one.between is not None:
        low, high = one.between
        count = figure(low, "d") if low == high else say("{low} to {high}", low=low, high=high)
        return count if one.of is None else say("{count} of {all}", count=count, all=one.of)
    if one.value is None:
        return "-"
    return say("{value:.2f} {unit}", value=one.value.value + 0.0, unit=term(one.unit))


def _interval(one: Line) -> str:
    if one.value is None or one.value.u == 0.0:
        return "-"
    half = K * one.value.u
    return say("{low:.2f} to {high:.2f}", low=one.value.value - half, high=one.value.value + half)


def _limit(one: Line) -> str:
    assert one.most is not None
    if one.between is not None:
        return figure(one.most, ".0f")
    return say("{value:g} {unit}", value=one.most, unit=term(one.unit))


def zone_words(tip: Tip) -> str:
    """Return the zone in which a tip stands, or those between which it lies."""
    low, high = tip.zones()
    return ZONES[low][1] if low == high else say("{one} to {other}", one=ZONES[low][1], other=ZONES[high][1])


def across_table(case: Case, target: Stand, where: Across) -> Table:
    """Return every lower buccal cusp tip across the upper inner incline, and those that cannot be told."""
    rows = [
        (
            written(case, tip.upper),
            joined(" ", filter(None, (written(case, tip.lower), cusp_words(tip.cusp, tip.cusps)))),
            say("{part:.2f} ± {half:.2f}", part=tip.part.value + 0.0, half=K * tip.part.u),
            figure(K * tip.part.without("landmark").u, ".2f"),
            say("{mm:+.2f} ± {half:.2f}", mm=tip.from_groove.value + 0.0, half=K * tip.from_groove.u),
            figure(tip.width_mm, ".1f"),
            zone_words(tip),
        )
        for tip in sorted(
            where.tips, key=lambda t: (along_arch_key(t.upper), along_arch_key(t.lower), t.cusp)
        )
    ]
    for lower, _, why in where.lacking:
        rows.append(("-", written(case, lower), "-", "-", "-", "-", say("cannot tell: {why}", why=why)))
    return Table(
        say("Lower buccal cusp tips across the upper inner inclines, at this height: {height}", height=target.words),
        (say("upper"), say("lower"), say("place"), say("± of the pose alone"), say("from the groove, mm outward"),
         say("incline, mm"), say("third")),
        tuple(rows),
        say(
            "Place: 0 over the groove, 1 under the upper buccal cusp tip, in the upper tooth's own axes; ± 95 %, of pose and "
            "landmarks. As far as a third to the other side of the groove still counts to the inner third. Thirds: common "
            "practice, no source."
        ),
    )  # fmt: skip
