"""Checks of questions 3 and 4 where implants bear: the stricter limit is used, and said, in one way."""

from __future__ import annotations

from typing import Any

import pytest

from answers import kestrel
from mountproof.answers.implants import held_foils, held_to
from mountproof.answers.sheet import answer
from mountproof.case.limits import Limits
from mountproof.case.model import Case
from mountproof.said import render

#: Limits of what teeth do where they meet, in mm.
_OF_TEETH = (
    "mounting_whole",
    "records_at_incisors",
    "reseat_sd",
    "movement_during_set",
    "pin_found_minus_predicted",
    "record_on_cast",
    "split_cast_gap",
)


def with_implants(**changes: Any) -> Case:
    return kestrel.case(dentition={**kestrel.data().get("dentition", {}), "implants": [46]}, **changes)


@pytest.mark.parametrize("name", _OF_TEETH)
def test_limits_switch_where_there_are_implants_and_are_the_stricter_at_both_ends(name: str) -> None:
    usual = getattr(Limits(), name)
    assert held_to(kestrel.case(), name) == (usual, False)
    held = held_to(with_implants(), name)
    own = Limits().implant_mounting
    assert (held.limit.decent, held.limit.redo) == (min(usual.decent, own.decent), min(usual.redo, own.redo))
    assert held.by_implants is (held.limit.decent < usual.decent or held.limit.redo < usual.redo)
    far = with_implants(limits={"implant_mounting": {"decent": 5, "redo": 9}})
    assert held_to(far, name) == (usual, False)


def reasons(case: Case, key: str) -> list[str]:
    return [r.text for r in answer(case, [key])[key].reasons]


def test_every_check_of_the_mounting_says_that_implants_made_it_stricter() -> None:
    gaps = [{"ahead_mm": x, "right_mm": z, "gap_mm": 0.0} for x, z in ((90, 0), (50, 28), (50, -28))]
    proof = {"split_casts": [{"record": "record 2", "gaps": gaps}]}
    usual = reasons(kestrel.case(proof=proof), "mounting")
    held = reasons(with_implants(proof=proof), "mounting")
    assert not any("with implants" in text for text in usual)
    for what in ("movement during set", "pin found", "gap of the split cast", "all checks weighed together"):
        (plain,) = (t for t in usual if t.startswith(what))
        (said,) = (t for t in held if what in t)
        assert said.startswith(f"with implants: {what}")
        assert "redo above 0.1" in said and "redo above 0.1 " not in plain


def test_a_reading_that_teeth_would_pass_does_not_pass_with_implants() -> None:
    """0.09 mm of movement during set: doubtful at most with teeth (redo above 0.2), not to be judged with implants."""
    usual = answer(kestrel.case(), ["mounting"])["mounting"]
    held = answer(with_implants(), ["mounting"])["mounting"]
    pick = [next(r for r in a.reasons if "movement during set" in r.text) for a in (usual, held)]
    assert pick[0].limit == 0.10 and pick[1].limit == 0.05


def test_re_seating_is_held_to_a_limit_of_implants_that_was_made_stricter() -> None:
    tight = with_implants(limits={"implant_mounting": {"decent": 0.02, "redo": 0.03}})
    assert any(t.startswith("with implants: record 1 finds its seat") for t in reasons(tight, "record"))
    assert not any("with implants" in t for t in reasons(with_implants(), "record") if "finds its seat" in t)


def test_foils_may_differ_at_no_implant() -> None:
    case = with_implants()
    assert held_foils(case, [15]).limit == case.limits.foil_disagreement
    held = held_foils(case, [46, 15])
    assert held.by_implants and held.limit.decent == 0.0
    assert held.limit.redo == case.limits.foil_disagreement.redo
    foils = [dict(f) for f in kestrel.data()["foils"]]
    for foil in foils:
        if foil["where"] == "mounting" and foil["relation"] == "CR":
            foil["held"] = [*foil["held"], 16, 46]
    assert any(
        t.startswith("with implants: foil of 8 um") for t in reasons(with_implants(foils=foils), "mounting")
    )
    assert not any("with implants: foil" in t for t in reasons(with_implants(), "mounting"))


def test_it_is_said_in_german() -> None:
    text = next(t for t in reasons(with_implants(), "mounting") if "movement during set" in t)
    assert render(text, "de").startswith("mit Implantaten: ")


def test_the_whole_mounting_has_a_limit_of_its_own() -> None:
    """The joined verdict goes by it, and not by that of repeat records."""
    wide = {"mounting_whole": {"decent": 3, "redo": 5}}
    (text,) = (t for t in reasons(kestrel.case(limits=wide), "mounting") if "weighed together" in t)
    assert "agrees up to 3 mm, redo above 5 mm" in text
    records = {"records_at_incisors": {"decent": 3, "redo": 5}}
    (text,) = (t for t in reasons(kestrel.case(limits=records), "mounting") if "weighed together" in t)
    assert "agrees up to 0.2 mm, redo above 0.4 mm" in text
