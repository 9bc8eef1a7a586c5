"""All checks joined: the guilty step comes first, in the signatures of the trade and in the demo's variants."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from answers import kestrel, variants
from mountproof.answers import mounting
from mountproof.answers.finds import Found
from mountproof.answers.ledger import Ledger
from mountproof.answers.message import message
from mountproof.answers.picture_data import Cause, MountingEvidence
from mountproof.answers.progress import quiet
from mountproof.answers.proof import proof, targets, weighed_proof
from mountproof.answers.proof_causes import TELLS, Weighing, cause_rows, ranked
from mountproof.answers.proof_checks import checks_of
from mountproof.answers.proof_model import Model, model_of
from mountproof.answers.proof_scans import weighed_scans
from mountproof.answers.proof_words import CAUSES
from mountproof.answers.result import Answer, Quantity, Verdict
from mountproof.answers.sheet import answer
from mountproof.case.model import Case, Proof
from mountproof.doubt.attempts import best_of
from mountproof.doubt.weighing import weigh

_HALF = 55.0


@pytest.fixture(scope="module")
def model() -> Model:
    """A practised bench: three records, that repeat to 0.08 mm at a condyle and find their seats to 0.04 mm."""
    case = Case(
        code="T",
        mounted_on="record 1",
        record_repeat_mm=0.08,
        records={"record 1": {"kind": "CR"}, "record 2": {"kind": "CR"}, "record 3": {"kind": "CR"}},
    )
    page = Ledger("record")
    page.quantities.append(Quantity("reseat_seat", "seat", 0.04, "mm", 0.01))
    return model_of(case, Ledger("mounting"), page)


def find(key: str, parts: dict[str, float], us: tuple[float, ...], record: str = "") -> Found:
    return Found(key, key, tuple(parts), np.array(list(parts.values())), np.diag(np.square(us)), record)


def seating(record: str, found: str, where: str | None = None) -> dict[str, str]:
    return {"record": record, "found": found, **({"where": where} if where else {})}


def causes(model: Model, finds: list[Found], seatings: list[dict[str, str]] | None = None) -> list[str]:
    """Causes by their chance, likeliest first."""
    case = Case(code="T", proof=Proof.model_validate({"seatings": seatings or []}))
    checks = checks_of(case, finds, model.network, _HALF)
    judged, _ = targets(model.network)
    return [k for k, _ in ranked(weigh(model.network.honest_cov, model.hypotheses, checks, judged))]


_STILL = find("set_movement", {"down": 0.0, "pitch": 0.0, "roll": 0.0}, (0.03, 0.001, 0.0008))
_PLANE = (0.05, 0.001, 0.0008)


def test_record_1_fits_and_record_2_does_not_one_of_the_two(model: Model) -> None:
    order = causes(
        model, [_STILL], [seating("record 1", "seats fully"), seating("record 2", "stands off", "right")]
    )
    about_records = ("record_right", "record_left", "record_off", "other_right", "other_left", "other_off")
    told = [k for k in order if k != "nothing"]
    assert told[0] in about_records
    assert told[1] in about_records


def test_record_1_no_longer_seats_the_mounting_moved(model: Model) -> None:
    moved = find("set_movement", {"down": 0.15, "pitch": 0.0, "roll": 0.0053}, (0.03, 0.001, 0.0008))
    assert causes(model, [moved], [seating("record 1", "stands off", "right")])[0] == "set_right"
    alone = causes(model, [], [seating("record 1", "stands off", "right")])
    assert next(k for k in alone if k != "nothing") in ("set_right", "record_rocks", "set_left", "instrument")


def test_all_records_seat_and_the_mouth_does_not_agree_casts_or_mouth(model: Model) -> None:
    order = causes(
        model,
        [_STILL, find("foils", {"down": 0.20, "pitch": 0.0, "roll": 0.010}, (0.03, 0.001, 0.0008))],
        [seating(f"record {k}", "seats fully") for k in (1, 2, 3)],
    )
    assert set(order[:3]) & {"cast_misfit", "teeth_moved", "cast_twist"}
    assert order[0] in ("cast_misfit", "teeth_moved", "cast_twist")


def test_casts_that_do_not_fit_by_hand(model: Model) -> None:
    rock = find("rock", {"amount": 1.0}, (0.0,))
    foil = find("hand_foils", {"amount": 0.5}, (0.1,))
    assert causes(model, [_STILL, rock, foil])[0] == "cast_misfit"


def test_left_condyle_off_its_stop_and_left_open_the_record_hangs(model: Model) -> None:
    """The left condyle of the mounting stands below and ahead of where record 3 holds it, and the left teeth are open."""
    off = {
        "right condyle down": 0.0,
        "left condyle down": 0.35,
        "right condyle ahead": 0.0,
        "left condyle ahead": 0.30,
    }
    low = find("condyles", off, (0.05,) * 4, "record 3")
    foil = find("foils", {"down": 0.17, "pitch": 0.0, "roll": -0.0032}, (0.03, 0.001, 0.0008))
    assert causes(model, [_STILL, low, foil], [seating("record 1", "seats fully")])[0] == "record_left"


def test_an_even_shift_is_seat_or_stone(model: Model) -> None:
    even = find("second_record", {"down": 0.30, "pitch": 0.0, "roll": 0.0}, _PLANE, "record 2")
    third = find("second_record", {"down": 0.30, "pitch": 0.0, "roll": 0.0}, _PLANE, "record 3")
    told = [k for k in causes(model, [even, third]) if k != "nothing"]
    assert set(told[:2]) == {"record_seat", "set_evenly"}
    assert causes(model, [_STILL, even, third])[0] == "record_seat"


def test_front_open_and_back_heavy_something_touches_behind(model: Model) -> None:
    tilt = 0.40 / 47.0
    open_front = {"down": 25.0 * tilt, "pitch": tilt, "roll": 0.0}
    finds = [find("second_record", open_front, _PLANE, f"record {k}") for k in (2, 3)]
    assert causes(model, [_STILL, *finds])[0] == "behind"


def alike(model: Model, looked_at: int, same: int) -> dict[str, float]:
    """Chances of causes with so many other cases on the instrument, so many of them off in the same way."""
    proof = Proof(other_cases_looked_at=looked_at, other_cases_alike=same)
    checks = checks_of(Case(code="T", proof=proof), [_STILL], model.network, _HALF)
    judged, _ = targets(model.network)
    return weigh(model.network.honest_cov, model.hypotheses, checks, judged).chances()


def test_the_same_pattern_in_many_cases_is_the_instrument(model: Model) -> None:
    found = alike(model, 4, 4)
    assert max(found, key=lambda k: found[k]) == "instrument"
    assert alike(model, 100, 100)["instrument"] > 0.99 > alike(model, 2, 1)["instrument"]
    # each case more that is alike speaks for it, each that is not against it
    rising = [alike(model, 6, k)["instrument"] for k in range(7)]
    assert rising == sorted(rising) and rising[0] < alike(model, 1, 0)["instrument"]


def test_one_other_case_moves_the_odds_of_the_instrument_by_its_stated_chances(model: Model) -> None:
    """Bayes by hand: sixteen to one for a case that is alike; hypotheses without the instrument all weigh the same."""
    before, after = (c / (1.0 - c) for c in (alike_none(model), alike(model, 1, 1)["instrument"]))
    # where it acts, chance and fault each may show it: 1 - 0.2 * 0.95 = 0.81 against 0.05
    assert after / before == pytest.approx(0.81 / 0.05, rel=1e-9)


def alike_none(model: Model) -> float:
    checks = checks_of(Case(code="T"), [_STILL], model.network, _HALF)
    judged, _ = targets(model.network)
    return weigh(model.network.honest_cov, model.hypotheses, checks, judged).chances()["instrument"]


def test_other_cases_are_told_once_and_first_where_they_are_many() -> None:
    case = kestrel.case(proof={"other_cases_looked_at": 8, "other_cases_alike": 8})
    found = answer(case, ["mounting"])["mounting"]
    table = next(t for t in found.tables if t.title.startswith("Causes"))
    row = next(r for r in table.rows if r[0].startswith("The instrument"))
    assert row[2].count("another case on this instrument is off in the same way") == 1
    assert "look at earlier cases" in row[4]


def test_without_a_check_the_chances_are_those_before_it(model: Model) -> None:
    assert causes(model, [])[0] == "nothing"


def parts_of(case: Case) -> Ledger:
    """The page of question 4 with everything but the joined judgement."""
    ledger = Ledger("mounting")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mounting, "proof", lambda *_: [])
        mounting.parts(case, ledger, quiet)
    return ledger


@pytest.mark.parametrize("name", variants.FIRST)
def test_the_variants_of_the_demo_name_the_guilty_step(name: str, tmp_path: Path) -> None:
    hits, seeds = 0, range(1 if name == "D-7" else 6)
    for seed in seeds:
        case = variants.scanned("inch", tmp_path) if name == "D-7" else variants.variant(name, seed)
        found = weighed_proof(case, parts_of(case), quiet)
        assert found is not None
        rows = cause_rows(Weighing(found.model, found.checks, found.weighed), weighed_scans(case, TELLS))
        hits += rows[0].key in variants.FIRST[name]
    sys.stdout.write(f"{name or 'demo'}: {hits} of {len(seeds)} named right\n")
    assert hits >= max(1, len(seeds) - 1)


@pytest.fixture(scope="module")
def lifted() -> Answer:
    return answer(variants.variant("D-3", 0), ["mounting"])["mounting"]


def test_the_answer_tells_the_cause_what_to_do_and_how_often_it_errs(lifted: Answer) -> None:
    assert "most likely the cast moved on the right while the stone set" in lifted.headline.lower()
    table = next(t for t in lifted.tables if t.title.startswith("Causes"))
    assert table.rows[0][4] == "remount with the same record"
    assert any("of 100 that are off by more than 0.4 mm" in n for n in lifted.notes)
    assert isinstance(lifted.evidence, MountingEvidence)
    assert lifted.evidence.causes[0].key == "set_right"
    assert all(isinstance(c, Cause) and 0.0 <= c.chance <= 1.0 for c in lifted.evidence.causes)
    assert lifted["off_right"].low is not None
    assert lifted["off_right"].low <= lifted["off_right"].value <= lifted["off_right"].high  # type: ignore[operator]


def test_the_demo_has_nothing_to_remount() -> None:
    found = answer(kestrel.case(), ["mounting"])["mounting"]
    assert "nothing to remount: it is record 3 that stands out" in found.headline.lower()
    assert found.verdict is not Verdict.DISAGREES


@pytest.mark.parametrize(("play", "assumed"), [("0", False), ("0.03", False), (None, True)])
def test_an_articulator_without_play_is_a_reading(play: str | None, assumed: bool) -> None:
    instrument = kestrel.case().instrument
    assert instrument is not None
    given = instrument.model_copy(update={"play_mm": None if play is None else float(play)})
    page = Ledger("mounting")
    made = model_of(kestrel.case().model_copy(update={"instrument": given}), page, Ledger("record"))
    assert any("play of the locked" in a.what for a in page.assumptions) is assumed
    assert np.all(np.isfinite(made.network.honest_cov))


def test_record_1_off_asks_for_the_check_that_tells_most_a_minute() -> None:
    case = kestrel.case(proof={"seatings": [{"record": "record 1", "found": "stands off", "where": "right"}]})
    found = answer(case, ["mounting"])["mounting"]
    asked = found.needs[0]
    assert "minutes whether" in asked.why
    assert asked.field


def test_attempts_are_listed_and_choosing_among_them_is_said_aloud() -> None:
    one = {"date": "2026-03-02", "record": "record 1", "kept": False, "why": "left open"}
    case = kestrel.case(proof={"attempts": [one, one, {"record": "record 1", "kept": True}]})
    found = answer(case, ["mounting"])["mounting"]
    assert "3 mountings were tried: choosing among remounts" in found.headline
    assert any(f"{best_of(3):.2f} times as large" in n for n in found.notes)
    table = next(t for t in found.tables if t.title == "Every mounting of this case")
    assert len(table.rows) == 3
    once = answer(kestrel.case(proof={"attempts": [one]}), ["mounting"])["mounting"]
    assert "were tried" not in once.headline


def test_a_case_without_any_check_is_not_weighed() -> None:
    ledger = Ledger("mounting")
    assert proof(Case(code="T"), ledger, quiet) == []
    assert not ledger.verdicts


def test_every_cause_has_words_an_action_and_minutes(model: Model) -> None:
    assert set(model.hypotheses.causes()) <= set(CAUSES)
    assert all(c.minutes >= 0.0 and c.words and c.action for c in CAUSES.values())


@pytest.mark.parametrize("to", ["lab", "dentist"])
def test_the_message_has_measurement_limit_and_request_and_blames_no_one(to: str) -> None:
    case = variants.variant("D-3", 0)
    sheet = answer(case, ["record", "mounting"])
    text = message(case, sheet, to).text()  # type: ignore[arg-type]
    assert "KESTREL-0417" in text
    assert "mm" in text
    assert "redo above" in text
    assert "please" in text
    for word in ("fault", "mistake", "wrong", "guilty", "blame", "your error", "careless"):
        assert word not in text.lower()


def test_the_message_is_said_in_german() -> None:
    from mountproof.said import render

    case = kestrel.case()
    text = render(message(case, answer(case, ["record", "mounting"])).text(), "de")
    assert "Das wurde gemessen" in text
    assert "Vielen Dank." in text
