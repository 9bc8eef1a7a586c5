"""Question 1: how far to open the pin for this record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import (
    MarksInput,
    PinInput,
    States,
    marks_input,
    pin_input,
    pin_reading,
    states_of,
)
from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import (
    bench_marks,
    instrument_slack,
    left_out,
    looks_of,
    marks_at,
    note_slack,
    opening,
    record_slack,
    set_aside,
)
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Assumption, Quantity, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.bench.marks import (
    Arms,
    HingeOpening,
    equal_millimetre_habit,
    hinge_opening,
    psi_from_distance,
)
from mountproof.bench.pin import (
    Tooth,
    carried_opening_from_pin,
    carried_pin_from_opening,
    opening_at,
    opening_from_pin,
    record_wedge,
)
from mountproof.bench.pose import RECORD_SLACK, Slack, fit_poses
from mountproof.bench.scale import reading_from_mm
from mountproof.case.model import Case
from mountproof.faults import FaultError
from mountproof.geometry.carry import Carried, measured, shares
from mountproof.said import figure, joined, say

#: Where teeth stand when nobody measured it (mm ahead of and above the hinge axis). Stand-ins, shown as assumed.
_USUAL_TEETH = (
    Tooth(say("incisors"), 92.0, -42.0),
    Tooth(say("canines"), 84.0, -40.0),
    Tooth(say("first molars"), 60.0, -37.0),
    Tooth(say("second molars"), 50.0, -35.0),
)
_TABLE_PIN_MM = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
#: A record is usually wanted to clear the last molars by this much. Common practice, no source.
_CLEAR_MM = 1.0
#: Residuals that chance alone would leave in fewer than one of a hundred tables.
_CHANCE = 0.01
#: So many readings of one pair leave little to gain by one more.
_REPEATS = 3
#: Two-sided 1 in 1000: how far a pair may lie from the others before it is asked about, in SDs.
_SDS = 3.3


class Openings(NamedTuple):
    """Openings of the hinge (rad) against MIP and against first contact, and how they were found."""

    from_mip: Carried | None
    from_contact: Carried | None
    hinge_only: Carried | None


def answer(case: Case, progress: Progress) -> Answer:
    """Answer how far to open the pin, in millimetres and in the pin's own marks."""
    ledger = Ledger("pin")
    ledger.sources += [SOURCES["pin"], SOURCES["gum"]]
    if case.instrument is None:
        ledger.need(
            say("hinge to pin, forward, and hinge to pin tip, down"),
            say("the pin is answered from its own lengths"),
            "instrument.pin",
        )
        return ledger.answer(
            say("The pin cannot be answered without the instrument's lengths."), Verdict.CANNOT_TELL
        )
    pin = pin_input(case.instrument, case.caliper, ledger)
    teeth = tooth_places(case, ledger)
    ledger.tables += [_tooth_table(pin, teeth), _wedge_table(pin, teeth)]
    if case.marks is None:
        _needs_marks(ledger)
        return ledger.answer(
            say("The pin waits for marks measured in MIP and with the record in."), Verdict.CANNOT_TELL
        )
    marks = marks_input(case.marks, case.caliper, ledger)
    states = states_of(case, ledger)
    if states.record is None or (states.mip is None and states.contact is None):
        if any(need.field == "mounted_on" for need in ledger.needs):
            on = case.mounted_on
            return ledger.answer(
                say("Several records were measured: the pin waits for which one the cast is mounted on.")
                if on is None
                else say(
                    "The cast is said to be mounted on {record}: the pin waits for marks with it in.",
                    record=on,
                ),
                Verdict.CANNOT_TELL,
            )
        _needs_marks(ledger)
        return ledger.answer(
            say("The pin waits for marks measured in MIP and with the record in."), Verdict.CANNOT_TELL
        )
    kept = set_aside(case, marks, looks_of(case, states, ledger), ledger)
    typed = None
    if kept.table != marks.table:
        typed = openings(case, marks, states, Ledger("pin")), left_out(marks, kept)
    found = openings(case, kept, states, ledger)
    return _close(case, ledger, pin, kept, states, found, typed)


