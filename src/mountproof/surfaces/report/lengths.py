"""Two line drawings of the case's own lengths, for a case without scans: hinge, bar, pin and marks.

Plain points and lines to scale from what was entered; no instrument is pictured.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from mountproof.case.model import Case
from mountproof.said import figure, say
from mountproof.surfaces.report.drawing import SOFT, WHITE, XY, Picture
from mountproof.surfaces.report.text import clean

#: Names longer than this, and drawings with more names, would only cover each other.
_LONGEST_NAME = 12
_MOST_NAMES = 24
#: Entries farther from the hinge than this are not drawn (they are printed with the inputs all the same).
_FARTHEST_MM = 300.0
_MARGIN_MM = 4.0


class _Mark(NamedTuple):
    name: str
    upper: bool
    ahead: float
    above: float
    right: float


def lengths_pictures(case: Case, width: float, height: float) -> tuple[Picture, Picture] | None:
    """Return the side view and the view from below, each ``width`` by ``height`` mm; None without an instrument."""
    if case.instrument is None:
        return None
    pin = case.instrument.pin
    ahead, below = pin.ahead_mm.value, pin.below_mm.value
    if not (0 < abs(ahead) < _FARTHEST_MM and abs(below) < _FARTHEST_MM):
        return None
    marks = _marks(case)
    return _side(marks, ahead, below, width, height), _from_below(case, marks, ahead, width, height)


def _marks(case: Case) -> list[_Mark]:
    if case.marks is None:
        return []
    found = []
    for name, place in case.marks.places.items():
        ahead, above, right = place.ahead_mm, place.above_mm, place.right_mm
        if ahead is None or above is None or max(abs(ahead), abs(above), abs(right or 0.0)) > _FARTHEST_MM:
            continue
        shown = clean(name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1] + "…")
        found.append(_Mark(shown, place.arch == "upper", ahead, above, math.nan if right is None else right))
    return found


def _fit(points: list[XY], width: float, height: float) -> tuple[Callable[[float, float], XY], float]:
    """Return the map from mm of the case to mm on paper (second axis up), and its scale."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    wide, high = max(xs) - min(xs) or 1.0, max(ys) - min(ys) or 1.0
    scale = min((width - 2 * _MARGIN_MM) / wide, (height - 2 * _MARGIN_MM) / high)
    left = (width - scale * wide) / 2.0
    top = (height - scale * high) / 2.0

    def at(x: float, y: float) -> XY:
        return left + scale * (x - min(xs)), top + scale * (max(ys) - y)

    return at, scale


def _side(marks: list[_Mark], ahead: float, below: float, width: float, height: float) -> Picture:
    bar = max([14.0, *(m.above + 14.0 for m in marks)])
    points = [(0.0, bar), (ahead + 4.0, -below), (0.0, -below - 5.0)]
    points += [(m.ahead, m.above) for m in marks]
    at, scale = _fit(points, width, height)
    picture = Picture(
        title=say("From the patient's right, {scale:.2f} of life size", scale=scale),
        alt=say(
            "Line drawing from the entered lengths: hinge, pin {ahead} mm ahead of it with its tip {below} mm below it, "
            "and {n} marks, upper and lower.",
            ahead=figure(ahead),
            below=figure(below),
            n=len(marks),
        ),
        width=width,
        height=height,
    )
    hinge, tip = at(0.0, 0.0), at(ahead, -below)
    picture.stroke([at(0.0, bar), at(ahead + 4.0, bar)], width_pt=2.2)
    picture.stroke([at(0.0, bar), hinge], width_pt=1.0)
    picture.stroke([at(ahead, bar), tip], width_pt=1.6)
    picture.stroke([(tip[0] - 6.0, tip[1]), (min(tip[0] + 6.0, width), tip[1])], width_pt=1.0)
    level = hinge[1]
    _dimension(picture, (hinge[0] + 1.5, level), (tip[0], level), say("{mm} mm", mm=figure(ahead)), share=0.3)
    picture.stroke([hinge, (hinge[0], tip[1])], paint=SOFT, width_pt=0.4, dash="dotted")
    foot = tip[1]
    picture.stroke([(hinge[0], foot), (hinge[0] + 6.0, foot)], paint=SOFT, width_pt=0.4, dash="dotted")
    _dimension(
        picture,
        (hinge[0] + 6.0, level),
        (hinge[0] + 6.0, foot),
        say("{mm} mm", mm=figure(below)),
        upright=True,
    )
    picture.dot(hinge, 1.5, fill=WHITE)
    picture.dot(hinge, 0.35)
    picture.word_near(
        [((hinge[0] + 2.2, hinge[1] - 2.2), "left"), ((hinge[0] + 1.0, hinge[1] + 3.2), "left")], say("hinge")
    )
    beside = tip[0] - 1.4
    picture.word_near(
        [((beside, (at(0.0, bar)[1] + level) / 2.0), "right"), ((beside, foot - 4.0), "right")], say("pin")
    )
    _draw_marks(picture, marks, lambda m: at(m.ahead, m.above))
    return picture


