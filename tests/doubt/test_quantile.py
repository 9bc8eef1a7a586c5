"""Own quantiles against a general-purpose library, and against printed tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from mountproof.geometry.quantile import (
    chi_square_cdf,
    chi_square_quantile,
    coverage_factor,
    normal_quantile,
    student_cdf,
    student_quantile,
)
from published.agree import agrees

dofs = st.floats(0.5, 300.0)
probabilities = st.floats(0.0005, 0.9995)


@given(dofs, st.floats(-30.0, 30.0))
def test_student_cdf(dof, t):
    assert student_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), rel=1e-10, abs=1e-14)


@given(dofs, st.floats(0.001, 600.0))
def test_chi_square_cdf(dof, x):
    assert chi_square_cdf(x, dof) == pytest.approx(stats.chi2.cdf(x, dof), rel=1e-10, abs=1e-14)


@given(dofs, probabilities)
def test_quantiles(dof, p):
    assert student_quantile(p, dof) == pytest.approx(stats.t.ppf(p, dof), rel=1e-8, abs=1e-10)
    assert chi_square_quantile(p, dof) == pytest.approx(stats.chi2.ppf(p, dof), rel=1e-8)
    assert normal_quantile(p) == pytest.approx(stats.norm.ppf(p), rel=1e-10, abs=1e-12)


def test_printed_tables():
    # Student's t, two-sided 95 % and 99 % (JCGM 100:2008, table G.2; more digits from tables of the distribution)
    for dof, want in ((2, "4.302653"), (4, "2.776445"), (9, "2.262157"), (16, "2.119905")):
        agrees(want, coverage_factor(0.95, dof))
    agrees("2.92", coverage_factor(0.99, 16))
    agrees("1.96", coverage_factor(0.95))
    agrees("2.576", coverage_factor(0.99))


def test_edges():
    assert student_quantile(0.5, 3.0) == 0.0
    assert coverage_factor(0.95, math.inf) == pytest.approx(1.959963984540054, abs=1e-12)
    assert chi_square_cdf(-1.0, 2.0) == 0.0
    for bad in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError):
            student_quantile(bad, 3.0)
    with pytest.raises(ValueError):
        student_cdf(1.0, 0.0)
