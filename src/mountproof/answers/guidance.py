"""Question 6: what to set on the condyles and the incisal table, joint by joint."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from mountproof.answers.excursion_data import GuidanceEvidence
from mountproof.answers.guidance_card import joint_card
from mountproof.answers.guidance_excursions import tell_excursions, tell_gap_behind
from mountproof.answers.guidance_paths import SIDES, Excursion, excursions
from mountproof.answers.guidance_ranges import MEDIAL, MOVED_BY, longest
from mountproof.answers.guidance_reach import tell_reach
from mountproof.answers.guidance_table import tell_by_table
from mountproof.answers.guidance_typed import TypedJoint, any_typed, joint_words, note_typed, typed_joints
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.progress import Progress, within
from mountproof.answers.result import Answer, Reason, Table, Verdict, Why
from mountproof.case.model import Case, Condyles, RecordKind
from mountproof.geometry.carry import Carried, exact, measured
from mountproof.records.settings import (
    Split,
    Told,
    between_paths,
    gap_at,
    horizontal,
    lateral,
    nonarcon_setting,
    translation_split,
)
from mountproof.said import capital, figure, joined, say, term

_DEG: Final = 180.0 / math.pi
#: A protrusive record shorter than this tells too little (mm); common practice, no source.
_SHORT_MM: Final = 3.0
#: Joints that differ by more than this ask for a second look at the record (degrees); common practice, no source.
_APART_DEG: Final = 15.0
#: For what an angle means at a molar: so many degrees steeper, over so much protrusion.
_STEEPER_DEG, _TRAVEL_MM = 5.0, 4.0


class Joint(NamedTuple):
    """What the records say of one joint: straight ahead, sideways (two angles), shift and slope, and the amounts."""

    side: str
    ahead: Told | None
    sideways: Told | None
    chord: Told | None
    split: Split | None
    turned_rad: float


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from the paths of the condyles in protrusive and lateral records; refuse what they do not carry.

    Two scans are then driven along these settings, over the whole range that the records leave open.
    """
    ledger = Ledger("guidance")
    found = excursions(case, ledger, within(progress, 0.0, 0.3))
    _needs(case, found, ledger)
    if not found and not any_typed(case):
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, say("no protrusive or lateral record was measured"))
        return ledger.answer(say("Nothing to set yet: it takes a protrusive record, measured or scanned."))
    tilt = _tilt(case, ledger)
    typed = typed_joints(case, tilt, ledger)
    joints = tuple(_joint(side, found, tilt) for side in SIDES)
    for joint in joints:
        _note(joint, ledger)
    _judge(case, joints, ledger)
    if found:
        _table(joints, ledger)
    note_typed(typed, joints, tilt, case, ledger)
    _at_molar(case, joints, ledger)
    _kind(case, joints, ledger)
    ahead = [_ahead_in_frame(side, found) for side in SIDES]
    tell_reach(case, joints, ahead, ledger)
    set_ahead = [
        t if t.angle is not None else Told(typed[side].ahead, typed[side].over_mm)
        for side, t in zip(SIDES, ahead, strict=True)
    ]
    tell_gap_behind(case, set_ahead, ledger)
    tell_by_table(case, set_ahead, ledger)
    driven = tell_excursions(case, found, typed, ledger, within(progress, 0.3, 0.7))
    evidence = GuidanceEvidence(
        _plane(case),
        case.instrument.name if case.instrument is not None else "",
        tuple(joint_card(j.side, j.ahead, j.sideways, j.chord, j.split, typed[j.side], tilt) for j in joints),
        driven.travels,
    )
    headline = joined(". ", (_headline(case, joints, typed, tilt), *(capital(text) for text in driven.says)))
    return ledger.answer(headline, evidence=evidence)


def _ahead_in_frame(side: str, found: Sequence[Excursion]) -> Told:
    """The inclination straight ahead against the articulator's own horizontal, which no stated plane changes."""
    protrusive = longest(found, RecordKind.PROTRUSIVE, side)
    return Told(None, 0.0) if protrusive is None else horizontal(protrusive.paths[side])


