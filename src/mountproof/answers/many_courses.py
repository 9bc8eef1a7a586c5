"""Courses: participants who mount the same casts, under codes, and the spread between and within them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.case_numbers import CaseNumbers
from mountproof.answers.result import Table
from mountproof.records.visits import one_way
from mountproof.said import figure, say

#: Fewer participants of a course are no comparison.
_FEWEST_OF_COURSE: Final = 3
#: They differ where chance alone would do it less often than this.
_SEEN: Final = 0.05


class Standing(NamedTuple):
    """One participant under a code, their cases, the mean, and how far it lies from the middle of all, rank 1 nearest.

    ``values``: what each case gave, in the order of their codes.
    """

    code: str
    cases: int
    mean: float
    off: float
    rank: int
    values: tuple[float, ...]


class Course(NamedTuple):
    """One number of one course: the participants, and the spread between and within them (SD, with its interval)."""

    course: str
    key: str
    label: str
    unit: str
    standings: tuple[Standing, ...]
    between: tuple[float, float, float] | None
    within: tuple[float, float, float] | None
    sentence: str


def participant(course: str, by: str) -> str:
    """Return the code a participant stands under: the same for the same initials, and it does not show them.

    Who knows the initials can find the code: it keeps a list on a wall from naming people, and is no secret.
    """
    return "P-" + hashlib.sha256(f"{course}\n{by}".encode()).hexdigest()[:4].upper()


def courses_of(rows: Sequence[CaseNumbers], watched: Sequence[tuple[str, str, str]]) -> tuple[Course, ...]:
    """Return each course and each number of it that three or more have: the pin found, and ``watched`` (key, words, unit)."""
    out = []
    for course in sorted({r.course for r in rows}):
        own = [r for r in rows if r.course == course]
        for key, label, unit in (
            ("found", say("pin opening found, record out"), "mm"),
            *watched,
        ):
            one = _course(course, own, key, label, unit)
            if one is not None:
                out.append(one)
    return tuple(out)


def _course(course: str, rows: Sequence[CaseNumbers], key: str, label: str, unit: str) -> Course | None:
    people: dict[str, list[float]] = {}
    for r in sorted(rows, key=lambda r: (r.by, r.code)):
        value = r.value(key)
        if value is not None:
            people.setdefault(participant(course, r.by or r.code), []).append(value)
    if len(people) < _FEWEST_OF_COURSE:
        return None
    means = {who: math.fsum(v) / len(v) for who, v in people.items()}
    middle = float(np.median(list(means.values())))
    order = sorted(means, key=lambda who: (abs(means[who] - middle), who))
    off = {who: means[who] - middle for who in means}
    # equal distances share the better rank
    ranks = {who: 1 + sum(abs(off[o]) < abs(off[who]) - 1e-12 for o in off) for who in off}
    standings = tuple(
        Standing(who, len(people[who]), means[who], off[who], ranks[who], tuple(people[who])) for who in order
    )
    groups = list(people.values())
    if any(len(g) > 1 for g in groups):
        split = one_way(groups)
        between = (math.sqrt(max(0.0, split.between)), *split.between_sd)
        within = (math.sqrt(split.within), *split.within_sd)
        differ = split.tail < _SEEN
        sentence = say(
            "{course}, {what}: {count} participants; between them SD {b:.2f} {unit} ({bl:.2f} to {bh:.2f}), within one "
            "{w:.2f} ({wl:.2f} to {wh:.2f}): {judged}.",
            course=course,
            what=label,
            count=len(groups),
            unit=unit,
            b=between[0],
            bl=between[1],
            bh=between[2],
            w=within[0],
            wl=within[1],
            wh=within[2],
            judged=say("they differ")
            if differ
            else say("ranks are chance, no difference between them is seen"),
        )
        return Course(course, key, label, unit, standings, between, within, sentence)
    sentence = say(
        "{course}, {what}: {count} participants, each once: what lies between them cannot be told from how one repeats.",
        course=course,
        what=label,
        count=len(groups),
    )
    return Course(course, key, label, unit, standings, None, None, sentence)


def course_table(course: Course) -> Table:
    """Return the participants of one number of a course by rank."""
    rows = tuple(
        (figure(s.rank, "d"), s.code, figure(s.cases, "d"), figure(s.mean, ".2f"), figure(s.off, "+.2f"))
        for s in course.standings
    )
    title = say("{course}: {what}, {unit}", course=course.course, what=course.label, unit=course.unit)
    columns = (say("rank"), say("participant"), say("cases"), say("mean"), say("from the middle"))
    return Table(title, columns, rows, course.sentence)
