"""The settings card: what to set on each joint, with its amount, its plane and its doubt, as the pictures draw it."""

from __future__ import annotations

import math
from typing import Final

from mountproof.answers.excursion_data import JointCard, Setting
from mountproof.answers.guidance_typed import TypedJoint
from mountproof.geometry.carry import Carried
from mountproof.geometry.quantile import coverage_factor
from mountproof.records.settings import Split, Told
from mountproof.said import say

_DEG: Final = 180.0 / math.pi
_COVERAGE: Final = coverage_factor(0.95)


def joint_card(
    side: str,
    ahead: Told | None,
    sideways: Told | None,
    chord: Told | None,
    split: Split | None,
    typed: TypedJoint | None = None,
    tilt: Carried | None = None,
) -> JointCard:
    """Return the card of one joint (``right``, ``left``) from what its records told, and where they did not, what was typed.

    ``tilt`` (rad) of the stated plane, against which the card is.
    """
    parted = split is not None and split.immediate is not None and split.progressive is not None
    settings = [
        _angle(say("horizontal inclination"), ahead, say("a protrusive record sets it")),
        _angle(
            say("inclination, jaw to the other side"),
            sideways,
            say("a lateral record to the other side sets it"),
        ),
    ]
    if parted and split is not None:
        settings += [
            _line(say("immediate translation"), split.immediate, 1.0, "mm"),
            _line(say("progressive angle"), split.progressive, _DEG, "deg"),
        ]
    else:
        why = split.why if split is not None else say("lateral records at two amounts set it")
        settings.append(_angle(say("lateral angle, as one line"), chord, why))
        settings.append(_untold(say("immediate translation"), "mm", why))
    if typed is None:
        return JointCard(side, tuple(settings))
    against = typed.ahead if typed.ahead is None or tilt is None else typed.ahead - tilt
    own = (against, None, typed.lateral, typed.shift)
    if len(settings) == len(own):
        settings = [_or_typed(one, number, typed) for one, number in zip(settings, own, strict=True)]
    return JointCard(side, tuple(settings))


def _or_typed(setting: Setting, own: Carried | None, typed: TypedJoint) -> Setting:
    if setting.told or own is None:
        return setting
    factor = 1.0 if setting.unit == "mm" else _DEG
    along = typed.over_mm if own is not typed.lateral and setting.unit == "deg" else math.nan
    return _line(setting.words, own, factor, setting.unit, along)._replace(typed=True)


def _angle(words: str, told: Told | None, why: str) -> Setting:
    if told is None:
        return _untold(words, "deg", why)
    if told.angle is None:
        return _untold(words, "deg", told.why)
    return _line(words, told.angle, _DEG, "deg", told.along_mm)


def _line(words: str, found: Carried | None, factor: float, unit: str, along_mm: float = math.nan) -> Setting:
    assert found is not None
    value, half = factor * found.value, _COVERAGE * factor * found.u
    return Setting(words, value, value - half, value + half, unit, along_mm, True, "")


def _untold(words: str, unit: str, why: str) -> Setting:
    return Setting(words, math.nan, math.nan, math.nan, unit, math.nan, False, why)