def _plane(case: Case) -> str:
    return term(case.plane.name.value) if case.plane is not None else say("the instrument's horizontal")


def _tilt(case: Case, ledger: Ledger) -> Carried:
    """Return how far the front of the stated plane lies lower than the instrument's horizontal (rad)."""
    if case.plane is None:
        ledger.assume(
            say("tilt of the reference plane against the instrument's horizontal"),
            0.0,
            say("degrees"),
            say("no plane was stated: the angles are against the instrument's own horizontal"),
            "plane",
        )
        return exact(0.0)
    if case.plane.tilt_deg is None:
        ledger.assume(
            say("tilt of the reference plane against the instrument's horizontal"),
            0.0,
            say("degrees"),
            say("the plane is taken for the instrument's horizontal"),
            "plane.tilt_deg",
        )
        return exact(0.0)
    given = case.plane.tilt_deg
    return measured(given.value / _DEG, (given.u or 0.0) / _DEG, "length/plane.tilt")


def _joint(side: str, found: Sequence[Excursion], tilt: Carried) -> Joint:
    protrusive = longest(found, RecordKind.PROTRUSIVE, side)
    moved_by = MOVED_BY[side]
    sideways = longest(found, moved_by, side)
    amounts = [e.paths[side] for e in found if e.kind is moved_by]
    return Joint(
        side,
        None if protrusive is None else horizontal(protrusive.paths[side], tilt),
        None if sideways is None else horizontal(sideways.paths[side], tilt),
        None if sideways is None else lateral(sideways.paths[side], MEDIAL[side]),
        translation_split(amounts, MEDIAL[side]) if amounts else None,
        0.0 if protrusive is None else protrusive.opening_rad,
    )


def _note(joint: Joint, ledger: Ledger) -> None:
    """Note what is told of one joint as quantities, and why the rest is not."""
    side = term(joint.side)
    for key, label, told in (
        ("horizontal", say("horizontal inclination of the {side} joint, straight ahead", side=side), joint.ahead),
        ("sideways", say("inclination of the {side} joint when the jaw goes to the other side", side=side), joint.sideways),
        ("lateral", say("lateral inclination of the {side} joint, as one line", side=side), joint.chord),
    ):  # fmt: skip
        if told is None:
            continue
        if told.angle is None:
            ledger.reasons.append(
                Reason(Why.NOT_CARRIED, say("{label}: not told; {why}", label=label, why=told.why))
            )
            continue
        ledger.quantity(
            f"{key}_{joint.side}", label, told.angle, "deg", factor=_DEG, decimals=1,
            note=say("over {mm:.1f} mm", mm=told.along_mm),
        )  # fmt: skip
    more = None
    if joint.ahead is not None and joint.sideways is not None:
        more = between_paths(joint.ahead, joint.sideways)
    if more is not None:
        label = say("how much steeper the {side} joint goes sideways than straight ahead", side=side)
        ledger.quantity(f"steeper_{joint.side}", label, more, "deg", factor=_DEG, decimals=1)
    if joint.split is None:
        return
    if joint.split.immediate is None or joint.split.progressive is None:
        ledger.reasons.append(
            Reason(
                Why.NOT_CARRIED,
                say(
                    "immediate and progressive translation of the {side} joint are not told apart: {why}",
                    side=side,
                    why=joint.split.why,
                ),
            )
        )
        return
    ledger.quantity(
        f"immediate_{joint.side}",
        say("immediate lateral translation, {side} joint", side=side),
        joint.split.immediate,
        "mm",
    )
    ledger.quantity(
        f"progressive_{joint.side}",
        say("progressive lateral translation, {side} joint", side=side),
        joint.split.progressive,
        "deg",
        factor=_DEG,
        decimals=1,
    )