def _from_below(case: Case, marks: list[_Mark], ahead: float, width: float, height: float) -> Picture:
    between = None if case.instrument is None else case.instrument.intercondylar_mm
    half = 55.0 if between is None else between.value / 2.0
    seen = [m for m in marks if not math.isnan(m.right)]
    points = [(-half, -6.0), (half, 0.0), (0.0, ahead + 4.0), *((-m.right, m.ahead) for m in seen)]
    at, _ = _fit(points, width, height)
    apart = say("not measured") if between is None else say("{mm} mm", mm=figure(between.value))
    picture = Picture(
        title=say("From below: patient's right on the left"),
        alt=say(
            "Line drawing from the entered lengths: hinge axis (between the hinge points: {apart}), pin, and {n} marks. "
            "The patient's right is on the left.",
            apart=apart,
            n=len(seen),
        ),
        width=width,
        height=height,
    )
    left, right = at(-half, 0.0), at(half, 0.0)
    picture.stroke([left, right], width_pt=1.0, dash=None if between is not None else "dashed")
    picture.stroke([at(0.0, 0.0), at(0.0, ahead)], paint=SOFT, width_pt=0.4, dash="dotted")
    for end in (left, right):
        picture.dot(end, 1.5, fill=WHITE)
        picture.dot(end, 0.35)
    if between is not None:
        below = left[1] + 3.2
        _dimension(picture, (left[0], below), (right[0], below), apart)
    else:
        picture.word(
            ((left[0] + right[0]) / 2, left[1] + 2.6), say("hinge axis; distance not measured"), size_pt=8.0
        )
    picture.dot(at(0.0, ahead), 1.1, fill=WHITE)
    picture.word_near([((at(0.0, ahead)[0] + 2.0, at(0.0, ahead)[1]), "left")], say("pin"))
    picture.word((1.6, 2.0), "R", weight="bold", size_pt=9.0)
    picture.word((width - 1.6, 2.0), "L", weight="bold", size_pt=9.0)
    _draw_marks(picture, seen, lambda m: at(-m.right, m.ahead))
    return picture


def _draw_marks(picture: Picture, marks: list[_Mark], place: Callable[[_Mark], XY]) -> None:
    groups: dict[tuple[bool, int, int], list[_Mark]] = {}
    for mark in marks:
        x, y = place(mark)
        picture.dot((x, y), 0.85, fill="#16181d" if mark.upper else WHITE)
        groups.setdefault((mark.upper, round(x), round(y)), []).append(mark)
    if len(groups) > _MOST_NAMES:
        return
    for group in groups.values():
        x, y = place(group[0])
        step = -1.0 if group[0].upper else 1.0
        places = [((x, y + step * away), "center") for away in (2.6, 3.4, 5.2)]
        places += [((x + 1.5, y), "left"), ((x - 1.5, y), "right")]
        places += [((x, y - step * 2.6), "center"), ((x, y + step * 7.8), "center")]
        picture.word_near(places, " ".join(mark.name for mark in group))


def _dimension(
    picture: Picture, a: XY, b: XY, text: str, *, upright: bool = False, share: float = 0.5
) -> None:
    """Draw a length between two points, its number at a share of the way."""
    picture.stroke([a, b], paint=SOFT, width_pt=0.5)
    for x, y in (a, b):
        ends = [(x - 0.8, y), (x + 0.8, y)] if upright else [(x, y - 0.8), (x, y + 0.8)]
        picture.stroke(ends, paint=SOFT, width_pt=0.5)
    at = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
    if upright:
        picture.word((at[0] + 1.0, at[1]), text, anchor="left", ground=True)
    else:
        picture.word(at, text, ground=True)
