"""The slide from first contact into the rest, at the positions that the answer to the contacts tells."""

from __future__ import annotations

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.motion_parts import MotionStep, motion_place
from mountproof.answers.picture_data import SlidePath
from mountproof.answers.slide_path import TOUCH_MM, Stage
from mountproof.case.model import Case
from mountproof.geometry.poses import closed, inverse, transform
from mountproof.said import capital, joined, say


def slide_steps(case: Case, evidence: ContactEvidence, path: SlidePath) -> tuple[MotionStep, ...]:
    """Return the poses of the way that are told; amounts are the way of the first place since first contact."""
    last = len(path.stages) - 1
    return tuple(_step(case, evidence, path, stage, k == 0, k == last) for k, stage in enumerate(path.stages))


def _step(
    case: Case, evidence: ContactEvidence, path: SlidePath, stage: Stage, first: bool, last: bool
) -> MotionStep:
    moved = stage.moved @ closed(evidence.table.closed_rad)
    points = transform(inverse(moved), stage.places_mm)
    places = tuple(
        motion_place(case, u, w, 0.0, at, low, TOUCH_MM)
        for (u, w), at, low in zip(stage.pairs, stage.places_mm, points, strict=True)
    )
    label = say("{mm:.2f} mm slid", mm=stage.travel_mm)
    if first:
        label = say("first contact")
    elif last:
        label = say("at rest, {slid}", slid=label)
    met = list(dict.fromkeys(p.pair for p in places))
    what = say("meets at {pair}", pair=joined(", ", met)) if met else say("nothing meets")
    pose = moved @ evidence.upper_from_lower
    line = capital(say("{where}: {what}.", where=label, what=what))
    return MotionStep(stage.travel_mm, label, line, pose, moved, None, places, ())
