"""Question 8: the doubt taken apart, what checks leave of it, every number with all steps, and what to measure next."""

from __future__ import annotations

import ast
import math
import re
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from answers import kestrel
from mountproof.answers import doubt
from mountproof.answers.doubt_better import Known, middle_of, ways
from mountproof.answers.doubt_budget import PLACES, WANTED, Ground, budgets, ground_of, steps_in
from mountproof.answers.doubt_chain import chain_of
from mountproof.answers.doubt_checked import Checked, checked, choices_of, log_likelihood
from mountproof.answers.doubt_engines import whole_motions
from mountproof.answers.doubt_numbers import MOVED, UNTOUCHED, reach_of, why_untouched
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import DoubtEvidence
from mountproof.answers.progress import quiet
from mountproof.answers.result import K95, Answer, Verdict
from mountproof.answers.sheet import answer
from mountproof.answers.words import BY_KEY, QUESTIONS
from mountproof.case.model import Case
from mountproof.doubt.blocks import sample
from mountproof.doubt.causes import Look
from mountproof.doubt.motions import MIDDLE_MM
from mountproof.doubt.network import JUDGED
from mountproof.doubt.outcomes import drawn_outcomes
from mountproof.doubt.outcomes import rows as numbers_of

ROOT = Path(__file__).parents[2]
SRC = ROOT / "src" / "mountproof" / "answers"


@pytest.fixture(scope="module")
def demo() -> Answer:
    return answer(kestrel.case(), ["doubt"])["doubt"]


@pytest.fixture(scope="module")
def empty() -> Answer:
    return answer(Case(code="EMPTY"), ["doubt"])["doubt"]


def bare(**more: Any) -> Ground:
    case = Case(code="BARE", **more)
    return ground_of(case, chain_of(case, Ledger("doubt"), None))


def evidence(found: Answer) -> DoubtEvidence:
    assert isinstance(found.evidence, DoubtEvidence)
    return found.evidence


def test_it_reads_whatever_its_numbers_rest_on() -> None:
    every = {part for q in QUESTIONS if q.key != "doubt" for part in q.reads}
    assert set(BY_KEY["doubt"].reads) == every | {"doubt", "followups"}


def test_the_demo_names_a_step_its_doubt_and_what_would_lessen_it(demo: Answer) -> None:
    budget = evidence(demo).budgets[1]
    first = budget.bars[0]
    assert first.words in demo.headline
    assert f"{100 * first.share:.0f} %" in demo.headline
    assert f"{K95 * budget.u:.2f}" in demo.headline
    assert demo.verdict is Verdict.CANNOT_TELL
    assert (
        0.1 < budget.u < 0.3
    )  # about 0.2 mm (1 SD) at a second molar in an ordinary mounting: own arithmetic
    best = evidence(demo).better[0]
    assert best.u_then < best.u_now == pytest.approx(budget.u)
    assert demo.needs[0].reading == best.words
    assert f"{K95 * best.u_then:.2f}" in demo.needs[0].why


def test_nothing_is_asked_for_that_is_there(demo: Answer) -> None:
    """The demo has foil in the mouth and on the mounting, re-seatings, marks before and after set, and four records."""
    assert {"foils", "marks.reseat_mm", "marks.states"}.isdisjoint(n.field for n in demo.needs)
    assert not any("record 3" in n.reading for n in demo.needs)
    assert all(n.field for n in demo.needs)


def test_shares_add_up_to_the_whole(demo: Answer, empty: Answer) -> None:
    for found in (demo, empty):
        for budget in evidence(found).budgets:
            assert sum(b.share for b in budget.bars) == pytest.approx(1.0, abs=0.02)
            assert [b.share for b in budget.bars] == sorted((b.share for b in budget.bars), reverse=True)
            assert all(b.low <= b.share <= b.high for b in budget.bars)
    for budget in evidence(empty).budgets:  # nothing was checked: every step by itself
        assert budget.prior_u is None
        assert math.hypot(*(b.sd_mm for b in budget.bars)) == pytest.approx(budget.u)
        assert sum(b.share for b in budget.bars) == pytest.approx(1.0)


def test_checks_lessen_the_doubt(demo: Answer) -> None:
    for budget in evidence(demo).budgets:
        assert budget.prior_u is not None
        assert budget.u <= budget.prior_u


def test_an_empty_case_says_that_nothing_was_measured(empty: Answer) -> None:
    assert empty.verdict is Verdict.CANNOT_TELL
    assert "never measured" in empty.headline
    assert empty.needs and all(b.assumed for b in evidence(empty).budgets[0].bars)
    assert all(q.assumed for q in empty.quantities)


