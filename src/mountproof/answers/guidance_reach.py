"""What an instrument can be set to: settings beyond its ends or between its marks, and what that costs at the last molars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from mountproof.answers.guidance_typed import joint_words
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.result import Table, Verdict, Why
from mountproof.bench.pin import Tooth
from mountproof.case.model import Case, Takes
from mountproof.case.takes import Ends, ends_of
from mountproof.geometry.carry import Carried, exact
from mountproof.geometry.guides import OUTWARD, Guide, Side, Straight, sideways
from mountproof.geometry.poses import Array, transform
from mountproof.records.settings import Told, at_a_mark, gap_at, within_range
from mountproof.said import capital, figure, say

if TYPE_CHECKING:
    from mountproof.answers.guidance import Joint

_DEG: Final = 180.0 / math.pi
#: Protrusions at which it is told what a setting costs (mm).
TRAVELS_MM: Final = (3.0, 5.0)
#: A shift that is this little below 0 is told as 0 without a word (mm).
_NOTHING_MM: Final = 5e-3


class Fitted(NamedTuple):
    """One setting of one joint, in its own unit: what the records ask for, and what the instrument takes.

    ``end`` after its ends, ``mark`` after its steps too; ``cost_mm`` (2) what the last molars' path changes by at ``mark`` for
    ``TRAVELS_MM``, ``end_cost_mm`` (2) at ``end``. NaN where it cannot be told. ``u``: standard uncertainty of ``asked``.
    """

    side: str
    kind: str
    asked: float
    end: float
    mark: float
    end_cost_mm: tuple[float, float]
    cost_mm: tuple[float, float]
    u: float = 0.0

    @property
    def clamped(self) -> bool:
        """Whether the instrument ends before what is asked."""
        return self.end != self.asked


def tell_reach(case: Case, joints: Sequence[Joint], ahead: Sequence[Told], ledger: Ledger) -> None:
    """Note what the instrument takes of what the records tell; ``ahead``: of each joint against the instrument's horizontal."""
    takes = Takes() if case.instrument is None else case.instrument.takes
    teeth = tooth_places(case, ledger)
    front, last = front_tooth(teeth), min(teeth, key=lambda t: t.x_mm)
    half = half_width(case, ledger)
    found = [
        one for joint, told in zip(joints, ahead, strict=True) for one in fitted(joint, told.angle, takes, front, last, half)
    ]  # fmt: skip
    shown = [one for one in found if one.clamped or one.mark != one.asked]
    for one in shown:
        if one.clamped:
            _say_clamped(one, last, ledger)
    if not shown:
        return
    rows = [
        (
            joint_words(one.side),
            kind_words(one.kind),
            _number(one.asked, one.kind),
            _number(one.mark, one.kind),
            _why(one),
            *(_cost(mm, one.kind) for mm in one.cost_mm),
        )
        for one in shown
    ]
    ledger.tables.append(
        Table(
            say("What this articulator takes of it"),
            (
                say("joint"),
                say("setting"),
                say("records tell"),
                say("set"),
                say("because"),
                *(say("costs at the {teeth}, {mm:.0f} mm ahead", teeth=last.name, mm=mm) for mm in TRAVELS_MM),
            ),
            tuple(rows),
            say(
                "On the instrument's own scale, from its entered ends and marks. Costs: by how many mm the path of the last "
                "molars differs, in the middle of the arch: of an inclination, plus parts them more on the instrument than in "
                "the mouth and minus less; of a lateral angle or a shift, sideways, the jaw going to the other side."
            ),
        )
    )  # fmt: skip


def kind_words(kind: str) -> str:
    """Return the words for a setting."""
    return {
        "inclination": say("horizontal inclination"),
        "lateral": say("lateral angle"),
        "shift": say("immediate shift"),
    }[kind]


