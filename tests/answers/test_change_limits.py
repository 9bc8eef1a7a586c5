"""Limits on what comes off and what is added: between which heights they hold, and the bands of the curves."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.change_curves import totals
from mountproof.answers.change_scans import scanned_change
from mountproof.answers.change_swept import Pair
from mountproof.answers.contacts import noted_closing
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer, Verdict
from mountproof.answers.sheet import answer
from mountproof.case.adjusting import Budget, Change, Excluded, Stop
from mountproof.case.files import load_case
from mountproof.geometry.carry import exact, measured, stack


@pytest.fixture(scope="module")
def told(small_demo: Path):
    case = load_case(small_demo)
    closed = noted_closing(case, quiet).closed
    assert closed is not None
    mounting = answer(case, ["mounting"])["mounting"]

    def of(**entries) -> Answer:
        change = Change(stop=Stop(most_rounds=1), **entries)
        return scanned_change(
            case.model_copy(update={"change": change}), Ledger("change"), closed, mounting, quiet
        )

    return of


def at(found: Answer, tooth: int, name: str, pin: float) -> float:
    """Read a curve of the pair of a tooth at a height."""
    curve = next(c for c in found.evidence.curves if tooth in (c.upper, c.lower))
    return float(np.interp(-pin, -found.evidence.pin_mm, getattr(curve, name).mid))


def test_heights_inside_wide_limits_are_told_with_the_smallest_change(told) -> None:
    found = told(most_off_mm=0.2, most_on_mm=1.5)
    window = found.evidence.window
    # half of what overlaps comes off either tooth
    assert at(found, 15, "off_mm", window.floor.pin_mm) == pytest.approx(0.4, abs=0.01)
    assert window.floor.words == "15 has lost its 0.2 mm"
    assert window.floor.low_mm < window.floor.pin_mm < window.floor.high_mm
    assert window.ceiling.pin_mm > window.floor.pin_mm
    assert found["limits_room"].value == pytest.approx(window.ceiling.pin_mm - window.floor.pin_mm, abs=1e-3)
    pin, whole = found.evidence.pin_mm, found.evidence.totals.off_mm3.mid + found.evidence.totals.on_mm3.mid
    inside = (pin <= window.ceiling.pin_mm) & (pin >= window.floor.pin_mm)
    assert whole[np.argmin(np.abs(pin - window.least_mm))] == pytest.approx(whole[inside].min())
    assert any("least volume is changed" in note for note in found.notes)


def test_limits_that_no_height_meets_are_named(told) -> None:
    found = told(most_off_mm=0.12, most_on_mm=0.3)
    assert found["limits_room"].value < -2.0 * found["limits_room"].u
    assert found.verdict is Verdict.DISAGREES
    assert any("no height is inside the limits" in r.text and "15 has lost" in r.text for r in found.reasons)
    window = found.evidence.window
    front = window.ceiling.words.split()[0]
    assert at(found, int(front), "gap_mm", window.ceiling.pin_mm) == pytest.approx(0.3, abs=0.05)
    assert window.least_mm is None


def test_one_sided_limits_claim_one_side_and_none_claims_nothing(told) -> None:
    one = told(budgets=(Budget(teeth=(15,), most_mm=0.1),))
    assert one.evidence.window.ceiling is None and one.evidence.window.floor is not None
    assert not any(q.key == "limits_room" for q in one.quantities)
    free = told()
    assert free.evidence.window is None and any("no limit of any tooth is claimed" in n for n in free.notes)
    stuck = told(most_off_mm=1.0, excluded=(Excluded(teeth=(15, 45), reason="worn"),))
    assert stuck.evidence.window.floor.words == "15 / 45 meet, and neither may be reshaped"
    assert stuck.evidence.window.floor.pin_mm == pytest.approx(free["contact_open"].value, abs=0.01)


@given(us=st.tuples(*3 * [st.floats(1e-4, 1e-3)]), slopes=st.tuples(*2 * [st.floats(1.0, 30.0)]))
def test_the_band_of_a_sum_is_that_of_normal_doubt_where_all_is_straight(us, slopes) -> None:
    """a (t - d1) + b (t - d2) is normal, its variance (a u0 + b u0)^2 + (a u1)^2 + (b u2)^2 where u0 is shared."""
    shared = measured(0.0, us[0], "shared/one")
    meets = [shared + measured(0.0, u, f"own/{k}") for k, u in enumerate(us[1:])]
    pairs = tuple(Pair(k, 10 + k, 40 + k, m, 50.0, 1.0) for k, m in enumerate(meets))
    angles = np.linspace(-0.02, 0.05, 71)
    lines = np.array(slopes)[:, None] * (angles + 0.02)
    zero = np.zeros_like(lines)
    sweep = SimpleNamespace(angles_rad=angles, volume_mm3=lines, normal_mm=lines, fill_mm3=zero, gap_mm=zero)
    found = SimpleNamespace(
        sweep=sweep, pairs=pairs, heights=SimpleNamespace(zero=exact(0.0)), shown=slice(20, 51)
    )
    told = totals(found, SimpleNamespace(closing=exact(0.03))).off_mm3
    assert told.mid == pytest.approx(lines.sum(axis=0)[20:51])
    jacobian = np.array([slopes])
    sd = float(stack(meets).linear(jacobian).u)
    assert told.high - told.mid == pytest.approx(np.full(31, 1.96 * sd), rel=0.12)
    assert told.mid - told.low == pytest.approx(np.full(31, 1.96 * sd), rel=0.12)
