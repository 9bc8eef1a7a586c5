"""D-7: scans in another unit, mirrored or exchanged are the first cause, and the bench is weighed all the same."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from answers import kestrel, variants
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import MountingEvidence
from mountproof.answers.proof_causes import TELLS
from mountproof.answers.proof_scans import ask_of_scans, weighed_scans
from mountproof.answers.proof_words import SCANS
from mountproof.answers.result import Verdict, Why
from mountproof.answers.scan_evidence import refused, scans_seen
from mountproof.answers.sheet import answer
from mountproof.case.model import Case
from mountproof.doubt.faults import scan_faults
from mountproof.said import render

_WRONG = {
    "inch": "scan_unit",
    "metre": "scan_unit",
    "mirrored": "scan_mirrored",
    "mirrored, no numbers": "scan_turned",
    "rewound": "scan_sides",
    "swapped arches": "scan_arches",
    "swapped arches, no numbers": "scan_arches",
    "swapped sides": "scan_sides",
}


@pytest.mark.parametrize("kind", _WRONG)
def test_scans_that_are_not_what_is_said_come_first_with_their_own_words_and_cost(
    kind: str, tmp_path: Path
) -> None:
    found = answer(variants.scanned(kind, tmp_path), ["mounting"])["mounting"]
    cause = SCANS[_WRONG[kind]]
    assert found.headline.startswith("The scans, not the mounting: ")
    assert cause.words[1:] in found.headline
    # the bench is weighed all the same, and said after it
    assert "record 3 that stands out" in found.headline
    assert isinstance(found.evidence, MountingEvidence)
    first = found.evidence.causes[0]
    assert (first.key, first.action, first.minutes) == ("scans", cause.action, cause.minutes)
    assert first.chance > 0.8 and first.speaks
    table = next(t for t in found.tables if t.title.startswith("Causes"))
    assert table.rows[0][4] == cause.action
    # what to do is asked for first, by what was seen
    assert found.needs[0].field == "scans" and found.needs[0].why in first.speaks[0]
    assert any(r.why is Why.FAULTY for r in found.reasons)


def test_the_judgement_of_the_mounting_is_left_alone_by_the_scans(tmp_path: Path) -> None:
    bench = answer(kestrel.case(), ["mounting"])["mounting"]
    off = answer(variants.scanned("inch", tmp_path), ["mounting"])["mounting"]
    assert off.verdict is bench.verdict
    same = [q.key for q in bench.quantities if q.key.startswith("off_")]
    assert same and all(off[key].value == pytest.approx(bench[key].value) for key in same)


@pytest.mark.parametrize("kind", ["in order", "in order, numbered", "rewound, no numbers"])
@pytest.mark.parametrize("compared", [False, True])
def test_what_the_shape_does_not_tell_stays_a_question(kind: str, compared: bool, tmp_path: Path) -> None:
    """A mirrored mesh whose triangles were turned along looks like any other arch: no cause, but it is asked for."""
    case = variants.scanned(kind, tmp_path, compared=compared)
    weighed = weighed_scans(case, TELLS)
    assert weighed is not None and weighed.chance < 0.03
    found = answer(case, ["mounting"])["mounting"]
    assert "the scans" not in found.headline.lower()
    asked = [n for n in found.needs if n.field == "scans.sides_compared"]
    assert bool(asked) is (not compared and kind != "in order, numbered")
    if asked:
        assert "patient's mouth" in asked[0].reading and found.needs[0] is not asked[0]


def test_a_tooth_that_was_compared_leaves_only_a_mesh_that_faces_inwards(tmp_path: Path) -> None:
    case = variants.scanned("mirrored, no numbers", tmp_path, compared=True)
    weighed = weighed_scans(case, TELLS)
    assert weighed is not None and weighed.cause == SCANS["scan_turned"] and weighed.chance > 0.9
    assert refused(case) is None  # an inside that is outside is asked about, and stops nothing


def test_the_chance_is_that_of_bayes_by_hand(tmp_path: Path) -> None:
    """One finding of unit in unnumbered scans that face outwards: all modes by hand, two at once at most."""
    case = variants.scanned("inch", tmp_path)
    weighed = weighed_scans(case, TELLS)
    assert weighed is not None and not weighed.seen.paired and not weighed.seen.compared
    odds = {m.key: m.odds / (1.0 - m.odds) for m in scan_faults()}
    keys = list(odds)
    sets = [(), *((k,) for k in keys), *((a, b) for i, a in enumerate(keys) for b in keys[i + 1 :])]

    def chance(acting: tuple[str, ...], shows: dict[str, float], otherwise: float) -> float:
        return 1.0 - (1.0 - otherwise) * math.prod(1.0 - shows.get(k, 0.0) for k in acting)

    weight = {
        acting: math.prod(odds[k] for k in acting)
        * chance(acting, {"scan_unit": 0.98}, 0.001)
        * (1.0 - chance(acting, {"scan_turned": 0.98, "scan_mirrored": 0.5}, 0.001))
        for acting in sets
    }
    assert weighed.chance == pytest.approx(1.0 - weight[()] / sum(weight.values()), rel=1e-9)


def test_scans_alone_without_any_check_on_the_bench(tmp_path: Path) -> None:
    variants.scanned("inch", tmp_path)
    scan = '[[scans]]\narch = "upper"\nfile = "upper.stl"\nunit = "mm"\n'
    from mountproof.case.files import parse_case

    found = answer(parse_case(f'code = "x"\n{scan}', folder=tmp_path), ["mounting"])["mounting"]
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.headline.startswith("The scans, not the mounting: ")
    assert "no check on the bench was entered" in found.reasons[-1].text or any(
        "no check on the bench was entered" in r.text for r in found.reasons
    )


def test_a_mounting_in_order_is_said_to_be_so_beside_scans_that_are_not(tmp_path: Path) -> None:
    """Without record 3, which stands out, nothing on the bench points at a fault; the scans still come first."""
    kept = kestrel.case(proof={"seatings": [{"record": "record 1", "found": "seats fully"}]})
    bad = variants.scanned("inch", tmp_path)
    case = bad.model_copy(update={"marks": None, "proof": kept.proof, "foils": ()})
    found = answer(case, ["mounting"])["mounting"]
    first, second = found.headline.split("; ")[:2]
    assert first.startswith("The scans, not the mounting: ")
    assert second.startswith("no check on the bench points at a fault of the mounting (")
    table = next(t for t in found.tables if t.title.startswith("Causes"))
    nothing = [r for r in table.rows if r[0] == "Nothing is wrong"]
    assert not nothing or float(nothing[0][1].removesuffix(" %")) < 5


def test_a_further_scan_is_not_held_against_scans_that_are_refused(tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    more = (
        '\n[[casts.other_scans]]\narch = "upper"\nfile = "lower.stl"\nunit = "mm"\nshows = "another cast"\n'
        "lies_alike = true\n"
    )
    found = answer(variants.scanned("swapped arches", tmp_path, more), ["mounting"])["mounting"]
    assert found.headline.startswith("The scans, not the mounting: ")
    assert not any("in shape" in t.title for t in found.tables)
    assert refused(variants.scanned("swapped arches", tmp_path)) is not None


def test_a_placement_that_mirrors_is_a_matter_of_the_scans(tmp_path: Path) -> None:
    case = variants.scanned("in order", tmp_path)
    text = (tmp_path / "case.toml").read_text() if (tmp_path / "case.toml").exists() else ""
    assert text == ""  # the case is made in memory: its placement is changed there
    upper = case.scans[0]
    mirror = tuple(tuple(float(i == j) * (-1.0 if i == j == 2 else 1.0) for j in range(4)) for i in range(4))
    placement = upper.placement.model_copy(update={"frame_from_scan": mirror})
    changed = case.model_copy(
        update={"scans": (upper.model_copy(update={"placement": placement}), *case.scans[1:])}
    )
    weighed = weighed_scans(changed, TELLS)
    assert weighed is not None and weighed.cause == SCANS["scan_sides"] and weighed.chance > 0.8


def test_a_case_without_scans_is_weighed_without_them() -> None:
    assert weighed_scans(kestrel.case(), TELLS) is None
    ledger = Ledger("mounting")
    ask_of_scans(kestrel.case(), ledger)
    assert not ledger.needs


def test_a_file_that_is_broken_or_gone_is_left_to_the_answers_that_rest_on_it(tmp_path: Path) -> None:
    case = variants.scanned("in order", tmp_path)
    for name in ("upper.stl", "lower.stl"):
        (tmp_path / name).write_bytes(b"solid x\nendsolid x\n")
    again = Case.model_validate(case.model_dump())
    again._folder = tmp_path
    assert scans_seen(again) is None and weighed_scans(again, TELLS) is None


def test_every_mode_of_the_scans_has_words_and_they_are_said_in_german(tmp_path: Path) -> None:
    assert set(SCANS) == {m.key for m in scan_faults()}
    assert all(c.minutes > 0.0 and c.action for c in SCANS.values())
    found = answer(variants.scanned("inch", tmp_path), ["mounting"])["mounting"]
    said = render(found.headline, "de")
    assert said.startswith("Die Scans, nicht die Montage: ")