def test_what_was_measured_is_not_assumed() -> None:
    own = answer(Case(code="OWN", record_repeat_mm=0.12, record_repeat_dof=24), ["doubt"])["doubt"]
    bar = next(b for b in evidence(own).budgets[0].bars if b.key == "record")
    assert not bar.assumed
    assert bar.low < bar.share < bar.high  # 24 degrees of freedom leave the share itself open


@pytest.mark.parametrize(
    "stops", [((60.0, 24.0), (62.0, -20.0), (88.0, 6.0)), ((55.0, 26.0), (70.0, 20.0), (80.0, -15.0))]
)
def test_the_mirrored_case_has_the_mirrored_budget(stops: tuple[tuple[float, float], ...]) -> None:
    def of(sign: float) -> dict[str, float]:
        records = {
            "a": {"kind": "CR", "stops": [{"ahead_mm": x, "right_mm": sign * z} for x, z in stops]},
        }
        found = answer(Case(code="SIDE", records=records, mounted_on="a"), ["doubt"])["doubt"]
        return {q.key: q.u or 0.0 for q in found.quantities}

    right, left = of(1.0), of(-1.0)
    assert right["u_molar_right"] != pytest.approx(right["u_molar_left"], rel=1e-3)
    assert right["u_molar_right"] == pytest.approx(left["u_molar_left"], rel=1e-12)
    assert right["u_molar_left"] == pytest.approx(left["u_molar_right"], rel=1e-12)
    for key in ("u_incisors", "u_ahead", "u_right"):
        assert right[key] == pytest.approx(left[key], rel=1e-12)


def test_no_check_leaves_the_steps_as_they_were_bit_for_bit() -> None:
    ground = bare()
    found = checked(ground, ())
    assert found.cov is ground.joined.cov or np.array_equal(found.cov, ground.joined.cov)
    assert np.array_equal(found.mean, ground.joined.centre)
    assert found.felt is None and not found.any and found.surprise == 1.0


def checks_for(ground: Ground) -> tuple[Look, ...]:
    """A split cast with a second record, and what moved during set, with honest noise; found values are put in later."""
    network = ground.chain.chain.network
    split = (network.against(1) @ network.honest)[:3]
    moved = (network.pick("set") @ network.honest)[:3]
    none = np.zeros((3, 0))
    return (
        Look("split_cast", "the split cast", split, none, np.zeros(3), np.diag([0.05, 0.0012, 0.001]) ** 2),
        Look("set_movement", "during set", moved, none, np.zeros(3), np.diag([0.03, 0.001, 0.0008]) ** 2),
    )


TWO = {"records": {"a": {"kind": "CR"}, "b": {"kind": "CR"}}, "mounted_on": "a"}


def test_intervals_hold_the_truth_after_split_cast_and_marks() -> None:
    """Of 2 000 simulated mountings 93 to 97 % lie inside their 95 % interval, before and after the checks."""
    ground = bare(**TWO)
    rng = np.random.default_rng(11)
    looks = checks_for(ground)
    truth = sample(ground.joined, 2000, rng)
    rows = ground.rows[[0, 6, 8]]
    held, prior, spread = np.zeros(3), np.zeros(3), 0.0
    for z in truth:
        read = tuple(
            one._replace(values=one.honest @ z + rng.multivariate_normal(np.zeros(3), one.cov))
            for one in looks
        )
        found = checked(ground, read)
        u = np.sqrt(np.diag(rows @ found.cov @ rows.T))
        held += np.abs(rows @ (z - found.mean)) <= K95 * u
        prior += np.abs(rows @ z) <= K95 * np.sqrt(np.diag(rows @ ground.joined.cov @ rows.T))
        spread += found.surprise < 0.05
    assert np.all(np.abs(held / 2000 - 0.95) < 0.02)
    assert np.all(np.abs(prior / 2000 - 0.95) < 0.02)
    assert abs(spread / 2000 - 0.05) < 0.02  # surprises are as rare as they say


def test_intervals_hold_the_truth_after_a_hand_felt_the_record() -> None:
    """A record tried on the mounting: 300 mountings, felt by hands that scatter as stated; 95 % within four errors."""
    proof = {"seatings": [{"record": "b", "found": "seats fully"}]}
    case = Case(code="FELT", proof=proof, **TWO)
    ground = ground_of(case, chain_of(case, Ledger("doubt"), None))
    (choice,) = choices_of(case, ground.chain.chain.network)
    _, about = numbers_of((choice,))
    rng = np.random.default_rng(12)
    truth = sample(ground.joined, 300, rng)
    called = drawn_outcomes((choice,), truth @ about.honest.T, rng)[0]
    made: dict[int, Checked] = {i: checked(ground, (), (choice._replace(found=int(i)),)) for i in set(called)}
    row = ground.rows[0]
    held = [
        abs(float(row @ (z - made[i].mean))) <= K95 * math.sqrt(float(row @ made[i].cov @ row))
        for z, i in zip(truth, called, strict=True)
    ]
    assert abs(np.mean(held) - 0.95) < 4.0 * math.sqrt(0.95 * 0.05 / 300)
    felt = made[choice.found]
    assert felt.felt is not None and felt.felt.enough and felt.felt.ess <= felt.felt.draws
    assert float(row @ felt.cov @ row) < float(row @ ground.joined.cov @ row)