def tooth_places(case: Case, ledger: Ledger) -> tuple[Tooth, ...]:
    """Return where the teeth stand, as entered, or the usual places as an assumption."""
    if case.teeth_at:
        words = {tooth.name: tooth.name for tooth in _USUAL_TEETH}
        return tuple(
            Tooth(words.get(name, name), at.ahead_mm, at.above_mm) for name, at in case.teeth_at.items()
        )
    named = joined(
        ", ",
        (
            say("{teeth} {ahead:g} ahead and {below:g} below", teeth=t.name, ahead=t.x_mm, below=-t.y_mm)
            for t in _USUAL_TEETH
        ),
    )
    ledger.assumptions.append(
        Assumption(
            say("where the teeth stand (mm from the hinge)"),
            named,
            say("an average skull; stand-ins"),
            "teeth_at",
        )
    )
    return _USUAL_TEETH


def front_tooth(teeth: Sequence[Tooth]) -> Tooth:
    """Return the incisors where they are among the teeth, else the tooth that was named first."""
    return next((tooth for tooth in teeth if tooth.name == "incisors"), teeth[0])


def openings(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> Openings:
    """Find the openings from the record to MIP and to first contact on the instrument.

    Against MIP the joints may shift as well, so all pairs are fitted with a plausible shift; against first contact
    the casts turn about the instrument's own hinge, which leaves only its play.
    """
    assert states.record is not None
    placed = bench_marks(case, marks)
    on_instrument = states.after_set or states.record
    from_mip = from_contact = hinge_only = None
    if states.mip is not None:
        hinge_only = _about_hinge(marks, states.mip, states.record, alone=placed is None)
        if placed is not None:
            slack = record_slack(case, [states.record])
            fit = fit_poses(
                placed, marks.table, states.mip, [states.record], slack=slack, slack_everywhere=True
            )
            note_slack(ledger)
            _consistent(ledger, fit.tail, fit.settled)
            from_mip = opening(fit.poses[states.record].motion) if fit.settled else None
        elif hinge_only is not None:
            note_slack(ledger)
            from_mip = _with_shift(hinge_only, marks, states.mip, RECORD_SLACK, ledger)
            ledger.need(
                say("ahead, above and right of every mark"),
                say("by their distance from the hinge alone a shift of the joints is taken for opening"),
                "marks.places",
            )
    if states.contact is not None:
        if placed is not None:
            slack_now = instrument_slack(case, ledger)
            there = marks_at(case, marks, placed, states.mip, states.contact)
            fit = fit_poses(
                there, marks.table, states.contact, [on_instrument], slack=slack_now, slack_everywhere=True
            )
            from_contact = opening(fit.poses[on_instrument].motion) if fit.settled else None
        else:
            about = _about_hinge(marks, states.contact, on_instrument, alone=True)
            if about is not None:
                from_contact = _with_shift(
                    about, marks, states.contact, instrument_slack(case, ledger), ledger
                )
    alone = hinge_only.theta if hinge_only is not None else None
    return Openings(from_mip, from_contact, alone)


def _about_hinge(marks: MarksInput, state0: str, state1: str, *, alone: bool) -> HingeOpening | None:
    """Return the opening that the hinge alone would give, by upright pairs where there are any; None without a pair.

    A reading that no hinge allows is a fault only where the hinge is all there is (``alone``): places of the marks
    question it through the other pairs.
    """
    arms = [
        a
        for a in marks.arms
        if a.pair in marks.table.get(state0, {}) and a.pair in marks.table.get(state1, {})
    ]
    vertical = [a for a in arms if _is_straight(a.a_mm, a.b_mm, a.dz_mm)] or arms
    if not vertical:
        return None
    try:
        return hinge_opening(vertical, marks.table, state0, state1)
    except FaultError:
        if alone:
            raise
        return None


def _with_shift(about: HingeOpening, marks: MarksInput, state0: str, slack: Slack, ledger: Ledger) -> Carried:
    """Return an opening by the hinge alone with the doubt of a shift of the joints, which it takes for opening.

    A shift along the line of a pair changes its distance by as much. An upright pair sees the height of the joints,
    a slanted one their fore-aft shift as well. Pairs beyond that shift are questioned.
    """
    arms = {a.pair: a for a in marks.arms}
    upright = all(_is_straight(arms[p.pair].a_mm, arms[p.pair].b_mm, arms[p.pair].dz_mm) for p in about.pairs)
    shift_mm = slack.height_mm if upright else max(slack.height_mm, slack.fore_aft_mm)
    weights = np.array([1.0 / (p.sd_mm / _slope_mm(arms[p.pair], marks, state0)) ** 2 for p in about.pairs])
    lever = float(
        np.sum(weights / [_slope_mm(arms[p.pair], marks, state0) for p in about.pairs]) / np.sum(weights)
    )
    _question_pairs(about, shift_mm, ledger)
    return about.theta + measured(0.0, shift_mm * lever, f"assumed/{state0}/shift along the pairs")


def _slope_mm(arm: Arms, marks: MarksInput, state: str) -> float:
    """Millimetres of distance for each radian of opening."""
    d = marks.table[state][arm.pair].mean_mm
    psi = psi_from_distance(d, arm.a_mm, arm.b_mm, arm.dz_mm)
    return max(arm.a_mm * arm.b_mm * math.sin(psi) / d, 1.0)


def _question_pairs(about: HingeOpening, shift_mm: float, ledger: Ledger) -> None:
    """Question pairs whose change lies farther from that of the others than reading and shift allow."""
    n = len(about.pairs)
    for pair in about.pairs:
        # the pair itself pulls at the common opening: without it the residual is larger by n / (n - 1)
        off = pair.residual_mm * n / (n - 1) if n > 1 else 0.0
        if abs(off) > _SDS * math.hypot(pair.sd_mm, shift_mm):
            ledger.because(
                Verdict.DOUBTFUL,
                Why.QUESTIONED,
                say(
                    "Did {pair} really change by {change:+.2f} mm? The other pairs expect {expected:+.2f} mm.",
                    pair=pair.pair,
                    change=pair.change_mm,
                    expected=pair.change_mm - off,
                ),
                value=pair.change_mm,
                limit=pair.change_mm - off,
                unit="mm",
            )
            ledger.need(
                say("{pair} once more, in both states", pair=pair.pair),
                say("a change of {change:+.2f} mm does not go with the other pairs", change=pair.change_mm),
                "marks.readings_mm",
            )


def _is_straight(a_mm: float, b_mm: float, dz_mm: float) -> bool:
    """Tell whether a pair stands nearly upright: then its distance sees opening, little else."""
    return abs(dz_mm) < 5.0 and abs(a_mm - b_mm) < 25.0


def _consistent(ledger: Ledger, tail: float, settled: bool) -> None:
    if not settled:
        ledger.because(Verdict.CANNOT_TELL, Why.NOT_SETTLED, say("the fit of the marks did not settle"))
    elif tail < _CHANCE:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say("the pairs of marks scatter more than the caliper does (chance {tail:.1%})", tail=tail),
            value=tail,
            limit=_CHANCE,
        )


