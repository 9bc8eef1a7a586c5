"""The numbers of one case among many: those of its own answers, and quickly made."""

from __future__ import annotations

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers.asked import asked
from mountproof.answers.case_numbers import case_numbers
from mountproof.answers.progress import quiet
from mountproof.case.model import Case
from mountproof.records.spread_within import squares_of


def test_numbers_are_those_of_the_answers() -> None:
    case = kestrel.case(course="spring A")
    found = case_numbers(case, quiet, whole=True)
    mounting = asked(case, "mounting", quiet)
    for key in ("found_minus_predicted", "lift", "set_pitch", "set_roll"):
        assert found.value(key) == mounting[key].value
    assert found.value("deviation") == asked(case, "stone", quiet)["deviation"].value
    assert found.value("reseat_sd") == asked(case, "record", quiet)["reseat_sd"].value
    assert found.verdict("mounting") == mounting.verdict.value
    assert found.verdict("record") == asked(case, "record", quiet).verdict.value
    assert (found.instrument, found.record_material, found.course) == ("no. 2", "hard wax", "spring A")
    assert found.held_mouth == found.held_mounting == (15, 45)
    assert found.value("foil_agreement") == 100.0
    assert found.value("record_dof") == 3.0
    assert 0.05 < (found.value("record_spread") or 0.0) < 0.3


def test_a_case_without_anything_has_no_numbers() -> None:
    found = case_numbers(Case(code="EMPTY-1"), quiet)
    assert found.values == ()
    assert found.verdict("record") == "cannot tell"
    assert found.verdict("checks") is None


@pytest.mark.parametrize("visits", [("1",) * 4, ("1", "1", "2", "2")])
def test_squares_have_the_variance_that_was_put_in(visits: tuple[str, ...]) -> None:
    rng = np.random.default_rng(4)
    shape = np.array([[1.0, 0.3, 0.0], [0.3, 2.0, 0.1], [0.0, 0.1, 0.5]])
    own = np.diag([0.01, 0.02, 0.04])
    s, between = 0.3, 0.4
    chol, read = np.linalg.cholesky(shape), np.sqrt(np.diag(own))
    within, dof, found_between = 0.0, 0, []
    for _ in range(3000):
        at = {v: between * chol @ rng.standard_normal(3) for v in dict.fromkeys(visits)}
        values = [at[v] + s * chol @ rng.standard_normal(3) + read * rng.standard_normal(3) for v in visits]
        found = squares_of(values, np.repeat(own[None], 4, axis=0), shape, visits)
        within, dof = within + found.within, dof + found.dof_within
        if found.dof_between:
            found_between.append((found.between - s**2) / found.size)
    assert within / dof == pytest.approx(s**2, rel=0.05)
    if found_between:
        assert np.mean(found_between) == pytest.approx(between**2, rel=0.08)


def test_squares_refuse_one_record() -> None:
    with pytest.raises(ValueError, match="two or more"):
        squares_of([[1.0, 2.0]], np.zeros((1, 2, 2)), np.eye(2), ("1",))
