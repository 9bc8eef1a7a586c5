"""Part of question 4: what the pin reads with the record out, against what was predicted."""

from __future__ import annotations

from mountproof.answers.bench_inputs import MarksInput, PinInput, States, pin_reading
from mountproof.answers.implants import held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import Openings, openings
from mountproof.answers.result import Table, Verdict, Why
from mountproof.bench.mounting import PinMeaning, pin_meaning
from mountproof.bench.pin import carried_opening_from_pin, carried_pin_from_opening
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.said import figure, say

_PREDICTED = say("pin opening predicted, record out, from the marks")
#: A pin that stands where it was set keeps within 3 SDs of the reading (1 in 400 does not).
_SEEN_SDS = 3.0


def pin_found(case: Case, pin: PinInput, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    """Hold the pin with the record out against its prediction; return what to say."""
    was_set = pin_reading(case, pin, (states.record, states.after_set), ledger, by_hand=True)
    found = pin_reading(case, pin, (states.contact,), ledger, by_hand=False) if states.contact else None
    if was_set is None:
        ledger.need(
            say("what the pin was set to with the record in"),
            say("the prediction starts from it"),
            "pin_readings",
        )
    if found is None:
        ledger.need(
            say("what the pin reads with the record out, at first contact"),
            say("it is the best free check"),
            "pin_readings",
        )
    if states.record is None:
        return []
    known = openings(case, marks, states, ledger)
    if was_set is None:
        return []
    _still_there(case, pin, was_set, states, ledger)
    if known.from_mip is None:
        return _without_mip(case, pin, was_set, known, found, ledger)
    over_mip = None
    if known.from_contact is not None:
        over_mip = known.from_mip - known.from_contact
    meaning = pin_meaning(pin.pin, was_set, known.from_mip, known.from_contact, over_mip, found, pin.lengths)
    return _pin_says(case, meaning, known, pin, ledger)


def _still_there(case: Case, pin: PinInput, was_set: Carried, states: States, ledger: Ledger) -> None:
    """Ask about a pin that reads otherwise after set than it was set to."""
    now = pin_reading(case, pin, (states.after_set,), ledger, by_hand=False)
    if now is None:
        return
    slipped = now - was_set
    if abs(slipped.value) > _SEEN_SDS * slipped.u:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "the pin was set to {was_set:.2f} mm and stands at {now:.2f} mm after set, record in: it "
                "slipped, or the casts rest on something else",
                was_set=was_set.value,
                now=now.value,
            ),
            value=slipped.value,
            u=slipped.u,
            unit="mm",
        )
        ledger.need(
            say("the pin with the record in, once more"),
            say("it does not stand where it was set"),
            "pin_readings",
        )


def _without_mip(
    case: Case, pin: PinInput, was_set: Carried, known: Openings, found: Carried | None, ledger: Ledger
) -> list[str]:
    """Hold the found reading against that from the marks at first contact, where MIP was not measured."""
    if known.from_contact is None:
        return []
    was = carried_opening_from_pin(pin.pin, was_set, pin.lengths)
    predicted = carried_pin_from_opening(pin.pin, was - known.from_contact, pin.lengths)
    ledger.quantity("predicted", _PREDICTED, predicted, "mm")
    if found is None:
        return []
    ledger.quantity("found", say("pin opening found, record out"), found, "mm")
    return [_found_less_predicted(case, found, found - predicted, ledger)]


def _found_less_predicted(case: Case, found: Carried, rest: Carried, ledger: Ledger) -> str:
    made = ledger.quantity("found_minus_predicted", say("found less predicted"), rest, "mm")
    verdict = judge_against(
        ledger,
        say("pin found less predicted"),
        made.value,
        made.u or 0.0,
        held_to(case, "pin_found_minus_predicted"),
    )
    words = {
        Verdict.AGREES: say("is where it was predicted"),
        Verdict.DOUBTFUL: say("is a little off its prediction"),
        Verdict.DISAGREES: say("is not where it was predicted"),
        Verdict.CANNOT_TELL: say("cannot be held against its prediction"),
    }[verdict]
    return say(
        "the pin, at {found:+.1f} mm, {judged} ({rest:+.2f})",
        found=found.value,
        judged=words,
        rest=rest.value,
    )


def _pin_says(case: Case, meaning: PinMeaning, known: Openings, pin: PinInput, ledger: Ledger) -> list[str]:
    ledger.quantity(
        "predicted_if_mip",
        say("pin opening predicted, record out, if CR contact = MIP"),
        meaning.if_contact_is_mip.pin_mm,
        "mm",
    )
    says = []
    if meaning.from_marks is not None:
        ledger.quantity("predicted", _PREDICTED, meaning.from_marks.pin_mm, "mm")
    if known.from_contact is not None and known.from_mip is not None:
        stands = carried_pin_from_opening(pin.pin, known.from_mip - known.from_contact, pin.lengths)
        ledger.quantity(
            "contact_over_mip", say("CR first contact stands open over MIP, at the pin"), stands, "mm"
        )
        if abs(stands.value) > 2.0 * stands.u:
            says.append(
                say(
                    "CR first contact stands {mm:.1f} mm open over MIP at the pin: a slide, not a fault of the "
                    "mounting",
                    mm=stands.value,
                )
            )
    if meaning.found_mm is None:
        return says
    ledger.quantity("found", say("pin opening found, record out"), meaning.found_mm, "mm")
    if meaning.found_minus_from_marks is not None:
        says.insert(0, _found_less_predicted(case, meaning.found_mm, meaning.found_minus_from_marks, ledger))
    elif meaning.found_minus_if_mip is not None:
        off = meaning.found_minus_if_mip
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say(
                "the pin stands {off:+.2f} ± {twice:.2f} mm from where it would be without a slide: slide or "
                "fault",
                off=off.value,
                twice=2 * off.u,
            ),
        )
        ledger.need(
            say("the marks once more with the record out"),
            say("they tell a slide from a fault"),
            "marks.states",
        )
    rows = tuple(
        (name, figure(part.value, "+.2f"), figure(2 * part.u, ".2f")) for name, part in meaning.parts
    )
    ledger.tables.append(
        Table(
            say("What the record-out reading is made of, mm at the pin"),
            ("", say("mm"), say("± (95 %)")),
            rows,
        )
    )
    ledger.notes.append(
        say(
            "A pin about zero proves little, for a short setting and a slide can cancel; one where it was "
            "predicted does."
        )
    )
    return says