def test_what_a_hand_calls_adds_up_to_one() -> None:
    proof = {"seatings": [{"record": "b", "found": "stands off", "where": "right"}]}
    case = Case(code="FELT", proof=proof, **TWO)
    ground = ground_of(case, chain_of(case, Ledger("doubt"), None))
    (choice,) = choices_of(case, ground.chain.chain.network)
    rest = choice._replace(outcomes=(choice.outcomes[0], ()), found=1)
    one = choice._replace(outcomes=(choice.outcomes[0], ()), found=0)
    conditions, _ = numbers_of((rest,))
    x = np.linspace(-1.0, 1.0, 41)[:, None] * np.ones((1, len(conditions)))
    both = np.exp(log_likelihood((one,), conditions, x)) + np.exp(log_likelihood((rest,), conditions, x))
    assert both == pytest.approx(np.ones(41), abs=1e-9)


def test_whole_motions_are_those_of_a_general_purpose_library() -> None:
    """Every step's motion one after the other, by SciPy's rotations; and to first order the rows of the budget."""
    ground = bare()
    rng = np.random.default_rng(13)
    z = 40.0 * sample(ground.joined, 5, rng)  # large, so that whole angles matter
    found = np.asarray(whole_motions(ground, ground.joined)(z))
    network = ground.chain.chain.network
    moved = network.pick(*(*JUDGED, "cast", "axis")) @ network.honest
    take = [w.row for w in WANTED]
    for i in range(5):
        at = np.array([p for _, _, p in PLACES])
        for where in ground.joined.columns.values():
            down, pitch, roll, ahead, right, yaw = moved[:, where] @ z[i, where]
            turn = Rotation.from_rotvec([roll, -yaw, -pitch])
            at = turn.apply(at - MIDDLE_MM) + MIDDLE_MM + np.array([ahead, -down, right])
        off = at - np.array([p for _, _, p in PLACES])
        told = np.stack([-off[:, 1], off[:, 0], off[:, 2]], axis=1).reshape(9)
        assert found[i] == pytest.approx(told[take], abs=1e-9)
    small = 1e-4 * z
    assert np.asarray(whole_motions(ground, ground.joined)(small)) == pytest.approx(
        small @ ground.rows[take].T, abs=1e-7
    )


def test_both_ways_of_computing_are_told_side_by_side(empty: Answer) -> None:
    table = next(t for t in empty.tables if "two ways" in t.title)
    assert len(table.rows) == len(WANTED)
    for w, row in zip(WANTED, table.rows, strict=True):
        assert row[0] == w.words
        assert row[3] == "the same"
        assert float(row[1]) == pytest.approx(float(row[2]), abs=0.02)


def test_the_middle_one_of_three_numbers_is_their_median() -> None:
    """Variance of the median of three normal values: 0.4487 (Teichroew 1956, tables of order statistics; from memory)."""
    assert middle_of(3, numbers=1, draws=200_000) == pytest.approx(0.4487, abs=0.006)
    assert 0.0 < middle_of(5) < middle_of(3) < 1.0


def test_what_a_better_measurement_leaves_is_what_draws_say() -> None:
    """Of drawn mountings with the reading made, what a regression on the reading leaves is the u that was foretold."""
    ground = bare(**TWO)
    case = Case(code="BARE", **TWO)
    known = Known(ground.joined.cov, (), ())
    found = {w.key + w.words: w for w in ways(case, ground, known, 0)}
    split = next(w for w in found.values() if w.key == "split_cast")
    rng = np.random.default_rng(14)
    z = sample(ground.joined, 40_000, rng)
    network = ground.chain.chain.network
    rows = (network.against(1) @ network.honest)[:3]
    # the record held in may turn about the hinge by 1.5 thousandths of a radian while it is read
    turn = np.array([MIDDLE_MM[0], 1.0, 0.0])
    noise = np.diag([0.05, 0.0012, 0.001]) ** 2 + 0.0015**2 * np.outer(turn, turn)
    y = z @ rows.T + rng.multivariate_normal(np.zeros(3), noise, size=40_000)
    wanted = z @ ground.rows[0]
    gain, *_ = np.linalg.lstsq(y, wanted, rcond=None)
    assert np.std(wanted - y @ gain) == pytest.approx(float(split.us[0]), rel=0.02)