def _needs_marks(ledger: Ledger) -> None:
    ledger.need(
        say("the same pairs of marks in MIP by hand and with the record in, every pair three times"),
        say("their change is the opening of the record"),
        "marks",
    )


def _close(
    case: Case,
    ledger: Ledger,
    pin: PinInput,
    marks: MarksInput,
    states: States,
    found: Openings,
    typed: tuple[Openings, str] | None = None,
) -> Answer:
    assert states.record is not None
    set_mm = pin_reading(case, pin, (states.record, states.after_set), ledger, by_hand=True)
    headline = say("The marks do not give an opening.")
    if found.from_mip is not None:
        mip_mm = carried_pin_from_opening(pin.pin, found.from_mip, pin.lengths)
        mip = _opening_quantities(ledger, pin, mip_mm, "mip", say("members parallel in MIP"))
        ledger.quantity(
            "opening", say("opening of the record against MIP"), found.from_mip, "deg", factor=180 / math.pi
        )
        headline = _headline(case, mip, ledger["pin_mip_reads"])
        if typed is not None:
            headline += _without(pin, *typed)
        _judge_u(case, ledger, mip_mm.u)
        if found.hinge_only is not None:
            alone = carried_pin_from_opening(pin.pin, found.hinge_only, pin.lengths)
            ledger.quantity(
                "pin_mip_hinge_alone",
                say("the same, if the joints did not shift at all"),
                alone,
                "mm",
                note=say("for comparison"),
            )
        out = reading_from_mm(
            pin.scale, _record_out(pin, mip_mm if set_mm is None else set_mm, found.from_mip)
        )
        ledger.quantity(
            "record_out_if_mip", say("pin reads, record out, if the teeth first meet in MIP"), out, "marks"
        )
    if found.from_contact is not None:
        cr_mm = carried_pin_from_opening(pin.pin, found.from_contact, pin.lengths)
        _opening_quantities(ledger, pin, cr_mm, "cr", say("members parallel at CR first contact"))
        if set_mm is not None:
            out = reading_from_mm(pin.scale, _record_out(pin, set_mm, found.from_contact))
            ledger.quantity(
                "record_out_if_slide",
                say("pin reads, record out, at CR first contact (by the marks)"),
                out,
                "marks",
            )
        if found.from_mip is None:
            why = (
                say("MIP was not measured")
                if states.mip is None
                else say("the marks give no opening from MIP")
            )
            headline = say(
                "{headline} (CR first contact; {why})",
                headline=_headline(case, ledger["pin_cr"], ledger["pin_cr_reads"]),
                why=why,
            )
            _judge_u(case, ledger, cr_mm.u)
    else:
        ledger.need(
            say("the marks once more with the record out, at first contact on the instrument"),
            say(
                "then the opening is also known for CR first contact, and the slide can be told from the record"
            ),
            "marks.states",
        )
    if states.mip is not None:
        _habit(ledger, pin, marks, states, set_mm, found)
        ledger.tables.append(_pairs_table(marks, states))
    main = found.from_mip or found.from_contact
    if main is not None:
        _next(ledger, carried_pin_from_opening(pin.pin, main, pin.lengths), marks, states)
    return ledger.answer(headline)


