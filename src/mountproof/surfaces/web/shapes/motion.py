"""The movements of the picture in space as they travel: every text in the language asked for."""

from __future__ import annotations

from mountproof.answers.motion_parts import MotionPlace, MotionStep, Movement
from mountproof.geometry.poses import Array
from mountproof.surfaces.web.shapes.basics import need_out
from mountproof.surfaces.web.tongue import Speak, System, speaker
from mountproof.surfaces.web.wire import (
    MotionPlaceOut,
    MotionsOut,
    MotionStepOut,
    MovementOut,
    ToothGapOut,
)
from mountproof.surfaces.web.wire.motion import Matrix, Row

#: A hundredth of a micrometre: more than any picture shows.
_DECIMALS = 5


def motions_out(
    movements: tuple[Movement, ...], revision: int, work: str | None, language: str, numbering: System
) -> MotionsOut:
    """Return the movements of a revision; none, with the name of the ``work`` on them, while they are being made."""
    speak = speaker(language, numbering)
    return MotionsOut(
        revision=revision,
        movements=[_movement(one, language, numbering, speak) for one in movements],
        work=work,
    )


def _movement(of: Movement, language: str, numbering: System, speak: Speak) -> MovementOut:
    question = "contacts" if of.key in ("closing", "slide") else "guidance"
    return MovementOut(
        key=of.key,
        title=speak(of.title),
        about=speak(of.about),
        steps=[_step(step, speak) for step in of.steps],
        needs=[need_out(question, need, language, numbering) for need in of.needs],
        notes=[speak(note) for note in of.notes],
    )


def _step(step: MotionStep, speak: Speak) -> MotionStepOut:
    return MotionStepOut(
        amount_mm=round(step.amount_mm, _DECIMALS) + 0.0,
        label=speak(step.label),
        line=speak(step.line),
        upper_from_lower=_matrix(step.upper_from_lower),
        moved=_matrix(step.moved),
        closed_rad=step.closed_rad,
        places=[_place(place, speak) for place in step.places],
        gaps=[ToothGapOut(tooth=speak(one.tooth), gap=speak(one.gap)) for one in step.gaps],
    )


def _place(place: MotionPlace, speak: Speak) -> MotionPlaceOut:
    return MotionPlaceOut(
        kind=place.kind,
        pair=speak(place.pair),
        gap=speak(place.gap),
        gap_mm=round(place.gap_mm, _DECIMALS) + 0.0,
        point_mm=_point(place.upper_point_mm),
        lower_point_mm=_point(place.lower_point_mm),
    )


def _point(point: Array) -> tuple[float, float, float]:
    x, y, z = (round(float(v), _DECIMALS) + 0.0 for v in point)
    return x, y, z


def _row(row: Array) -> Row:
    a, b, c, d = (float(v) for v in row)
    return a, b, c, d


def _matrix(motion: Array) -> Matrix:
    # in full: rounded entries would be no rigid motion any more
    return _row(motion[0]), _row(motion[1]), _row(motion[2]), _row(motion[3])
