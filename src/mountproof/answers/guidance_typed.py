"""What the user typed as set on the instrument: shown as typed, and used where no record told it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Assumption, Table
from mountproof.case.model import Case, Measured, PlaneName
from mountproof.geometry.carry import Carried, exact, measured
from mountproof.said import capital, figure, joined, say

if TYPE_CHECKING:
    from mountproof.answers.guidance import Joint

_DEG: Final = 180.0 / math.pi
#: How well a setting is read off a scale when nobody said (1 SD): degrees, and mm of a shift. Common practice, no source.
_ANGLE_U_DEG, _SHIFT_U_MM = 1.0, 0.1
#: Over how far an inclination was taken when nobody said, mm. Common practice, no source.
_OVER_MM: Final = 5.0
_COMMON: Final = say("common practice, no source")


class TypedJoint(NamedTuple):
    """One joint as typed; angles in rad against the instrument's own horizontal, the shift in mm; None: not typed."""

    side: str
    ahead: Carried | None
    lateral: Carried | None
    shift: Carried | None
    over_mm: float


def joint_words(side: str) -> str:
    """Return the words for a joint of the patient."""
    return say("right joint") if side == "right" else say("left joint")


def any_typed(case: Case) -> bool:
    """Tell whether an inclination was typed: without one nothing can be driven along what is set."""
    return any(j.inclination_deg is not None for j in (case.settings.right, case.settings.left))


def typed_joints(case: Case, tilt: Carried, ledger: Ledger) -> dict[str, TypedJoint]:
    """Return both joints as typed, ``tilt`` (rad) of the stated plane added where the angles are against it.

    What is not known of a typed number (its doubt, its length, its plane) is noted as assumed.
    """
    given = case.settings
    against = given.against
    if any_typed(case) and against is None:
        ledger.assumptions.append(
            Assumption(
                say("plane that the typed inclinations are against"),
                say("the instrument's horizontal"),
                say("read off its own scale"),
                "settings.against",
            )
        )
    by_plane = exact(0.0) if against in (None, PlaneName.INSTRUMENT) else tilt
    out = {}
    for side in ("right", "left"):
        joint = getattr(given, side)
        ahead = _angle(joint.inclination_deg, f"typed/{side}/inclination", ledger)
        over = joint.over_mm
        if ahead is not None and over is None:
            over = ledger.assume(
                say("how far ahead the typed inclination was taken, {joint}", joint=joint_words(side)),
                _OVER_MM,
                "mm",
                _COMMON,
                f"settings.{side}.over_mm",
            )
        shift = joint.shift_mm
        out[side] = TypedJoint(
            side,
            None if ahead is None else ahead + by_plane,
            _angle(joint.lateral_deg, f"typed/{side}/lateral", ledger),
            None
            if shift is None
            else measured(shift.value, _doubt(shift, _SHIFT_U_MM, "mm", ledger), f"typed/{side}/shift"),
            over or _OVER_MM,
        )
    return out


def _doubt(given: Measured, usual: float, unit: str, ledger: Ledger) -> float:
    if given.u is not None:
        return given.u
    what = (
        say("uncertainty of a typed shift") if unit == "mm" else say("uncertainty of a typed angle")
    )  # fmt: skip
    if not any(a.what == what for a in ledger.assumptions):
        ledger.assume(what, usual, unit, _COMMON, "settings")
    return usual


def _angle(given: Measured | None, name: str, ledger: Ledger) -> Carried | None:
    if given is None:
        return None
    u = _doubt(given, _ANGLE_U_DEG, "deg", ledger)
    return measured(given.value / _DEG, u / _DEG, name)


def note_typed(
    typed: Mapping[str, TypedJoint], joints: Sequence[Joint], tilt: Carried, case: Case, ledger: Ledger
) -> None:
    """Note what was typed, as typed: quantities, a table beside what the records told, and where the two part."""
    rows = []
    for joint in joints:
        one = typed[joint.side]
        named = joint_words(joint.side)
        ahead = None if joint.ahead is None else joint.ahead.angle
        at_plane = None if one.ahead is None else one.ahead - tilt
        chord = None if joint.chord is None else joint.chord.angle
        split = joint.split
        immediate = None if split is None else split.immediate
        progressive = None if split is None else split.progressive
        for key, words, own, told, factor, unit in (
            ("inclination", say("horizontal inclination"), at_plane, ahead, _DEG, "deg"),
            ("lateral", say("lateral angle"), one.lateral, progressive or chord, _DEG, "deg"),
            ("shift", say("immediate shift"), one.shift, immediate, 1.0, "mm"),
        ):
            if own is None:
                continue
            ledger.quantity(
                f"typed_{key}_{joint.side}",
                say("{setting}, {joint}, as typed", setting=words, joint=named),
                own,
                unit,
                factor=factor,
                decimals=1,
                note=say("typed, not measured"),
            )
            apart = None if told is None else own - told
            rows.append(
                (
                    named,
                    words,
                    _cell(own, factor, unit),
                    say("no record tells it") if told is None else _cell(told, factor, unit),
                    "-" if apart is None else _signed(apart, factor, unit),
                )
            )
            if apart is not None and abs(apart.value) > 2.0 * apart.u:
                ledger.notes.append(
                    say(
                        "{joint}, {setting}: {own} is set and the records tell {told}; the answers go by the records.",
                        joint=capital(named),
                        own=_plain(own, factor, unit),
                        told=_plain(told, factor, unit),
                        setting=words,
                    )
                )
    if rows:
        ledger.tables.append(
            Table(
                say("What is set on the articulator, as typed, beside what the records tell"),
                (say("joint"), say("setting"), say("typed"), say("by the records"), say("typed less measured")),
                tuple(rows),
                _sources(case),
            )
        )  # fmt: skip


def _sources(case: Case) -> str:
    named = [
        say("{joint}: {source}", joint=joint_words(side), source=getattr(case.settings, side).source)
        for side in ("right", "left")
        if getattr(case.settings, side).source
    ]
    text = say(
        "± 95 %. Where a record told a setting, the answers go by the record; where none did, by what was typed."
    )
    return (
        text
        if not named
        else say("{text} Where they come from: {sources}.", text=text, sources=joined("; ", named))
    )


def _plain(value: Carried | None, factor: float, unit: str) -> str:
    assert value is not None
    number = figure(value.value * factor, ".1f" if unit == "mm" else ".0f")
    return say("{number} mm", number=number) if unit == "mm" else say("{number} degrees", number=number)


def _cell(value: Carried, factor: float, unit: str) -> str:
    form = ".1f"
    half = figure(1.96 * value.u * factor, form)
    number = say("{value} ± {half}", value=figure(value.value * factor, form), half=half)
    return say("{number} mm", number=number) if unit == "mm" else say("{number} degrees", number=number)


def _signed(value: Carried, factor: float, unit: str) -> str:
    half = figure(1.96 * value.u * factor, ".1f")
    return say("{value} ± {half}", value=figure(value.value * factor, "+.1f"), half=half)
