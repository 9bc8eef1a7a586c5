"""A further scan of an arch against the scan of the case: what was planted is said, with its sign; a clean one agrees."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from answers.record_scan_case import AWAY, CASTS, arch, write_casts
from mountproof.answers.ledger import Ledger
from mountproof.answers.other_scans import other_scans
from mountproof.answers.result import Verdict, Why, worst
from mountproof.case.files import parse_case
from mountproof.case.limits import Limits
from mountproof.case.model import Case
from mountproof.case.scans import write_stl
from mountproof.geometry.deformation import FLEXURE, measure_of, shape_motion
from mountproof.geometry.poses import Array, transform
from mountproof.phantom.record_scan import cusp_of
from mountproof.phantom.variants import narrowed

_PICKED = (46, 41, 36)


def _case(folder: Path, vertices: Array, *, start: str = "points", shows: str = "another cast") -> Case:
    """The casts of the phantom, and ``vertices`` of the lower as another scanner saw them in coordinates of its own."""
    write_casts(folder)
    made = arch("lower")
    rng = np.random.default_rng(0)
    pose = AWAY if start == "points" else np.eye(4)
    seen = transform(pose, vertices + rng.normal(0.0, 0.005, vertices.shape))
    write_stl(folder / "again.stl", seen, made.faces, head="again")
    pairs = []
    for tooth in _PICKED:
        at = cusp_of(made, tooth, "lower")
        there = transform(pose, at + rng.normal(0.0, 0.15, 3))
        pairs.append(f'{{ name = "{tooth}", scan = {at.tolist()}, other = {there.tolist()} }}')
    where = {"points": f"points = [{', '.join(pairs)}]", "alike": "lies_alike = true", "none": ""}[start]
    text = f"""code = "OTHER"
{CASTS}
[[casts.other_scans]]
arch = "lower"
file = "again.stl"
unit = "mm"
shows = "{shows}"
{where}
"""
    return parse_case(text, folder=folder)


def _page(case: Case) -> tuple[Ledger, list[str]]:
    ledger = Ledger("mounting")
    return ledger, other_scans(case, ledger)


def _moved(shape: str, amount: float) -> Array:
    v = arch("lower").vertices_mm
    moved: Array = v + amount * shape_motion(shape, v, measure_of(v))
    return moved


@pytest.mark.parametrize("start", ["points", "alike"])
def test_the_same_cast_scanned_again_agrees(tmp_path: Path, start: str) -> None:
    ledger, says = _page(_case(tmp_path, arch("lower").vertices_mm, start=start))
    assert says == ["the scan of the lower cast and again.stl agree in shape"]
    assert worst(tuple(ledger.verdicts)) is Verdict.AGREES
    (found,) = ledger.finds
    assert found.key == "other_scan" and found.parts == ("width", "twist")
    assert abs(found.values[0]) < 0.005 and abs(found.values[1]) < 0.02


def test_a_narrow_scan_makes_the_cast_the_wider(tmp_path: Path) -> None:
    ledger, says = _page(_case(tmp_path, narrowed(arch("lower")).vertices_mm))
    assert "mm wider than in again.stl" in says[0]
    assert len(says) == 1
    assert 0.13 < ledger.finds[0].values[0] < 0.18  # 0.15 at the second molars, more at the rim
    assert worst(tuple(ledger.verdicts)) is Verdict.DOUBTFUL


def test_two_scans_of_one_cast_that_differ_are_a_matter_of_scanning(tmp_path: Path) -> None:
    ledger, says = _page(_case(tmp_path, narrowed(arch("lower")).vertices_mm, shows="the same cast again"))
    assert "mm wider than in again.stl" in says[0]
    assert not ledger.finds
    assert any(n.reading.startswith("the lower cast scanned once more") for n in ledger.needs)
    assert not any("impression" in n.reading for n in ledger.needs)


@pytest.mark.parametrize("amount", [0.2, 0.35])
def test_a_twist_is_a_twist(tmp_path: Path, amount: float) -> None:
    ledger, says = _page(_case(tmp_path, _moved("twist", -amount)))
    assert says[0].startswith("the lower cast is twisted against again.stl") and "upwards" in says[0]
    assert len(says) == 1
    found, cov = ledger.finds[0].values[1], ledger.finds[0].cov[1, 1]
    assert abs(found - amount) < 2.0 * np.sqrt(cov) + 0.05 * amount
    limit = Limits().cross_arch_width
    sure = bool(abs(found) - 2.0 * np.sqrt(cov) > limit.redo)
    assert (Verdict.DISAGREES in ledger.verdicts) is sure
    assert sure is (amount > 0.3)


def test_a_scan_that_grew_all_over_is_larger_and_not_wider(tmp_path: Path) -> None:
    _, says = _page(_case(tmp_path, 1.003 * arch("lower").vertices_mm))
    assert says == ["the lower cast is 0.30 % smaller all over than in again.stl"]


def test_a_jaw_that_stood_open_is_told_from_a_shrunk_cast(tmp_path: Path) -> None:
    # The other scan is wider at the back than the cast: the cast carries the bend.
    ledger, says = _page(_case(tmp_path, _moved(FLEXURE, 0.3)))
    assert "narrower than again.stl" in says[0] and "not at the front" in says[0]
    assert any("times likelier" in note for note in ledger.notes)
    assert any(n.field == "casts.impression_opening_mm" for n in ledger.needs)


def test_a_lump_is_named_by_its_tooth(tmp_path: Path) -> None:
    v = arch("lower").vertices_mm
    near = np.linalg.norm(v - cusp_of(arch("lower"), 46, "lower"), axis=1)
    # Cut away in the other scan: the lump stands on the cast.
    cut = v - 0.2 * np.clip(3.0 - near, 0.0, 1.0)[:, None] * np.array([0.0, 1.0, 0.0])
    ledger, says = _page(_case(tmp_path, cut))
    assert len(says) == 1
    assert says[0].startswith("something stands 0.") and "at 46" in says[0]
    assert any("46" in row[0] for t in ledger.tables for row in t.rows)


def test_without_a_word_on_where_it_lies_points_are_asked_for(tmp_path: Path) -> None:
    ledger, says = _page(_case(tmp_path, arch("lower").vertices_mm, start="none"))
    assert not says and not ledger.verdicts
    assert [n.field for n in ledger.needs] == ["casts.other_scans.1.points"]


def test_a_typed_reading_does_not_lay_the_scan_anew(tmp_path: Path) -> None:
    from mountproof.answers import other_scans as module

    case = _case(tmp_path, arch("lower").vertices_mm)
    _page(case)
    before = module._held.cache_info()
    _page(case.model_copy(update={"code": "AGAIN"}))
    after = module._held.cache_info()
    assert after.hits == before.hits + 1 and after.misses == before.misses


def test_no_further_scan_says_nothing(tmp_path: Path) -> None:
    ledger, says = _page(parse_case('code = "X"', folder=tmp_path))
    assert not says and not ledger.needs


def test_one_scan_that_cannot_be_used_keeps_no_other_check_from_being_made(tmp_path: Path) -> None:
    """In inches a further scan is refused, with what to do; the rest of question 4 goes on."""
    ledger, says = _page(_case(tmp_path, arch("lower").vertices_mm / 25.4, start="alike"))
    assert says == [] and ledger.verdicts == [Verdict.CANNOT_TELL]
    (reason,) = ledger.reasons
    assert reason.why is Why.FAULTY and "again.stl" in reason.text and "read as inches" in reason.text
    assert "unit" in ledger.needs[0].reading and ledger.needs[0].field == "casts.other_scans.1"


def test_two_points_are_told_to_be_too_few(tmp_path: Path) -> None:
    case = _case(tmp_path, arch("lower").vertices_mm)
    (entry,) = case.casts.other_scans
    two = case.casts.model_copy(
        update={"other_scans": (entry.model_copy(update={"points": entry.points[:2]}),)}
    )
    ledger, says = _page(case.model_copy(update={"casts": two}))
    assert says == [] and ledger.verdicts == [Verdict.CANNOT_TELL]
    assert "two points were picked on the lower cast" in ledger.reasons[0].text.lower()
    assert "one more point" in ledger.needs[0].reading
    assert ledger.needs[0].field == "casts.other_scans.1.points"
