"""The prescription for the lab. A blank reference plane, pin state or setting, or any other blank, keeps it from being ready."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, TypeGuard

from mountproof.answers.excursion_data import GuidanceEvidence, JointCard, Setting
from mountproof.answers.paper import Block, Line, Paper, Stands
from mountproof.answers.result import Sheet
from mountproof.answers.words import CAUTIONS
from mountproof.case.model import Case, ChangeAt, Closure, JointSettings, PlaneName, Relation
from mountproof.case.tooth_numbers import teeth_iso
from mountproof.said import figure, joined, say, term
from mountproof.teeth import tooth_text

#: The reference planes in words.
PLANES: Final = {
    PlaneName.AXIS_ORBITAL: say("axis-orbital plane"),
    PlaneName.FRANKFORT: say("Frankfort plane"),
    PlaneName.CAMPER: say("Camper plane"),
    PlaneName.OCCLUSAL: say("occlusal plane"),
    PlaneName.INSTRUMENT: say("the articulator's own horizontal"),
}
_AT: Final = {
    ChangeAt.INCISORS: say("at the incisors"),
    ChangeAt.FIRST_MOLARS: say("at the first molars"),
    ChangeAt.PIN: say("at the pin"),
}
_CONTACT: Final = {
    (Relation.CR, Closure.LIGHT): say("in CR, closing lightly"),
    (Relation.CR, Closure.FIRM): say("in CR, closing firmly"),
    (Relation.MIP, Closure.LIGHT): say("in MIP, closing lightly"),
    (Relation.MIP, Closure.FIRM): say("in MIP, closing firmly"),
}
_BLANK: Final = say("left blank")


def prescription(case: Case, sheet: Sheet) -> Paper:
    """Return the prescription of one case; pure. ``missing`` of the paper lists every blank field."""
    blocks = (
        Block(say("Reference and pin"), tuple(_reference(case, sheet))),
        Block(say("Settings of the articulator"), tuple(_settings(case, sheet))),
        Block(say("What is asked for"), tuple(_asked(case))),
        Block(say("Who looked at what"), tuple(_verified(case))),
    )
    blank = sum(line.stands is Stands.MISSING for block in blocks for line in block.lines)
    head = say("Ready to send.") if not blank else say("Not ready: {n} fields are blank.", n=blank)
    return Paper("prescription", say("Prescription for the lab"), head, blocks, CAUTIONS[:1], sign=True)


def is_ready(paper: Paper) -> bool:
    """Tell whether a prescription has no blank field."""
    return not paper.missing


def _line(words: str, value: str, note: str = "") -> Line:
    if value:
        return Line(words, value, note)
    return Line(words, _BLANK, note, Stands.MISSING)


def _number(value: float | None, decimals: int = 2) -> str:
    return "" if value is None else figure(value + 0.0, f".{decimals}f")


def _mm(value: float, decimals: int = 2) -> str:
    return say("{mm} mm", mm=_number(value, decimals))


def _reference(case: Case, sheet: Sheet) -> Iterator[Line]:
    yield _line(say("articulator"), case.instrument.name if case.instrument is not None else "")
    plane = "" if case.plane is None else PLANES[case.plane.name]
    yield _line(say("reference plane"), plane, say("every angle below is against it") if plane else "")
    yield _line(say("mounted on"), case.mounted_on or "")
    found = sheet.answers.get("pin")
    quantity = (
        None if found is None else next((q for q in found.quantities if q.key == "pin_mip_reads"), None)
    )
    opening = ""
    if quantity is not None and quantity.low is not None and quantity.high is not None:
        half = (quantity.high - quantity.low) / 2.0
        opening = say(
            "{value} ± {half} {unit}",
            value=_number(quantity.value, quantity.decimals),
            half=_number(half, quantity.decimals),
            unit=term(quantity.unit),
        )
    yield _line(say("record opening, as the pin reads it"), opening, say("± is 95 %") if opening else "")
    yield _line(say("pin reading at which the work is judged"), _plain(case.prescription.judged_at_pin))
    yield _line(say("change of the vertical dimension"), _height(case))


def _plain(value: float | None) -> str:
    return "" if value is None else figure(value + 0.0, ".6g")


def _height(case: Case) -> str:
    change, at = case.prescription.ovd_change_mm, case.prescription.ovd_change_at
    if change is None or (change and at is None):
        return ""
    if not change:
        return say("unchanged")
    assert at is not None
    size = figure(abs(change), ".2f")
    if change > 0:
        return say("{mm} mm more open {where}", mm=size, where=_AT[at])
    return say("{mm} mm less open {where}", mm=size, where=_AT[at])


def _settings(case: Case, sheet: Sheet) -> Iterator[Line]:
    found = sheet.answers.get("guidance")
    evidence = found.evidence if found is not None else None
    cards = {card.side: card for card in evidence.joints} if _is_guidance(evidence) else {}
    typed = case.settings
    for side, own, name in (
        ("right", typed.right, say("right joint")),
        ("left", typed.left, say("left joint")),
    ):
        yield from _joint(cards.get(side), own, name)
    if typed.table_deg is not None:
        yield _line(say("incisal table"), _with_u(typed.table_deg.value, typed.table_deg.u, "deg"))


def _is_guidance(evidence: object) -> TypeGuard[GuidanceEvidence]:
    return isinstance(evidence, GuidanceEvidence)


def _joint(card: JointCard | None, own: JointSettings, name: str) -> Iterator[Line]:
    """Inclination and lateral setting; what records told goes before what was typed."""
    told = [] if card is None else [s for s in card.settings if s.told]
    ahead = next((s for s in told if card is not None and s is card.settings[0]), None)
    yield _setting(say("{joint}: inclination", joint=name), ahead, own.inclination_deg, "deg")
    across = [s for s in told if card is not None and s in card.settings[2:] and s.unit == "deg"]
    yield _setting(
        say("{joint}: lateral angle", joint=name), across[0] if across else None, own.lateral_deg, "deg"
    )
    shift = [s for s in told if card is not None and s in card.settings[2:] and s.unit == "mm"]
    if shift or own.shift_mm is not None:
        yield _setting(
            say("{joint}: immediate shift", joint=name), shift[0] if shift else None, own.shift_mm, "mm"
        )


def _setting(words: str, told: Setting | None, typed: object, unit: str) -> Line:
    value, u = getattr(typed, "value", None), getattr(typed, "u", None)
    if told is not None and math.isfinite(told.value) and math.isfinite(told.high):
        how = ".2f" if unit == "mm" else ".0f"
        text = _with_half(figure(told.value + 0.0, how), figure((told.high - told.low) / 2.0, how), unit)
        if not told.typed:
            return _line(words, text, say("measured; ± is 95 %"))
        return _line(words, text, say("typed, not measured; ± is 95 %") if u is not None else _ASSUMED)
    return (
        _line(words, "", say("neither measured nor typed"))
        if value is None
        else _line(words, _with_u(value, u, unit), say("typed, not measured"))
    )


_ASSUMED: Final = say("typed, not measured; its ± is assumed")


def _with_u(value: float, u: float | None, unit: str) -> str:
    shown = figure(value + 0.0, ".6g")
    if u is not None:
        return _with_half(shown, figure(1.96 * u, ".2g"), unit)
    return say("{value} mm", value=shown) if unit == "mm" else say("{value}°", value=shown)


def _with_half(value: str, half: str, unit: str) -> str:
    if unit == "mm":
        return say("{value} ± {half} mm", value=value, half=half)
    return say("{value} ± {half}°", value=value, half=half)


def _asked(case: Case) -> Iterator[Line]:
    asked = case.prescription
    yield _line(say("how teeth meet and part"), asked.scheme)
    if not asked.contacts:
        yield _line(say("contacts wanted"), "")
    for contact in asked.contacts:
        yield _line(
            say("contacts wanted"), _teeth(case, contact.teeth), _CONTACT[contact.relation, contact.closure]
        )
    if asked.no_new_material:
        yield _line(say("least thickness of the material"), say("nothing is restored"))
    elif not case.space.wanted:
        yield _line(say("least thickness of the material"), "")
    for wanted in case.space.wanted:
        yield _line(
            say("least thickness of the material"), _mm(wanted.thickness_mm), _teeth(case, wanted.teeth)
        )
    deviation = asked.allowed_deviation_mm
    yield _line(say("allowed deviation at the pin"), "" if deviation is None else _mm(deviation))
    yield _line(say("do not alter"), joined("; ", asked.do_not_alter) if asked.do_not_alter else "")


def _teeth(case: Case, numbers: tuple[int, ...]) -> str:
    return joined(", ", [tooth_text(tooth) for tooth in teeth_iso(case, numbers)])


def _verified(case: Case) -> Iterator[Line]:
    if not case.prescription.verified:
        yield _line(say("who verified what"), "")
    for check in case.prescription.verified:
        yield _line(check.what, check.who, say("on {day}", day=check.on))