def fitted(
    joint: Joint, ahead: Carried | None, takes: Takes, front: Tooth, last: Tooth, half_mm: float
) -> tuple[Fitted, ...]:
    """Return every told setting of a joint as its instrument takes it; ``ahead`` (rad) on the instrument's own scale."""
    out = []
    slope, shift = (None if joint.chord is None else joint.chord.angle), None
    if joint.split is not None and joint.split.immediate is not None and joint.split.progressive is not None:
        slope, shift = joint.split.progressive, joint.split.immediate
    if ahead is not None:
        end, mark = _placed(ahead.value * _DEG, ends_of(takes.inclination))
        costs = [_apart(ahead.value, to / _DEG, front, last) for to in (end, mark)]
        out.append(
            Fitted(
                joint.side, "inclination", ahead.value * _DEG, end, mark, costs[0], costs[1], ahead.u * _DEG
            )
        )
    down = 0.0 if ahead is None else ahead.value
    was = (0.0 if slope is None else slope.value, 0.0 if shift is None else max(shift.value, 0.0))
    side: Side = "right" if joint.side == "right" else "left"
    if slope is not None:
        end, mark = _placed(slope.value * _DEG, ends_of(takes.lateral))
        costs = [_aside(side, down, was, (to / _DEG, was[1]), last, half_mm) for to in (end, mark)]
        out.append(
            Fitted(joint.side, "lateral", slope.value * _DEG, end, mark, costs[0], costs[1], slope.u * _DEG)
        )
    if shift is not None:
        low, high, step = ends_of(takes.shift)
        # no instrument shifts by less than nothing, and a split of noisy records may
        low = 0.0 if low is None else low
        asked = 0.0 if -_NOTHING_MM < shift.value < 0.0 else shift.value
        end, mark = _placed(asked, Ends(low, high, step))
        costs = [_aside(side, down, (was[0], asked), (was[0], to), last, half_mm) for to in (end, mark)]
        out.append(Fitted(joint.side, "shift", asked, end, mark, costs[0], costs[1], shift.u))
    return tuple(out)


def _placed(value: float, ends: Ends) -> tuple[float, float]:
    """Return a setting at the ends of the instrument, and at its nearest mark."""
    low = -math.inf if ends.lowest is None else ends.lowest
    high = math.inf if ends.highest is None else ends.highest
    end = within_range(value, low, high).value
    if ends.step is None:
        return end, end
    return end, at_a_mark(end, ends.step, ends.lowest, ends.highest)


def _apart(was_rad: float, to_rad: float, front: Tooth, last: Tooth) -> tuple[float, float]:
    if last.x_mm >= front.x_mm:
        return math.nan, math.nan
    near, far = (
        gap_at(mm, exact(was_rad), to_rad - was_rad, last.x_mm, front.x_mm).value for mm in TRAVELS_MM
    )
    return near, far


def _aside(
    side: Side,
    down_rad: float,
    was: tuple[float, float],
    to: tuple[float, float],
    last: Tooth,
    half_mm: float,
) -> tuple[float, float]:
    """How far (mm) the last molars are from where they should be, by two ways inward (rad, shift mm) of the moving condyle."""
    place = np.array([last.x_mm, last.y_mm, 0.0])
    inward = -OUTWARD[side]

    def at(way: tuple[float, float], forward: float) -> Array:
        shift = max(way[1], 0.0)
        guide = Guide(Straight(down_rad), Straight(down_rad), way[0], shift)
        # as far forward, whatever the shift took of the travel; a shift below 0 goes straight outward
        carried: Array = transform(sideways(guide, side, forward + shift, 2.0 * half_mm), place)
        carried[2] += inward * min(way[1], 0.0)
        return carried

    near, far = (float(np.linalg.norm(at(to, mm) - at(was, mm))) for mm in TRAVELS_MM)
    return near, far


def _say_clamped(one: Fitted, last: Tooth, ledger: Ledger) -> None:
    cost = [_cost(mm, one.kind) for mm in one.end_cost_mm]
    text = say(
        "the articulator ends before it: {setting} of the {joint} should be {asked} and can be {end}; that costs "
        "{first} mm at the {teeth} {near:.0f} mm ahead and {second} mm at {far:.0f} mm",
        setting=kind_words(one.kind),
        joint=joint_words(one.side),
        asked=_number(one.asked, one.kind),
        end=_number(one.end, one.kind),
        teeth=last.name,
        first=cost[0],
        second=cost[1],
        near=TRAVELS_MM[0],
        far=TRAVELS_MM[1],
    )
    if abs(one.asked - one.end) <= 2.0 * one.u:
        # what lies beyond the end may be nothing but the doubt of the record
        ledger.notes.append(
            capital(say("{text}; the doubt of the records reaches across the end.", text=text))
        )
        return
    ledger.because(
        Verdict.DOUBTFUL,
        Why.BETWEEN,
        text,
        value=one.asked,
        limit=one.end,
        unit="mm" if one.kind == "shift" else "deg",
    )


def _why(one: Fitted) -> str:
    if one.clamped and one.mark != one.end:
        return say("end of its range, and its marks")
    return say("end of its range") if one.clamped else say("its nearest mark")


def _number(value: float, kind: str) -> str:
    if kind == "shift":
        return say("{mm:.2f} mm", mm=value + 0.0)
    return say("{deg:.1f} degrees", deg=value + 0.0)


def _cost(value: float, kind: str) -> str:
    if not math.isfinite(value):
        return say("not told")
    return figure(value + 0.0, "+.2f" if kind == "inclination" else ".2f")