def _judge(case: Case, joints: Sequence[Joint], ledger: Ledger) -> None:
    """Judge how well the inclination is known, how long its path is, and whether the joints differ oddly."""
    limit = case.limits.inclination
    told = [(j, j.ahead) for j in joints if j.ahead is not None and j.ahead.angle is not None]
    for joint, ahead in told:
        assert ahead.angle is not None
        twice = 1.96 * ahead.angle.u * _DEG
        side = term(joint.side)
        if ahead.along_mm < _SHORT_MM:
            ledger.because(
                Verdict.CANNOT_TELL,
                Why.GUARD_BAND,
                say(
                    "the {side} joint went {mm:.1f} mm: less than {least:.0f} mm tells too little of its path",
                    side=side,
                    mm=ahead.along_mm,
                    least=_SHORT_MM,
                ),
            )
            continue
        verdict, why = Verdict.AGREES, Why.INSIDE
        if twice > limit.decent:
            verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
        if twice > limit.redo:
            verdict, why = Verdict.CANNOT_TELL, Why.GUARD_BAND
        ledger.because(
            verdict,
            why,
            say(
                "inclination of the {side} joint known to ± {twice:.1f} degrees (agrees up to {decent:g}, too "
                "little to set by above {redo:g})",
                side=side,
                twice=twice,
                decent=limit.decent,
                redo=limit.redo,
            ),
            value=twice,
            limit=limit.decent,
            unit="deg",
        )
    if len(told) == 2:
        first, last = (a.angle for _, a in told)
        assert first is not None and last is not None
        apart = first - last
        if abs(apart.value) * _DEG - 2.0 * apart.u * _DEG > _APART_DEG:
            ledger.because(
                Verdict.DOUBTFUL,
                Why.BETWEEN,
                say(
                    "the joints differ by {deg:.0f} degrees; beyond {limit:.0f} look at the record again",
                    deg=abs(apart.value) * _DEG,
                    limit=_APART_DEG,
                ),
            )
    if not told and any_typed(case):
        text = say("the inclination is as it was typed: no record was measured to hold it against")
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, text)
    elif not told:
        ledger.because(Verdict.CANNOT_TELL, Why.NOT_CARRIED, say("no inclination can be told"))


def _cell(told: Told | None) -> str:
    if told is None:
        return say("no record")
    if told.angle is None:
        return say("not told")
    return say(
        "{deg:.0f} ± {twice:.0f} over {mm:.1f} mm",
        deg=told.angle.value * _DEG,
        twice=1.96 * told.angle.u * _DEG,
        mm=told.along_mm,
    )


def _table(joints: Sequence[Joint], ledger: Ledger) -> None:
    rows = []
    for j in joints:
        split = say("no record")
        if j.split is not None:
            split = say("not told")
            if j.split.immediate is not None and j.split.progressive is not None:
                split = say(
                    "{mm:.1f} mm, then {deg:.0f} degrees",
                    mm=j.split.immediate.value,
                    deg=j.split.progressive.value * _DEG,
                )
        rows.append((term(j.side), _cell(j.ahead), _cell(j.sideways), _cell(j.chord), split))
    ledger.tables.append(
        Table(
            say("What to set, joint by joint (degrees, ± 95 %)"),
            (
                say("joint"),
                say("straight ahead"),
                say("jaw to the other side"),
                say("lateral, as one line"),
                say("immediate, then progressive"),
            ),
            tuple(rows),
            say(
                "A record of one length gives one line from start to end: a longer protrusion gives a flatter one. The jaw "
                "going left sets the right joint, going right the left one; the joint it goes to hardly moves, and "
                "its direction means nothing."
            ),
        )
    )


