"""Question 6: settings from the marks of the demo and from scanned relations, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mountproof.answers.guidance_paths import excursions
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case
from mountproof.geometry.carry import exact
from mountproof.phantom import kestrel, truth
from mountproof.phantom.truth import Condyles, pose_of
from mountproof.records.settings import horizontal, translation_split
from surfaces.cli_bench import bench_case, matrix_text


def asked(case: Case) -> Answer:
    """The answer to question 6."""
    return answer(case, ["guidance"])["guidance"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Answer:
    return asked(load_case(bench_case(tmp_path_factory.mktemp("guidance") / "c")))


def test_the_demo_tells_both_joints_and_the_truth_lies_inside(demo: Answer) -> None:
    # The made-up jaw goes 38 and 33 degrees down; a table read once to 0.05 mm tells it to some degrees.
    for side, true in (("right", 38.0), ("left", 33.0)):
        told = demo[f"horizontal_{side}"]
        assert told.u is not None and 1.5 < told.u < 4.0
        assert told.low is not None and told.high is not None and told.low < true < told.high
    assert demo.verdict is Verdict.DOUBTFUL
    assert "axis-orbital" in demo.headline


def test_the_demo_refuses_what_its_table_does_not_carry(demo: Answer) -> None:
    keys = {q.key for q in demo.quantities}
    assert not keys & {"lateral_right", "lateral_left", "immediate_right", "progressive_left"}
    untold = [r.text for r in demo.reasons if r.why is Why.NOT_CARRIED]
    assert len(untold) == 4 and any("one amount" in t for t in untold)


def test_the_jaw_going_left_sets_the_right_joint(demo: Answer) -> None:
    # 42 degrees of the right joint in the left lateral, 37 of the left one in the right lateral.
    for side, true in (("right", 42.0), ("left", 37.0)):
        told = demo[f"sideways_{side}"]
        assert told.low is not None and told.high is not None and told.low < true < told.high


def relations(records: dict[str, tuple[str, Condyles]], more: str = "") -> Case:
    """A case of relations alone, in the frame."""
    head = 'schema_version = 1\ncode = "GUIDED-1"\n' + more
    body = "".join(
        f'\n[records."{name}"]\nkind = "{kind}"\nrelation_in = "frame coordinates"\n'
        f"upper_from_lower = {matrix_text(pose_of(where))}\n"
        for name, (kind, where) in records.items()
    )
    return parse_case(head + body)


def going(forward: float, down: float, medial: float, *, moving: str, pitch: float = 1.0) -> Condyles:
    """A lower whose one condyle goes forward, down and inward; the other gives way to the side, 110 mm being kept."""
    away = medial - (110.0 - float(np.sqrt(110.0**2 - forward**2 - down**2)))
    left = 1.0 if moving == "right" else -1.0  # to the left is positive
    moved, still = (forward, left * medial, -down), (0.0, left * away, 0.0)
    return Condyles(moved, still, pitch) if moving == "right" else Condyles(still, moved, pitch)


STILL = Condyles((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 2.0)


def slope(deg: float) -> float:
    return float(np.tan(np.radians(deg)))


@pytest.mark.parametrize("moving", ["right", "left"])
def test_two_amounts_tell_shift_and_slope_of_the_joint_that_moved(moving: str) -> None:
    kind = "left lateral" if moving == "right" else "right lateral"
    shift, angle = 0.4, 8.0
    records = {"centric": ("CR", STILL)}
    for n, forward in enumerate((3.0, 6.5)):
        records[f"side {n}"] = (
            kind,
            going(forward, forward * slope(40.0), shift + forward * slope(angle), moving=moving),
        )
    case = relations(records, "record_repeat_mm = 0.01\n")
    found = asked(case)
    assert found[f"sideways_{moving}"].value == pytest.approx(40.0, abs=0.5)
    # numbers of a scanner are known to some tenths at a condyle: too little to part a shift from a slope
    assert any("slope open" in r.text for r in found.reasons)
    paths = [exact(e.paths[moving].values) for e in excursions(case, Ledger("guidance"), quiet)]
    split = translation_split(paths, 1 if moving == "left" else -1)
    assert split.immediate is not None and split.progressive is not None
    assert split.immediate.value == pytest.approx(shift, abs=1e-6)
    assert np.degrees(split.progressive.value) == pytest.approx(angle, abs=1e-4)
    other = "left" if moving == "right" else "right"
    assert not any(q.key.endswith(other) for q in found.quantities)


def test_angles_turn_with_the_plane_and_teeth_do_not() -> None:
    moved = Condyles((5.0, 0.0, -5.0 * slope(38.0)), (5.0, 0.0, -5.0 * slope(33.0)), 0.8)
    records = {"centric": ("CR", STILL), "ahead": ("protrusive", moved)}
    flat = asked(relations(records))
    tilted = asked(relations(records, '\n[plane]\nname = "Camper"\ntilt_deg = "10 +- 1"\n'))
    for side in ("right", "left"):
        a, b = flat[f"horizontal_{side}"], tilted[f"horizontal_{side}"]
        assert a.value - b.value == pytest.approx(10.0, abs=1e-6)
        assert a.u is not None and b.u == pytest.approx(float(np.hypot(a.u, 1.0)), rel=1e-3)
    assert flat["horizontal_right"].value == pytest.approx(38.0, abs=1e-3)
    assert any("no plane was stated" in a.source for a in flat.assumptions)


def test_a_short_protrusion_cannot_tell() -> None:
    moved = Condyles((2.0, 0.0, -1.3), (2.0, 0.0, -1.3), 0.5)
    found = asked(relations({"centric": ("CR", STILL), "ahead": ("protrusive", moved)}))
    assert found.verdict is Verdict.CANNOT_TELL
    assert any("less than 3 mm" in r.text for r in found.reasons)


def test_joints_that_differ_oddly_are_told() -> None:
    moved = Condyles((5.5, 0.0, -5.5 * slope(50.0)), (5.5, 0.0, -5.5 * slope(20.0)), 0.5)
    found = asked(relations({"centric": ("CR", STILL), "ahead": ("protrusive", moved)}))
    assert any("joints differ by 30 degrees" in r.text for r in found.reasons)


def test_nothing_measured_asks_for_records() -> None:
    found = asked(relations({"centric": ("CR", STILL)}))
    assert found.verdict is Verdict.CANNOT_TELL and not found.quantities
    assert len(found.needs) == 3


def test_excursions_without_centric_relation_ask_for_it() -> None:
    moved = Condyles((5.0, 0.0, -3.5), (5.0, 0.0, -3.5), 0.8)
    found = asked(relations({"ahead": ("protrusive", moved)}))
    assert found.verdict is Verdict.CANNOT_TELL
    assert any("begins in centric relation" in n.why for n in found.needs)


def test_intervals_of_simulated_tables_cover_the_truth(tmp_path: Path) -> None:
    base = load_case(bench_case(tmp_path / "c"))
    assert base.marks is not None
    inside = tried = 0
    for seed in range(40):
        read = truth.readings(seed)[:, :, 0]
        case = with_table(base, read)
        found = [e for e in excursions(case, Ledger("guidance"), quiet) if e.kind.value == "protrusive"]
        for side, true in (("right", 38.0), ("left", 33.0)):
            told = horizontal(found[0].paths[side])
            assert told.angle is not None
            u = float(np.degrees(told.angle.u))
            inside += abs(np.degrees(told.angle.value) - true) < 1.96 * u
            tried += 1
    assert 0.88 <= inside / tried <= 1.0


def with_table(base: Case, read: np.ndarray) -> Case:  # type: ignore[type-arg]
    """The case with another table of the same pairs and states."""
    assert base.marks is not None
    text = "\n".join(
        "  ".join([f"{pair[0]}-{pair[1]}", *(f"{v:.2f}" for v in row)])
        for pair, row in zip(kestrel.TABLE_MM, read, strict=True)
    )
    grid = "pair  " + "  ".join(kestrel.STATES) + "\n" + text + "\n"
    marks = type(base.marks).model_validate({**base.marks.model_dump(), "readings_mm": grid})
    return base.model_copy(update={"marks": marks})
