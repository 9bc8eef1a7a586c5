"""What the movements of the picture in space are made of: positions that were worked out, each with what meets there."""

from __future__ import annotations

from typing import Literal, NamedTuple

from mountproof.answers.foils import written
from mountproof.answers.result import Need
from mountproof.answers.scene_words import gap_words
from mountproof.case.model import Case
from mountproof.geometry.poses import Array
from mountproof.said import joined, say

MovementKey = Literal["closing", "slide", "ahead", "right", "left"]


class MotionPlace(NamedTuple):
    """A pair of teeth at one position: ``meets``, or ``near`` with what is left.

    ``upper`` and ``lower``: ISO 3950, 0 beside the teeth; ``pair`` and ``gap`` as read; ``gap_mm`` along closing. Places (3,):
    ``upper_point_mm`` in the frame, ``lower_point_mm`` on the lower as the record holds it.
    """

    kind: Literal["meets", "near"]
    upper: int
    lower: int
    pair: str
    gap_mm: float
    gap: str
    upper_point_mm: Array
    lower_point_mm: Array


class ToothGap(NamedTuple):
    """The least gap of one tooth, as read."""

    tooth: str
    gap: str


class MotionStep(NamedTuple):
    """One position that was worked out.

    ``amount_mm`` as the movement counts it; ``label``: the amount in words; ``line``: what is seen. ``upper_from_lower`` (4, 4);
    ``moved`` (4, 4): the same against where the record holds the lower; ``closed_rad``: where that is nothing but closing about
    the hinge. ``places``: what meets, then what is nearest; ``gaps``: tooth by tooth, where the answers have them.
    """

    amount_mm: float
    label: str
    line: str
    upper_from_lower: Array
    moved: Array
    closed_rad: float | None
    places: tuple[MotionPlace, ...]
    gaps: tuple[ToothGap, ...]


class Movement(NamedTuple):
    """One movement of the lower: its positions in their order; none where it cannot be worked out.

    ``about``: what the amounts count; ``needs``: what is missing for it, or for more of it; ``notes``: what else is to be known.
    """

    key: MovementKey
    title: str
    about: str
    steps: tuple[MotionStep, ...]
    needs: tuple[Need, ...]
    notes: tuple[str, ...]


def pair_words(case: Case, upper: int, lower: int) -> str:
    """Return a pair of teeth as the case writes it, the upper first."""
    return joined(" / ", (written(case, tooth) if tooth else say("no tooth") for tooth in (upper, lower)))


def motion_place(
    case: Case,
    upper: int,
    lower: int,
    gap_mm: float,
    upper_point_mm: Array,
    lower_point_mm: Array,
    within_mm: float,
) -> MotionPlace:
    """Return what stands at one place; a gap up to ``within_mm`` counts as a meeting.

    ``upper_point_mm`` (3,) in the frame; ``lower_point_mm`` (3,) on the lower as the record holds it.
    """
    meets = gap_mm <= within_mm
    words = say("touching") if meets else gap_words(gap_mm)
    pair = pair_words(case, upper, lower)
    return MotionPlace(
        "meets" if meets else "near", upper, lower, pair, gap_mm, words, upper_point_mm, lower_point_mm
    )


def gap_rows(case: Case, teeth: tuple[int, ...], gaps: tuple[str, ...]) -> tuple[ToothGap, ...]:
    """Return the gaps tooth by tooth."""
    return tuple(ToothGap(written(case, t), g) for t, g in zip(teeth, gaps, strict=True))
