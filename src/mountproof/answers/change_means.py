"""Part of question 7: the numbers of leaving, subtracting, adding, moving and operating, and what of them holds.

Each number is held against the clinician's own limit over all that pose and landmarks leave open (95 %). Nothing is chosen here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.change_across import Across, Front, K, Tip, across, fronts
from mountproof.answers.change_allowed import Allowed
from mountproof.answers.change_means_tables import Line, across_table, means_table
from mountproof.answers.change_seen import seen_table
from mountproof.answers.change_stands import Stand, is_front
from mountproof.answers.change_swept import Pair, Swept, depth, front_pair, overlapping, pair_words
from mountproof.answers.foils import written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import AcrossBar
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, exact, stack
from mountproof.occlusion.change import parts_of
from mountproof.said import say
from mountproof.teeth import side_of

HOLDS: Final = say("holds")
HOLDS_NOT: Final = say("does not hold")
BY_POSE: Final = say("depends on the pose")
BY_PLACE: Final = say("depends on where a landmark is")
UNKNOWN: Final = say("cannot tell")
_RULE: Final = say("rule of thirds")
_INNER, _MIDDLE = 1, 2


class Lost(NamedTuple):
    """What one tooth loses at a height, mm across its surface."""

    tooth: int
    off: Carried


def state(value: Carried, most: float | None) -> str:
    """Tell whether a number stays within a limit over its 95 % interval; empty where there is no limit.

    A number with a sign (to the right, wider) stays within it on either side.
    """
    if most is None:
        return ""
    told = _within(value, most)
    if told is not None:
        return HOLDS if told else HOLDS_NOT
    return BY_POSE if _within(value.without("landmark"), most) is None else BY_PLACE


def _within(value: Carried, most: float) -> bool | None:
    """Return whether an interval lies within -``most`` and ``most``, or outside; None where it does both."""
    low, high = value.value - K * value.u, value.value + K * value.u
    if max(-low, high) <= most:
        return True
    return False if low > most or high < -most else None


def tell_means(
    case: Case, ledger: Ledger, closed: Closed, found: Swept, target: Stand, allow: Allowed
) -> tuple[AcrossBar, ...]:
    """Note the table of means and that of cusp tips; return what the picture of the tips is drawn from."""
    evidence = closed.evidence
    assert evidence is not None
    where = across(case, evidence, found.heights.motion, target)
    front = fronts(evidence, found.heights.motion, target)
    lines = [
        *_leave(case, found),
        *_subtract(case, found, target, allow),
        *tips_in(say("subtract"), say("every lower buccal cusp tip in the inner third"), where, _INNER),
        *_add(case, found, target),
        *tips_in(say("add"), say("every lower buccal cusp tip in the inner or middle third"), where, _MIDDLE),
        *_move(case, where),
        *_operate(case, found, target, where, front),
    ]
    ledger.tables += [means_table(target, lines), across_table(case, target, where)]
    seen = seen_table(case)
    if seen is not None:
        ledger.tables.append(seen)
    if where.lacking or not where.tips:
        ledger.need(
            say("the third in which each lower buccal cusp tip stands, by eye on the casts at this height"),
            say("cusp tip or groove cannot be found on the scan of some teeth"),
            "change.means.seen",
        )
    return tuple(_bar(one) for one in where.tips)


def _bar(one: Tip) -> AcrossBar:
    half, pose = K * one.part.u, K * one.part.without("landmark").u
    t = one.part.value
    return AcrossBar(
        one.upper, one.lower, one.cusp, one.cusps, t, t - half, t + half, t - pose, t + pose, one.width_mm
    )


def _leave(case: Case, found: Swept) -> list[Line]:
    means, heights = case.change.means, found.heights
    words = say("first contact stands open over the height of MIP, at the pin") if heights.pin is not None else (
        say("first contact stands open over the height of MIP, at the incisors"))  # fmt: skip
    stand = heights.stand("first")
    if not heights.by_mip or stand is None:
        return [Line(say("leave"), words, None, "mm", means.leave_open_mm, UNKNOWN)]
    opened = heights.carried_pin(stand.closing)
    return [Line(say("leave"), words, opened, "mm", means.leave_open_mm, state(opened, means.leave_open_mm))]


def losses(found: Swept, target: Stand, allow: Allowed) -> list[Lost]:
    """Return what each tooth loses at a height, at its deepest place, the most first.

    Teeth that keep their shape lose nothing.
    """
    if target.key not in found.at:
        return []
    most: dict[int, Carried] = {}
    for pair in overlapping(found, target):
        parts = parts_of(pair.upper, pair.lower, allow.share, frozenset(allow.kept)) or (0.0, 0.0)
        for tooth, part in zip((pair.upper, pair.lower), parts, strict=True):
            off = depth(found, pair, target).times(part)
            if part > 0.0 and (tooth not in most or off.value > most[tooth].value):
                most[tooth] = off
    return sorted((Lost(t, off) for t, off in most.items() if t), key=lambda one: -one.off.value)


def _subtract(case: Case, found: Swept, target: Stand, allow: Allowed) -> list[Line]:
    means, word = case.change.means, say("subtract")
    lost = losses(found, target, allow)
    if target.key not in found.at:
        return [Line(word, say("most off one tooth, across the surface"), None, "mm", None, UNKNOWN)]
    if not lost:
        return [Line(word, say("no tooth that may be reshaped overlaps"), None, "", None, "")]
    most = lost[0]
    name = say("most off one tooth, across the surface ({tooth})", tooth=written(case, most.tooth))
    lines = [Line(word, name, most.off, "mm", None, "")]
    left = [
        (one, exact(allow.budget_mm[one.tooth]) - one.off) for one in lost if one.tooth in allow.budget_mm
    ]
    if left:
        tight, _ = min(left, key=lambda pair: pair[1].value - K * pair[1].u)
        words = say("off {tooth}, the nearest to its budget", tooth=written(case, tight.tooth))
        budget = allow.budget_mm[tight.tooth]
        lines.append(
            Line(
                word,
                words,
                tight.off,
                "mm",
                budget,
                joint([state(one.off, allow.budget_mm[one.tooth]) for one, _ in left]),
            )
        )
    teeth: dict[int, Carried] = {}
    for pair in found.pairs:  # a pair that may or may not overlap counts in the range
        off = pair.off(target.closing)
        parts = parts_of(pair.upper, pair.lower, allow.share, frozenset(allow.kept)) or (0.0, 0.0)
        for tooth, part in zip((pair.upper, pair.lower), parts, strict=True):
            if part > 0.0 and tooth and (tooth not in teeth or off.value > teeth[tooth].value):
                teeth[tooth] = off
    sure = sum(off.value > K * off.u for off in teeth.values())
    maybe = sum(off.value > -K * off.u for off in teeth.values())
    lines.append(counted(word, say("teeth that lose something"), (sure, maybe), means.subtract_teeth))
    return lines


def counted(means: str, words: str, between: tuple[int, int], most: int | None) -> Line:
    """Return the line of a count that the pose leaves between two numbers."""
    low, high = between
    told = "" if most is None else HOLDS if high <= most else HOLDS_NOT if low > most else BY_POSE
    return Line(means, words, None, "", None if most is None else float(most), told, between)


def joint(states: Sequence[str]) -> str:
    """Return the state of several numbers that must all hold."""
    for one in (HOLDS_NOT, BY_POSE, BY_PLACE, UNKNOWN):
        if one in states:
            return one
    return HOLDS if states else UNKNOWN


def tips_in(means: str, words: str, where: Across, most: int) -> list[Line]:
    """Return whether every tip stands within the zones from the inner third to ``most``, by the rule of thirds."""

    def one(tip: Tip) -> str:
        sides = [_inside(tip.zones(pose_only=only), most) for only in (False, True)]
        return {1: HOLDS, -1: HOLDS_NOT}.get(sides[0], BY_PLACE if sides[1] else BY_POSE)

    states = [one(tip) for tip in where.tips]
    states += [UNKNOWN for _ in where.lacking]
    inside = states.count(HOLDS)
    between = (inside, len(states) - states.count(HOLDS_NOT))
    return [Line(means, words, None, "", None, joint(states), between, len(states), _RULE)]


def _inside(zones: tuple[int, int], most: int) -> int:
    """Return 1 where all of an interval of zones lies from the inner third to ``most``, -1 where none does, else 0."""
    low, high = zones
    if low >= _INNER and high <= most:
        return 1
    return -1 if high < _INNER or low > most else 0


def _add(case: Case, found: Swept, target: Stand) -> list[Line]:
    most, word = case.change.most_on_mm, say("add")
    lines = []
    first = found.heights.stand("first")
    if first is not None:
        lack = lacking(found, first)
        words = say("nothing comes off: every back tooth meets") if lack is None else say(
            "nothing comes off: most to be added, along closure ({pair})", pair=pair_words(case, lack))  # fmt: skip
        lines.append(_added(word, words, lack, first, most))
    if first is None or target.key != first.key:
        lack = lacking(found, target)
        words = say("at this height: every back tooth meets") if lack is None else say(
            "at this height: most to be added, along closure ({pair})", pair=pair_words(case, lack))  # fmt: skip
        lines.append(_added(word, words, lack, target, most))
    return lines


def _added(means: str, words: str, lack: Pair | None, stand: Stand, most: float | None) -> Line:
    gap = exact(0.0) if lack is None else -lack.off(stand.closing)
    return Line(means, words, gap, "mm", most, state(gap, most))


def lacking(found: Swept, stand: Stand) -> Pair | None:
    """Return the pair by which a back tooth meets first that lacks most at a height; None where every back tooth meets."""
    best: dict[int, Pair] = {}
    for pair in found.pairs:
        if is_front(pair.upper) or is_front(pair.lower):
            continue
        for tooth in (pair.upper, pair.lower):
            if tooth and (tooth not in best or pair.meets.value < best[tooth].meets.value):
                best[tooth] = pair
    still = [p for p in best.values() if p.off(stand.closing).value < -1e-9]
    return min(still, key=lambda p: p.off(stand.closing).value) if still else None


def _move(case: Case, where: Across) -> list[Line]:
    means, word = case.change.means, say("move")
    if not where.tips:
        return [
            Line(word, say("farthest lower cusp tip from its groove"), None, "mm", means.move_mm, UNKNOWN)
        ]
    far = max(where.tips, key=lambda one: abs(one.from_groove.value))
    name = say("farthest lower cusp tip from its groove, across ({tooth})", tooth=written(case, far.lower))
    states = [state(abs_of(one.from_groove), means.move_mm) for one in where.tips]
    told = "" if means.move_mm is None else joint(states + [UNKNOWN for _ in where.lacking])
    outside = [tip.zones() for tip in where.tips]
    sure = sum(low > _MIDDLE for low, _ in outside)
    maybe = sum(high > _MIDDLE for _, high in outside) + len(where.lacking)
    count = say("lower buccal cusp tips in the outer third or beyond")
    total = len(where.tips) + len(where.lacking)
    return [
        Line(word, name, abs_of(far.from_groove), "mm", means.move_mm, told),
        Line(say("move, operate"), count, None, "", None, "", (sure, maybe), total, _RULE),
    ]


def abs_of(value: Carried) -> Carried:
    """Return a carried number without its sign, to first order."""
    return value if value.value >= 0.0 else -value


def _operate(case: Case, found: Swept, target: Stand, where: Across, front: Sequence[Front]) -> list[Line]:
    means, word = case.change.means, say("operate")
    lines = []
    sides = {
        side: [one.from_groove for one in where.tips if side_of(one.lower) == side]
        for side in ("right", "left")
    }
    if all(sides.values()):
        right, left = (_mean(sides[side]) for side in ("right", "left"))
        # outward is to the right on the right and to the left on the left
        aside, wide = (right - left).times(0.5), (right + left).times(0.5)
        to_right = say("lower cusp tips stand to the right of the grooves, both sides")
        to_left = say("lower cusp tips stand to the left of the grooves, both sides")
        lines += [
            Line(word, to_right if aside.value >= 0.0 else to_left, abs_of(aside), "mm",
                 means.operate_mm, state(abs_of(aside), means.operate_mm)),
            Line(word, say("lower cusp tips stand wider than the grooves, each side") if wide.value >= 0.0 else
                 say("lower cusp tips stand narrower than the grooves, each side"), abs_of(wide), "mm",
                 means.operate_mm, state(abs_of(wide), means.operate_mm)),
        ]  # fmt: skip
    else:
        lines.append(
            Line(
                word,
                say("lower cusp tips against the grooves, both sides"),
                None,
                "mm",
                means.operate_mm,
                UNKNOWN,
            )
        )
    return lines + _front(case, found, target, front)


def _front(case: Case, found: Swept, target: Stand, front: Sequence[Front]) -> list[Line]:
    limit, word = case.change.means.overjet_mm, say("front teeth")
    lines = []
    if not front:
        lines.append(Line(word, say("overjet"), None, "mm", limit, UNKNOWN))
    for one in front:
        pair = f"{written(case, one.upper)} / {written(case, one.lower)}"
        over = say("overjet, edge to edge ({pair})", pair=pair)
        lines.append(Line(word, over, one.overjet, "mm", limit, state(one.overjet, limit)))
        lines.append(
            Line(word, say("overbite, edge to edge ({pair})", pair=pair), one.overbite, "mm", None, "")
        )
    met = front_pair(found)
    if met is None:
        lines.append(Line(word, say("no front teeth come near each other along closure"), None, "", None, ""))
    else:
        gap = -met.off(target.closing)
        words = say("still open along closure ({pair}); below zero they overlap", pair=pair_words(case, met))
        lines.append(Line(word, words, gap, "mm", None, ""))
    return lines


def _mean(values: Sequence[Carried]) -> Carried:
    return stack(values).linear(np.full((1, len(values)), 1.0 / len(values)))