def test_better_measurements_are_ranked_and_each_lessens_the_doubt(empty: Answer, demo: Answer) -> None:
    for found in (empty, demo):
        better = evidence(found).better
        assert better
        then = np.array([b.u_then for b in better])
        assert np.all(np.diff(then) > -1e-4)
        assert all(b.u_then < b.u_now and b.minutes > 0.0 for b in better)
        assert len({b.words for b in better}) == len(better)


def test_how_many_are_enough_is_said(demo: Answer) -> None:
    assert any("hold the height at the second molars" in n for n in demo.notes)


#: A key that is made of a variable is told apart by the examples only.
_VARIABLE = re.compile(r"^\*+(_\*+)?$")


def _keys() -> set[tuple[str, str]]:
    """Every key of a quantity in the source of the answers: module and key, a star for what is put in."""
    found = set()
    for file in SRC.glob("*.py"):
        if file.stem in ("doubt_budget", "result", "ledger"):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and node.args):
                continue
            name = ast.unparse(node.func)
            if not (name.endswith((".quantity", "Quantity", "Quantity.of"))):
                continue
            key = node.args[0]
            if isinstance(key, ast.Constant):
                found.add((file.stem, str(key.value)))
            elif isinstance(key, ast.JoinedStr):
                parts = [str(v.value) if isinstance(v, ast.Constant) else "*" for v in key.values]
                found.add((file.stem, "".join(parts)))
    return found


def test_every_number_of_the_other_answers_is_in_one_of_the_two_lists() -> None:
    """By the source, and by the page of everything an answer can say; a new number has to be put into one of them."""
    questions = [q.key for q in QUESTIONS if q.key != "doubt"]
    for module, key in sorted(_keys()):
        if _VARIABLE.match(key):
            continue
        known = [q for q in questions if reach_of(q, key) or why_untouched(q, key)]
        assert known, f"{module}: {key} is in neither list of doubt_numbers"
    page = (ROOT / "docs" / "answers.md").read_text(encoding="utf-8")
    for number, question in enumerate(questions, start=1):
        part = page.split(f"## {number} {question}\n")[1].split("\n## ")[0]
        for key in re.findall(r"^\| `(\w+)` \|", part, re.MULTILINE):
            ways_in = (reach_of(question, key) is not None) + (why_untouched(question, key) is not None)
            assert ways_in == 1, f"{question}: {key} is in {ways_in} lists of doubt_numbers"


def test_every_entry_of_the_two_lists_belongs_to_a_question() -> None:
    keys = {q.key for q in QUESTIONS}
    assert all(question in keys for question, _ in (*MOVED, *UNTOUCHED))


def test_every_number_is_told_and_the_steps_only_widen_it(demo: Answer) -> None:
    sheet = answer(kestrel.case())
    count = sum(len(a.quantities) for k, a in sheet.answers.items() if k != "doubt")
    moved = next(t for t in demo.tables if t.title.startswith("Numbers before which"))
    still = next(t for t in demo.tables if t.title.startswith("Numbers that the steps"))
    assert len(moved.rows) + len(still.rows) == count
    for row in moved.rows:
        if row[3].startswith("±"):
            assert float(row[4].removeprefix("± ")) >= float(row[3].removeprefix("± "))
    assert any("slide" in row[1].lower() for row in moved.rows)
    assert not any("not reckoned" in row[4] for row in still.rows)


def test_a_fault_of_the_mounting_is_said_first() -> None:
    """The right side lifted by 0.4 mm while the stone set: question 4 names it, and so does the first line here."""
    case = kestrel.with_state("F", {"UR-LR": 0.45, "UCR-LCR": 0.35, "UR-LCR": 0.3, "UCR-LR": 0.4})
    sheet = answer(case, ["mounting", "doubt"])
    causes = sheet["mounting"].evidence.causes
    assert causes[0].key.startswith("set_")
    assert sheet["doubt"].headline.startswith("First see question 4")
    assert causes[0].words in sheet["doubt"].headline


def test_it_is_quick_once_the_other_questions_are_answered() -> None:
    case = kestrel.case()
    answer(case)
    took = []
    for _ in range(3):
        start = time.perf_counter()
        doubt.answer(case, quiet)
        took.append(time.perf_counter() - start)
    assert min(took) < 0.3
    ground = bare(**TWO)
    start = time.perf_counter()
    found = checked(ground, checks_for(ground))
    budgets(ground, ground.joined.cov, found.cov)
    assert steps_in(ground)
    assert time.perf_counter() - start < 0.05
