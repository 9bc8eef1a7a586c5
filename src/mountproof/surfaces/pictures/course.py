"""One number of a course: every participant under a code, each of their cases, and how far they lie from the middle."""

from __future__ import annotations

from mountproof.answers.many_courses import Course
from mountproof.said import capital, figure, say
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key

_LEFT, _RIGHT, _ROW = 104.0, 60.0, 22.0


def course_plate(course: Course, speak: Speak) -> Plate:
    """Return the picture of one number of a course, nearest to the middle first, and its table."""
    title = say("{course}: {what}, {unit}", course=course.course, what=course.label, unit=course.unit)
    name = f"course-{course.course}-{course.key}"
    plate = Plate(name, speak(capital(title)), speak(course.sentence), _table(course, speak))
    values = [v for one in course.standings for v in one.values]
    low, high = min(values), max(values)
    spare = 0.08 * (high - low) or 0.05
    low, high = low - spare, high + spare
    middle = course.standings[0].mean - course.standings[0].off

    def x(value: float) -> float:
        return _LEFT + (WIDTH - _LEFT - _RIGHT) * (value - low) / (high - low)

    top, y = 16.0, 30.0
    bottom = y + _ROW * (len(course.standings) - 1) + 16.0
    plate.line([(x(middle), top), (x(middle), bottom)], "level")
    for one in course.standings:
        plate.word((0.0, y), f"{one.rank}", look="quiet", size=SMALL)
        plate.word((26.0, y), one.code, size=SMALL)
        plate.line([(_LEFT, y), (WIDTH - _RIGHT, y)], "faint")
        for value in one.values:
            plate.ring((x(value), y), 4.0, "open")
        plate.line([(x(one.mean), y - 8.0), (x(one.mean), y + 8.0)], "thick")
        off = speak(figure(one.off + 0.0, "+.2f"))
        plate.word((WIDTH, y), off, look="quiet", size=SMALL, anchor="end")
        y += _ROW
    plate.line([(_LEFT, bottom), (WIDTH - _RIGHT, bottom)], "soft")
    for value in (low + spare, middle, high - spare):
        if value == middle or abs(x(value) - x(middle)) > 40.0:
            place = (x(value), bottom + 14.0)
            plate.word(place, speak(figure(value, ".2f")), look="quiet", size=SMALL, anchor="middle")

    def dot(plate: Plate, at: XY) -> None:
        plate.ring(at, 4.0, "open")

    def mean(plate: Plate, at: XY) -> None:
        plate.line([(at[0], at[1] - 8.0), (at[0], at[1] + 8.0)], "thick")

    def line(plate: Plate, at: XY) -> None:
        plate.line([(at[0], at[1] - 8.0), (at[0], at[1] + 8.0)], "level")

    entries = [
        (dot, speak(say("one case"))),
        (mean, speak(say("mean of a participant"))),
        (line, speak(say("middle of all; at the right: from it"))),
    ]
    y = key(plate, (0.0, bottom + 38.0), entries)
    plate.height = plate.lines((0.0, y), speak(course.sentence), WIDTH, look="quiet", size=SMALL)
    return plate


def _table(course: Course, speak: Speak) -> Grid:
    heads = (say("rank"), say("participant"), say("mean"), say("from the middle"), say("every case"))
    rows = tuple(
        (
            str(s.rank),
            s.code,
            speak(figure(s.mean, ".2f")),
            speak(figure(s.off, "+.2f")),
            "; ".join(speak(figure(v, ".2f")) for v in s.values),
        )
        for s in course.standings
    )
    return Grid(speak(course.label), tuple(speak(h) for h in heads), rows)