def _record_out(pin: PinInput, set_mm: Carried, closed: Carried) -> Carried:
    """Return the pin's millimetres once the members, opened to what was set, close by an angle (rad): exact."""
    left = carried_opening_from_pin(pin.pin, set_mm, pin.lengths) - closed
    return carried_pin_from_opening(pin.pin, left, pin.lengths)


def _next(ledger: Ledger, mm: Carried, marks: MarksInput, states: States) -> None:
    """Name the measurement that shrinks the doubt of the opening most, by what carries most of its variance."""
    part = shares(mm)
    most = max(part, key=lambda name: part[name], default="")
    if most == "reading":
        read = [marks.table[s].values() for s in (states.mip, states.record) if s is not None]
        fewest = min(one.n for row in read for one in row)
        if fewest < _REPEATS:
            ledger.need(
                say("every pair three times in MIP and with the record in"),
                say("the readings carry most of the doubt"),
                "marks.readings_mm",
            )
        else:
            ledger.need(
                say("a finer caliper, or further pairs"),
                say("the readings carry most of the doubt"),
                "caliper",
            )
    elif most == "assumed":
        ledger.need(
            say("further pairs of marks, some far in front, some far behind, some slanted"),
            say("how far the joints may have shifted carries most of the doubt; more pairs measure it"),
            "marks.readings_mm",
        )
    elif most == "mark":
        ledger.need(
            say("the places of the marks, measured again"),
            say("where the marks stand carries most of the doubt"),
            "marks.places",
        )
    elif most == "length":
        ledger.need(
            say("hinge to pin, forward, and hinge to pin tip, down, measured again"),
            say("the pin's own lengths carry most of the doubt"),
            "instrument.pin",
        )


def _opening_quantities(ledger: Ledger, pin: PinInput, mm: Carried, key: str, words: str) -> Quantity:
    made = ledger.quantity(f"pin_{key}", say("open the pin, {words}", words=words), mm, "mm")
    reads = reading_from_mm(pin.scale, mm)
    ledger.quantity(
        f"pin_{key}_reads",
        say("the pin then reads, {words}", words=words),
        reads,
        "marks",
        assumed=pin.scale.assumed,
    )
    return made


def _headline(case: Case, mm: Quantity, reads: Quantity) -> str:
    if mm.u is not None and mm.low is not None and mm.u > case.limits.pin_opening_u.redo:
        return say(
            "Only roughly, give or take {by:.1f} mm: open the pin {mm:.1f} mm: its scale then reads {reads:.1f}",
            by=mm.value - mm.low,
            mm=mm.value,
            reads=reads.value,
        )
    return say("Open the pin {mm:.1f} mm: its scale then reads {reads:.1f}", mm=mm.value, reads=reads.value)


def _without(pin: PinInput, typed: Openings, which: str) -> str:
    """Say which readings were left out, and what they would make of the opening."""
    says = say(", without {which}, to be measured again", which=which)
    if typed.from_mip is None:
        return says
    return say(
        "{without} (with it as typed: {mm:.1f} mm)",
        without=says,
        mm=carried_pin_from_opening(pin.pin, typed.from_mip).value,
    )


