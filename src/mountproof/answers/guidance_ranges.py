"""Between which settings each joint lies: what the records leave open, and what nobody measured, as a declared assumption."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from mountproof.answers.guidance_paths import Excursion
from mountproof.answers.guidance_typed import TypedJoint, joint_words
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Assumption
from mountproof.case.model import RecordKind
from mountproof.geometry.carry import Carried
from mountproof.records.settings import horizontal, lateral, translation_split
from mountproof.said import say, term

#: The lateral record that moves each joint forward: the jaw goes to the other side.
MOVED_BY: Final = {"right": RecordKind.LEFT, "left": RecordKind.RIGHT}
MEDIAL: Final = {"right": -1, "left": 1}
_DEG: Final = 180.0 / math.pi
#: Where nothing told them: how a joint comes inward (rad), how far at once (mm), how much steeper it goes sideways (rad).
_INWARD: Final = (0.0, math.radians(10.0), math.radians(20.0))
_SHIFT_MM: Final = 1.0
_STEEPER: Final = (0.0, math.radians(5.0), math.radians(10.0))
_COMMON: Final = say("common practice, no source")
#: A guide lies between these (rad).
_FLATTEST, _STEEPEST = math.radians(-20.0), math.radians(80.0)


class Range(NamedTuple):
    """A setting (rad): its middle and its 95 % ends."""

    low: float
    middle: float
    high: float


class JointRange(NamedTuple):
    """One joint: inclinations (rad, against the frame) and ways inward, the middle one first: (angle rad, shift mm) each.

    ``forward_mm``: how far it went in its longest protrusive record; ``sideways_mm``: in the lateral one. None: not told.
    """

    side: str
    ahead: Range | None
    sideways: Range | None
    ways: tuple[tuple[float, float], ...]
    forward_mm: float
    sideways_mm: float


def longest(found: Sequence[Excursion], kind: RecordKind, side: str) -> Excursion | None:
    """The record of a kind in which this joint went farthest: its angle is the least in doubt."""
    of_kind = [e for e in found if e.kind is kind]
    return max(of_kind, key=lambda e: float(e.paths[side].values[0]), default=None)


def joint_range(
    side: str, found: Sequence[Excursion], ledger: Ledger, typed: TypedJoint | None = None
) -> JointRange:
    """Return between which settings a joint lies.

    What no record told is taken as it was ``typed``, and what nobody typed is assumed as a range, and noted.
    """
    protrusive, aside = longest(found, RecordKind.PROTRUSIVE, side), longest(found, MOVED_BY[side], side)
    ahead = None if protrusive is None else _range(horizontal(protrusive.paths[side]).angle)
    forward = 0.0 if protrusive is None else float(protrusive.paths[side].values[0])
    by_hand = ahead is None and typed is not None and typed.ahead is not None
    if by_hand and typed is not None:
        ahead, forward = _range(typed.ahead), typed.over_mm
    sideways = None if aside is None else _range(horizontal(aside.paths[side]).angle)
    if sideways is None and by_hand:
        # one guide of the instrument carries the joint both ways
        sideways = ahead
    if sideways is None and ahead is not None:
        low, middle, high = _STEEPER
        _assume(
            ledger,
            say("how much steeper the {side} joint goes sideways than straight ahead", side=term(side)),
            say("{low:.0f} to {high:.0f} degrees", low=low * _DEG, high=high * _DEG),
        )
        sideways = _held(ahead.low + low, ahead.middle + middle, ahead.high + high)
    paths = [e.paths[side] for e in found if e.kind is MOVED_BY[side]]
    return JointRange(
        side,
        ahead,
        sideways,
        _ways(side, paths, typed, ledger),
        forward,
        0.0 if aside is None else float(aside.paths[side].values[0]),
    )


def _range(angle: Carried | None) -> Range | None:
    if angle is None:
        return None
    return _held(angle.value - 1.96 * angle.u, angle.value, angle.value + 1.96 * angle.u)


def _held(low: float, middle: float, high: float) -> Range:
    return Range(*(min(max(a, _FLATTEST), _STEEPEST) for a in (low, middle, high)))


def _ways(
    side: str, paths: Sequence[Carried], typed: TypedJoint | None, ledger: Ledger
) -> tuple[tuple[float, float], ...]:
    """Return how a joint may come inward: the middle, then the ends."""
    if paths:
        split = translation_split(paths, MEDIAL[side])
        if split.immediate is not None and split.progressive is not None:
            shift, slope = split.immediate, split.progressive
            # a shift that is read too large goes with a slope that is read too small: the ends follow the common line
            return (
                (slope.value, max(shift.value, 0.0)),
                (slope.value - 1.96 * slope.u, max(shift.value + 1.96 * shift.u, 0.0)),
                (slope.value + 1.96 * slope.u, max(shift.value - 1.96 * shift.u, 0.0)),
            )
        path = max(paths, key=lambda p: float(p.values[0]))
        chord = lateral(path, MEDIAL[side]).angle
        if chord is not None:
            forward, medial = float(path.values[0]), MEDIAL[side] * float(path.values[2])
            most = min(max(medial, 0.0), _SHIFT_MM)
            _assume(
                ledger,
                say("immediate shift of the {side} joint, within what its one record shows", side=term(side)),
                say("{low:g} to {high:.1f} mm", low=0.0, high=most),
            )
            return (
                (chord.value, 0.0),
                (chord.value - 1.96 * chord.u, 0.0),
                (chord.value + 1.96 * chord.u, 0.0),
                (math.atan2(medial - most, forward), most),
            )
    if typed is not None and typed.lateral is not None:
        return _as_typed(side, typed.lateral, typed.shift, ledger)
    low, middle, high = _INWARD
    _assume(
        ledger,
        say("how the {side} joint comes inward when the jaw goes to the other side", side=term(side)),
        say(
            "{low:.0f} to {high:.0f} degrees, and at once {none:g} to {shift:g} mm",
            low=low * _DEG,
            high=high * _DEG,
            none=0.0,
            shift=_SHIFT_MM,
        ),
    )
    return ((middle, 0.0), (low, 0.0), (high, 0.0), (middle, _SHIFT_MM))


def _as_typed(
    side: str, slope: Carried, shift: Carried | None, ledger: Ledger
) -> tuple[tuple[float, float], ...]:
    """The ways inward of what is set on the instrument; a shift that nobody typed is none."""
    if shift is None:
        _assume(ledger, say("immediate shift set, {joint}", joint=joint_words(side)), say("none"))
    by, at, off = (
        1.96 * slope.u,
        0.0 if shift is None else shift.value,
        0.0 if shift is None else 1.96 * shift.u,
    )
    ends = itertools.product((slope.value - by, slope.value + by), (max(at - off, 0.0), at + off))
    return ((slope.value, at), *dict.fromkeys(ends))


def _assume(ledger: Ledger, what: str, value: str) -> None:
    ledger.assumptions.append(Assumption(what, value, _COMMON, "records"))
