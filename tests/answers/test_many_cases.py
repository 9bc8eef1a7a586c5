"""Many cases: the order does not matter, what is planted is found, and what cannot be told is said."""

from __future__ import annotations

import random

import numpy as np
import pytest

from mountproof.answers.case_numbers import CaseNumbers
from mountproof.answers.many_cases import limits_shown, many_cases
from mountproof.answers.many_courses import participant


def row(
    i: int, pin: float, *, by: str = "A", stone: str = "s1", course: str = "", **more: float
) -> CaseNumbers:
    values = (("found_minus_predicted", pin, 0.1), *((k, v, None) for k, v in more.items()))
    day = f"2026-{1 + i // 28:02d}-{1 + i % 28:02d}"
    return CaseNumbers(f"K{i:03d}", day, "", by, "no. 1", stone, "wax", course, values, ())


def practice(n: int, shift_at: int = 10**6, seed: int = 2) -> list[CaseNumbers]:
    rng = np.random.default_rng(seed)
    return [row(i, float(0.12 * rng.standard_normal() + 0.3 * (i >= shift_at))) for i in range(n)]


def test_order_of_the_store_does_not_matter() -> None:
    rows = practice(34, 24)
    shuffled = rows.copy()
    random.Random(1).shuffle(shuffled)
    assert many_cases(shuffled) == many_cases(rows)


def test_planted_shift_is_told_with_the_cases() -> None:
    found = many_cases(practice(34, 24))
    chart = next(c for c in found.charts if c.key == "found_minus_predicted")
    late = {*chart.chart.outside, *(b for _, b in chart.chart.runs)}
    assert any(i >= 24 for i in late)
    assert any("K0" in s and ("outside" in s or "in a row" in s) for s in chart.sentences)
    assert "Look at pin found less predicted" in found.sentences[0]
    assert "of 100 practices" in chart.sentences[-1]


def test_nineteen_cases_have_no_limits() -> None:
    found = many_cases(practice(19))
    chart = next(c for c in found.charts if c.key == "found_minus_predicted")
    assert limits_shown(chart) is None
    assert chart.sentences == ("Pin found less predicted: no limits before 20 cases, so far there are 19.",)
    assert found.repeat is None and found.splits == ()
    assert many_cases([]).cases == 0


def test_the_person_that_carries_the_spread_is_named() -> None:
    rng = np.random.default_rng(11)
    rows = [
        row(i, float(0.4 * (i % 4) + 0.05 * rng.standard_normal()), by="ABCD"[i % 4], stone=f"s{i % 2}")
        for i in range(48)
    ]
    split = many_cases(rows).splits[0]
    assert [p.level for p in split.parts] == ["person", "stone", "case to case"]
    assert split.parts[0].share > 0.9 and "is person" in split.sentence
    # each person here has one stone only, so it cannot be told from the person
    assert split.parts[1].told == "cannot be told from the level above"


def test_repeatability_that_a_case_may_take_over() -> None:
    rng = np.random.default_rng(5)
    rows = [
        row(i, 0.0, record_variance=float(0.2**2 * rng.chisquare(2) / 2), record_dof=2.0) for i in range(60)
    ]
    found = many_cases(rows).repeat
    assert found is not None and found.pooled.dof == 120
    assert found.pooled.low < 0.2 < found.pooled.high and found.pooled.sd == pytest.approx(0.2, rel=0.2)
    assert "record_repeat_mm" in found.sentences[0] and found.visit_mm is None


def test_a_course_ranks_without_names_and_splits_right() -> None:
    rng = np.random.default_rng(9)
    between, within = [], []
    for _ in range(60):
        own = 0.3 * rng.standard_normal(20)
        rows = [
            row(3 * i + k, float(own[i] + 0.1 * rng.standard_normal()), by=f"H{i}", course="spring A")
            for i in range(20)
            for k in range(3)
        ]
        one = next(c for c in many_cases(rows).courses if c.key == "found_minus_predicted")
        assert one.between is not None and one.within is not None
        between.append(one.between[1] <= 0.3 <= one.between[2])
        within.append(one.within[1] <= 0.1 <= one.within[2])
    assert np.mean(between) > 0.87 and np.mean(within) > 0.87
    # of an even number the two nearest the middle lie equally far from it and share the first rank
    assert [s.rank for s in one.standings] == [1, 1, *range(3, 21)]
    assert not any(s.code.startswith("H") for s in one.standings)
    assert many_cases(rows).cases == 0 and "they differ" in one.sentence
    assert participant("spring A", "QP") == participant("spring A", "QP") != participant("spring B", "QP")


def test_a_course_of_single_mountings_says_what_it_cannot() -> None:
    rows = [row(i, 0.1 * i, by=f"H{i}", course="c") for i in range(4)]
    one = many_cases(rows).courses[0]
    assert one.between is None and "cannot be told" in one.sentence
    assert many_cases(rows[:2]).courses == ()