def _judge_u(case: Case, ledger: Ledger, u_mm: float) -> None:
    limit = case.limits.pin_opening_u
    if u_mm <= limit.decent:
        verdict, why, text = Verdict.AGREES, Why.INSIDE, say("is known well enough")
    elif u_mm <= limit.redo:
        verdict, why, text = Verdict.DOUBTFUL, Why.BETWEEN, say("is known only roughly")
    else:
        verdict, why, text = Verdict.CANNOT_TELL, Why.OUTSIDE, say("is not known well enough to set by")
    ledger.because(
        verdict,
        why,
        say(
            "the opening {how}: standard uncertainty {u:.2f} mm (agrees up to {decent:g}, not usable "
            "above {redo:g})",
            how=text,
            u=u_mm,
            decent=limit.decent,
            redo=limit.redo,
        ),
        value=u_mm,
        limit=limit.decent,
        unit="mm",
    )


def _habit(
    ledger: Ledger, pin: PinInput, marks: MarksInput, states: States, set_mm: Carried | None, found: Openings
) -> None:
    assert states.mip is not None
    assert states.record is not None
    straight = [a for a in marks.arms if _is_straight(a.a_mm, a.b_mm, a.dz_mm)]
    if not straight or found.from_mip is None:
        return
    habit = equal_millimetre_habit(straight, marks.table, states.mip, states.record)
    short = math.degrees(opening_from_pin(pin.pin, habit) - found.from_mip.value)
    ledger.notes.append(
        say(
            "Opening by the mean change of the marks ({habit:.2f} mm) would leave the members {short:+.2f} "
            "degrees from parallel in MIP: the pin stands farther from the hinge than the marks.",
            habit=habit,
            short=short,
        )
    )
    if set_mm is not None:
        stands = carried_opening_from_pin(pin.pin, set_mm, pin.lengths) - found.from_mip
        ledger.notes.append(
            say(
                "The pin was set to {mm:.2f} mm: with the teeth in MIP the members stand {degrees:+.2f} "
                "degrees from parallel. The jaw relation is not touched by that.",
                mm=set_mm.value,
                degrees=math.degrees(stands.value),
            )
        )


def _pairs_table(marks: MarksInput, states: States) -> Table:
    columns = [s for s in (states.mip, states.record, states.after_set, states.contact) if s is not None]
    rows = []
    for pair, *_ in marks.pairs:
        cells = [
            figure(marks.table[s][pair].mean_mm, ".2f") if pair in marks.table.get(s, {}) else "-"
            for s in columns
        ]
        change = "-"
        if pair in marks.table.get(columns[0], {}) and pair in marks.table.get(columns[1], {}):
            change = figure(
                marks.table[columns[1]][pair].mean_mm - marks.table[columns[0]][pair].mean_mm, "+.2f"
            )
        rows.append((pair, *cells, change))
    return Table(
        say("Marks, mm"),
        (say("pair"), *columns, say("{first} to {last}", first=columns[0], last=columns[1])),
        tuple(rows),
    )


def _tooth_table(pin: PinInput, teeth: Sequence[Tooth]) -> Table:
    rows = []
    for mm in _TABLE_PIN_MM:
        theta = opening_from_pin(pin.pin, mm)
        openings_at = [opening_at(t, theta) for t in teeth]
        reads = reading_from_mm(pin.scale, mm).value
        shown = (reads, math.degrees(theta), *(o.gap_mm for o in openings_at), openings_at[0].back_mm)
        rows.append((figure(mm, "g"), *(figure(value, ".2f") for value in shown)))
    return Table(
        say("What the pin opens at the teeth, mm"),
        (
            say("pin mm"),
            say("reads"),
            say("deg"),
            *(t.name for t in teeth),
            say("{teeth} back", teeth=teeth[0].name),
        ),
        tuple(rows),
        say("Exact turn about the hinge for the places given."),
    )


def _wedge_table(pin: PinInput, teeth: Sequence[Tooth]) -> Table:
    last = min(teeth, key=lambda t: t.x_mm)
    rows = []
    for clear in (_CLEAR_MM, 1.5 * _CLEAR_MM, 2.0 * _CLEAR_MM):
        try:
            wedge = record_wedge({last: clear}, [t for t in teeth if t is not last])
        except ValueError:
            break  # a place so far back, or so far below, never comes down by as much
        rows.append((figure(clear, ".1f"), *(figure(wedge.thickness_mm[t.name], ".1f") for t in teeth)))
    return Table(
        say("Before the appointment: how thick the record must be, mm"),
        (say("to clear the {teeth} by", teeth=last.name), *(t.name for t in teeth)),
        tuple(rows),
        say("A record opened about the hinge is a wedge: an even sheet is thin behind or thick in front."),
    )