def _at_molar(case: Case, joints: Sequence[Joint], ledger: Ledger) -> None:
    """Say what degrees come to at the second molar."""
    known = next((j.ahead.angle for j in joints if j.ahead is not None and j.ahead.angle is not None), None)
    if known is None:
        return
    teeth = tooth_places(case, ledger)
    front, last = front_tooth(teeth), min(teeth, key=lambda t: t.x_mm)
    more = gap_at(_TRAVEL_MM, known, _STEEPER_DEG / _DEG, last.x_mm, front.x_mm)
    ledger.notes.append(
        say(
            "{deg:.0f} degrees steeper would part the {teeth} by {mm:.2f} mm more over {travel:.0f} mm of protrusion, the front "
            "teeth guiding as before.",
            deg=_STEEPER_DEG,
            teeth=last.name,
            mm=more.value,
            travel=_TRAVEL_MM,
        )
    )


def _kind(case: Case, joints: Sequence[Joint], ledger: Ledger) -> None:
    """Say how arcon and nonarcon instruments take the same path."""
    condyles = case.instrument.condyles if case.instrument is not None else None
    if condyles is Condyles.ARCON:
        return
    told = [(j, j.ahead.angle) for j in joints if j.ahead is not None and j.ahead.angle is not None]
    if condyles is None:
        ledger.need(
            say("whether the articulator is arcon or nonarcon"),
            say("on a nonarcon the angle changes with every opening of the pin"),
            "instrument.condyles",
        )
        return
    for joint, angle in told:
        with_record = nonarcon_setting(angle, exact(joint.turned_rad))
        ledger.notes.append(
            say(
                "Nonarcon: with the protrusive record in, the {side} joint reads {there:.0f} degrees; the path itself, and the "
                "setting with the teeth together, is {here:.0f}.",
                side=term(joint.side),
                there=with_record.value * _DEG,
                here=angle.value * _DEG,
            )
        )


def _needs(case: Case, found: Sequence[Excursion], ledger: Ledger) -> None:
    kinds = [e.kind for e in found]
    if RecordKind.PROTRUSIVE not in kinds:
        ledger.need(
            say("a protrusive record at 5 to 6 mm"),
            say("a shorter one reads too steep and too noisy"),
            "records",
        )
    for kind, joint in ((RecordKind.LEFT, "right"), (RecordKind.RIGHT, "left")):
        if kinds.count(kind) >= 2:
            continue
        ledger.need(
            say("{kind} records at two amounts", kind=term(kind.value)),
            say("they set the {joint} joint; one amount cannot split shift and slope", joint=term(joint)),
            "records",
        )


def _headline(case: Case, joints: Sequence[Joint], typed: Mapping[str, TypedJoint], tilt: Carried) -> str:
    plane = _plane(case)
    parts = [
        say(
            "{side} {deg:.0f} ± {twice:.0f}",
            side=term(j.side),
            deg=j.ahead.angle.value * _DEG,
            twice=1.96 * j.ahead.angle.u * _DEG,
        )
        for j in joints
        if j.ahead is not None and j.ahead.angle is not None
    ]
    if not parts:
        return _typed_headline(plane, typed, tilt)
    first = say("horizontal inclination {joints} degrees", joints=joined(say(" and "), parts))
    lengths = joined(
        say(" and "),
        (
            figure(j.ahead.along_mm, ".1f")
            for j in joints
            if j.ahead is not None and j.ahead.angle is not None
        ),
    )
    says = say("{what} against {plane}, over {lengths} mm", what=first, plane=plane, lengths=lengths)
    untold = [j for j in joints if j.chord is not None and j.chord.angle is None]
    if untold:
        says = say("{before}; the lateral angle is not told", before=says)
    return capital(says)


def _typed_headline(plane: str, typed: Mapping[str, TypedJoint], tilt: Carried) -> str:
    told = [
        say("{joint} {deg:.0f}", joint=joint_words(side), deg=(own.ahead - tilt).value * _DEG)
        for side, own in typed.items()
        if own.ahead is not None
    ]
    if not told:
        return say("The records do not tell an inclination")
    return say(
        "No record tells an inclination; set, as typed: {joints} degrees against {plane}",
        joints=joined(say(" and "), told),
        plane=plane,
    )
