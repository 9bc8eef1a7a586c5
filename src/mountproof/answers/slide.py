"""Part of question 5: the slide from first contact in CR into MIP, what the lower rests on there, and what happens on the way."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import pin_input
from mountproof.answers.foils import written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import SlidePath
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress
from mountproof.answers.result import Reason, Table, Verdict, Why
from mountproof.answers.scanned_contacts import Closed, left_open
from mountproof.answers.scanned_records import ScannedRelation, scanned_relations
from mountproof.answers.slide_path import Stage, stages
from mountproof.answers.slide_places import SlidePlace, slide_places, tip_of
from mountproof.answers.slide_rest import ONE_REST_MM, Rested, rested, shift_of, start_motion
from mountproof.bench.pin import Pin
from mountproof.bench.reach import AXES
from mountproof.case.model import Arch, Caliper, Case, RecordKind
from mountproof.geometry.carry import Carried, from_covariance, measured
from mountproof.geometry.poses import Array, inverse, transform
from mountproof.geometry.poses import closed as closed_by
from mountproof.geometry.settling import MOST_MM, USUAL_PUSH, Push
from mountproof.said import figure, joined, say, term

#: Coefficient of friction of stone on stone, where nobody measured it.
_FRICTION = 0.2
_SCAN_U_MM = 0.02
_NO_SOURCE = say("common practice, no source")
#: A share of the push below this is not worth a line.
_LEAST_SHARE = 0.005


class Slide(NamedTuple):
    """What question 5 adds about the slide: its page, a sentence for the headline, and the way for the picture."""

    page: Ledger
    sentence: str
    path: SlidePath | None


def slide(case: Case, closed: Closed, progress: Progress) -> Slide | None:
    """Settle the lower from first contact and tell the slide; None where the scans do not meet, or no teeth do."""
    first = closed.first
    if first is None or closed.evidence is None or not closed.evidence.table.pairs:
        return None
    page = Ledger("contacts")
    start: Array = closed_by(first.closing_rad) @ closed.pose
    places = slide_places(closed.arches[Arch.LOWER], start, half_width(case, page))
    push = _push(case, closed, start, page)
    noise_mm = page.assume(
        say("noise of a scanned surface"),
        _SCAN_U_MM,
        "mm",
        say("20 to 42 um in good conditions, J Oral Sci 2024;66:111-115"),
        "scans",
    )
    rest = rested(closed, start, push, places, noise_mm, progress)
    if rest is None:
        return None
    noise = measured(0.0, math.sqrt(2.0) * noise_mm, "assumed/scan/first_contact")
    at_start = start_motion(first, left_open(case, Ledger("contacts"), closed, first), noise)
    mip = next(iter(scanned_relations(case, page, progress, RecordKind.MIP)), None)
    settled_there = rest.settled.upper_from_lower @ inverse(start)
    shifts = [shift_of(place, settled_there, at_start, rest.motion) for place in places]
    _judge(rest, mip, page)
    by_scan = None if mip is None else _to_mip(mip, start, at_start, places)
    told = shifts if by_scan is None else by_scan
    if by_scan is not None or rest.settled.settled:  # what was on its way somewhere tells nothing
        _tell(places, told, by_scan is not None, page)
    if not rest.settled.settled:
        return Slide(page, _sentence(places[0], told[0], by_scan is not None, rest), None)
    if by_scan is not None and mip is not None:
        _compare(mip, rest, start, places, shifts, page)
    _supports(case, rest, page)
    friction = case.push.friction
    if friction is None:
        what = say("friction between the casts (coefficient)")
        friction = page.assume(what, _FRICTION, "", _NO_SOURCE, "push.friction")
    pin = None if case.instrument is None else pin_input(case.instrument, Caliper(), Ledger("contacts")).pin
    # a pin attached to the upper member, on a table of the lower one: zero at first contact
    way = stages(closed.evidence, rest, start, places[0].first_mm, pin, friction)
    _way(case, way, places[0], friction, pin, page)
    path = _path(rest, start, places, mip, way)
    return Slide(page, _sentence(places[0], told[0], by_scan is not None, rest), path)


def _push(case: Case, closed: Closed, start: Array, page: Ledger) -> Push:
    """Return where and how the lower is pushed at first contact, as entered; what was not is assumed."""
    low, given = closed.arches[Arch.LOWER], case.push
    tips = [at for tooth in (46, 36) if (at := tip_of(low, (tooth,))) is not None]
    usual = transform(start, np.mean(tips, axis=0)) if len(tips) == 2 else np.array(USUAL_PUSH.point_mm)
    between = say("between the first molars; common practice, no source")
    point = [
        value if value is not None else page.assume(what, round(float(at), 1), "mm", between, entry)
        for value, what, at, entry in (
            (
                given.ahead_mm,
                say("where the closing push takes hold: ahead of the hinge"),
                usual[0],
                "push.ahead_mm",
            ),
            (
                given.above_mm,
                say("where the closing push takes hold: above the hinge"),
                usual[1],
                "push.above_mm",
            ),
            (given.right_mm, say("where the closing push takes hold: to the right"), 0.0, "push.right_mm"),
        )
    ]
    lean = [
        value
        if value is not None
        else page.assume(what, 0.0, "deg", say("straight up; common practice, no source"), entry)
        for value, what, entry in (
            (given.forward_deg, say("how far the closing push leans forward"), "push.forward_deg"),
            (given.right_deg, say("how far the closing push leans to the right"), "push.right_deg"),
        )
    ]
    way = np.array([math.tan(math.radians(lean[0])), 1.0, math.tan(math.radians(lean[1]))])
    way /= np.linalg.norm(way)
    return Push((point[0], point[1], point[2]), (float(way[0]), float(way[1]), float(way[2])))


def _judge(rest: Rested, mip: ScannedRelation | None, page: Ledger) -> None:
    end = rest.settled
    if not end.settled:
        text = say(
            "pushed together, the casts slide past each other and come to rest nowhere within {steps} steps and {mm:g} mm",
            steps=end.steps,
            mm=MOST_MM,
        )
        page.because(Verdict.CANNOT_TELL, Why.NOT_SETTLED, text)
        if mip is None:
            page.need(say("the scanned relation in MIP"), text, "records")
        return
    if rest.starts > 1 and rest.apart_mm > ONE_REST_MM:
        text = say(
            "two rests: from starts beside the record the lower ends up to {mm:.2f} mm elsewhere (more than {limit:g} mm)",
            mm=rest.apart_mm,
            limit=ONE_REST_MM,
        )
        # where the teeth meet first stays as sure as it was: no verdict follows from it
        page.reasons.append(
            Reason(Why.GUARD_BAND, text, value=rest.apart_mm, limit=ONE_REST_MM, unit=term("mm"))
        )
        if mip is None:
            reading = say("the scanned relation in MIP")
            page.need(reading, say("pushed together, the casts find more than one rest"), "records")
    elif rest.starts > 1:
        page.notes.append(
            say(
                "One rest: from {count} starts, up to 0.4 mm apart, the lower ends within {mm:.3f} mm of one place.",
                count=rest.starts,
                mm=rest.apart_mm,
            )
        )
    if end.held < 6:
        page.notes.append(
            say("The contacts at rest hold {held} of the 6 directions of motion; the others are held by nothing but friction.",
                held=end.held)
        )  # fmt: skip


def _to_mip(
    mip: ScannedRelation, start: Array, at_start: Carried, places: tuple[SlidePlace, ...]
) -> list[Carried]:
    own = from_covariance(np.zeros(6), mip.cov6, "mip")
    return [shift_of(p, mip.upper_from_lower @ inverse(start), at_start, own) for p in places]


def _tell(places: tuple[SlidePlace, ...], shifts: list[Carried], by_scan: bool, page: Ledger) -> None:
    rows = tuple(
        (p.words, *(say("{mm:+.2f} ± {twice:.2f}", mm=s.values[k], twice=2 * s.us[k]) for k in range(3)))
        for p, s in zip(places, shifts, strict=True)
    )
    title = (
        say("Slide, CR first contact to MIP as scanned, mm (± 95 %)")
        if by_scan
        else say("Slide, CR first contact to where the casts come to rest, mm (± 95 %)")
    )
    page.tables.append(Table(title, ("", *AXES), rows, say("Minus is back, down, left.")))
    place, shift = places[0], shifts[0]
    for k, name in enumerate(("forward", "up", "right")):
        page.quantity(
            f"slide_{name}",
            say("slide from CR first contact to MIP at the {point}, {way}", point=place.words, way=AXES[k]),
            shift[k],
            "mm",
            assumed=True,
        )


def _compare(
    mip: ScannedRelation,
    rest: Rested,
    start: Array,
    places: tuple[SlidePlace, ...],
    shifts: list[Carried],
    page: Ledger,
) -> None:
    """Hold the rest that was found against MIP as it was scanned."""
    own = from_covariance(np.zeros(6), mip.cov6, "mip")
    none = from_covariance(np.zeros(6), np.zeros((6, 6)), "none")
    by_scan = [shift_of(p, mip.upper_from_lower @ inverse(start), none, own) for p in places]
    by_rest = [shift_of(p, rest.settled.upper_from_lower @ inverse(start), none, rest.motion) for p in places]
    off = [a - b for a, b in zip(by_rest, by_scan, strict=True)]
    rows = tuple(
        (p.words, *(say("{mm:+.2f} ± {twice:.2f}", mm=o.values[k], twice=2 * o.us[k]) for k in range(3)))
        for p, o in zip(places, off, strict=True)
    )
    page.tables.append(
        Table(
            say("Where the casts come to rest, against MIP as scanned, mm (± 95 %)"),
            ("", *AXES),
            rows,
            say(
                "Pushed as assumed and without friction. Teeth and joints give a little, casts do not: a difference is no "
                "fault by itself."
            ),
        )
    )
    page.quantity(
        "rest_off_mip", say("the rest of the casts over MIP as scanned, at the {point}", point=places[0].words), off[0][1],
        "mm", assumed=True,
    )  # fmt: skip


def _supports(case: Case, rest: Rested, page: Ledger) -> None:
    rows = tuple(
        (_pair(case, s.upper, s.lower), figure(100.0 * s.share, ".0f"))
        for s in rest.supports
        if s.share >= _LEAST_SHARE
    )
    page.tables.append(
        Table(
            say("What carries the push where the casts come to rest"),
            (say("upper / lower"), say("share of the push, %")),
            rows,
            say(
                "Stone on stone: six contacts are enough to hold a cast, so few teeth carry all. In the mouth teeth give, and "
                "more carry."
            ),
        )
    )  # fmt: skip


def _way(
    case: Case, way: tuple[Stage, ...], place: SlidePlace, friction: float, pin: Pin | None, page: Ledger
) -> None:
    columns = [say("slid at the {point}, mm", point=place.words), say("teeth in touch")]
    columns += [say("pin, mm")] if pin is not None else []
    rows = []
    for stage in way:
        pairs = joined(", ", (_pair(case, u, w) for u, w in stage.pairs))
        cells = [figure(stage.travel_mm, ".2f"), pairs]
        if stage.pin_mm is not None:
            cells.append(figure(stage.pin_mm + 0.0, "+.2f"))
        rows.append(tuple(cells))
    note = say("Poses on the way that was found; in the mouth muscles and joints choose the way.")
    if pin is not None:
        note = say(
            "{note} Pin: how far it has to come out to stay on its table; minus: how far it has to be raised.",
            note=note,
        )
    page.tables.append(Table(say("From first contact into the rest"), tuple(columns), tuple(rows), note))
    at_end = way[-1].pin_mm
    if at_end is not None and at_end < 0.0:
        text = say(
            "A pin that stands on its table at first contact keeps the casts from coming to rest: raise it by {mm:.2f} mm.",
            mm=-at_end,
        )
        page.notes.append(text)
    elif at_end is not None:
        text = say(
            "A pin that stands on its table at first contact is {mm:.2f} mm off it where the casts rest.",
            mm=at_end,
        )
        page.notes.append(text)
    stuck = next((s for s in way[:-1] if s.holds), None)
    left = way[-1].travel_mm - stuck.travel_mm if stuck is not None else 0.0
    if stuck is None:
        text = say(
            "With friction of {mu:g} the casts would slide on at every pose looked at until the end.",
            mu=friction,
        )
    else:
        text = say(
            "With friction of {mu:g} the casts could stick {mm:.2f} mm before the end, at the {point}: inclines there are too "
            "flat to slide.",
            mu=friction,
            mm=left,
            point=place.words,
        )
    page.notes.append(text)


def _pair(case: Case, upper: int, lower: int) -> str:
    names = [written(case, tooth) if tooth else say("no tooth") for tooth in (upper, lower)]
    return joined(" / ", names)


def _sentence(place: SlidePlace, shift: Carried, by_scan: bool, rest: Rested) -> str:
    if not by_scan and not rest.settled.settled:
        return say("where the casts come to rest was not found")
    ahead, up, right = (float(v) for v in shift.values)
    text = say(
        "from there into MIP {ahead:+.2f} mm forward, {up:+.2f} mm up and {right:+.2f} mm right at the {point}",
        ahead=ahead, up=up, right=right, point=place.words,
    )  # fmt: skip
    return text if by_scan else say("{text} (casts pushed together, no scan of MIP)", text=text)


def _path(
    rest: Rested,
    start: Array,
    places: tuple[SlidePlace, ...],
    mip: ScannedRelation | None,
    way: tuple[Stage, ...],
) -> SlidePath:
    own = [transform(inverse(start), place.first_mm) for place in places]
    tracks = [
        np.array([transform(pose, at) for pose in rest.settled.path]) - place.first_mm
        for at, place in zip(own, places, strict=True)
    ]
    ends = None
    if mip is not None:
        ends = np.array(
            [transform(mip.upper_from_lower, at) - p.first_mm for at, p in zip(own, places, strict=True)]
        )
    return SlidePath(tuple(p.words for p in places), tuple(tracks), ends, way)
