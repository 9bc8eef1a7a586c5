"""Places at which the parts of question 4 tell motions, and what is too doubtful to be told."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth
from mountproof.answers.poses import half_width
from mountproof.bench.pin import Tooth
from mountproof.bench.reach import Point
from mountproof.case.model import Case
from mountproof.said import say

#: A result at a place is refused when its standard uncertainty is beyond this: it would not tell a slide from none.
USABLE_MM = 0.25


def points_of(case: Case, teeth: Sequence[Tooth], ledger: Ledger) -> tuple[Point, ...]:
    """Return the points at which motions are told: front teeth, the last molars right and left, both condyles."""
    half = half_width(case, ledger)
    front = front_tooth(teeth)
    last = min(teeth, key=lambda t: t.x_mm)
    return (
        Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        Point(say("{teeth} right", teeth=last.name), (last.x_mm, last.y_mm, 28.0)),
        Point(say("{teeth} left", teeth=last.name), (last.x_mm, last.y_mm, -28.0)),
        Point(say("condyle right"), (0.0, 0.0, half)),
        Point(say("condyle left"), (0.0, 0.0, -half)),
    )
