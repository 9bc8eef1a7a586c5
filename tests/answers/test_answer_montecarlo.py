"""Draws against the printed uncertainties: perturb everything that was read by what it is said to be good for.

JCGM 101:2008 as the check of the first-order propagation. Two kinds of doubt are drawn apart, as they stand apart in
the answers:

- *measured*: every caliper reading (its SD), the places of the marks, the two lengths of the pin, are drawn anew, and
  the spread of the answers must be the part of u that these carry;
- *assumed* (how far the joints may shift between MIP and CR, the play of the condylar elements): nobody measured it, so
  it is the same in every sheet of one case and no repetition shows it. It is drawn as what it says: the lower cast
  strays by such a motion, its readings follow exactly, and how far the answer then misses the truth must spread as the
  part of u that is assumed.

The printed u must be both together. The spread of n draws is held within chi-square bounds at 1 in 1000 on either side,
widened by 5 % for what first order leaves out.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from answers import kestrel
from mountproof.answers.bench_inputs import marks_input, pin_input, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import openings
from mountproof.answers.poses import bench_marks, instrument_slack, record_slack
from mountproof.answers.sheet import answer
from mountproof.bench.movement import movement
from mountproof.bench.pin import carried_pin_from_opening
from mountproof.bench.pose import RECORD_SLACK, Slack, fit_poses
from mountproof.bench.reach import Point, point_motion
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.geometry.poses import exp6
from mountproof.phantom import truth

DRAWS = 400
ASSUMED_DRAWS = 150
SD_MM = 0.045
PLACE_U_MM = 0.5
NOT_LINEAR = 0.05


def lines_of(whole: dict[str, Any]) -> tuple[list[str], list[list[str]]]:
    rows = [line.split() for line in whole["marks"]["readings_mm"].splitlines() if line.split()]
    return rows[0][1:], rows[1:]


def places(whole: dict[str, Any]) -> dict[str, np.ndarray]:
    return {
        n: np.array([p["ahead_mm"], p["above_mm"], p["right_mm"]], dtype=float)
        for n, p in whole["marks"]["places"].items()
    }


def drawn_case(rng: np.random.Generator) -> Case:
    """The demo case with every reading, place and length drawn about what was entered."""
    whole = kestrel.data()
    states, rows = lines_of(whole)
    spots = {n: p + rng.normal(0.0, PLACE_U_MM, 3) for n, p in places(whole).items()}
    for name, p in whole["marks"]["places"].items():
        p["ahead_mm"], p["above_mm"], p["right_mm"] = (float(round(x, 6)) for x in spots[name])
    kept = [["pair", *states]]
    for pair, *cells in rows:
        kept.append([pair, *(f"{float(c) + rng.normal(0.0, SD_MM):.6f}" for c in cells)])
    whole["marks"]["readings_mm"] = "\n".join("  ".join(row) for row in kept)
    pin = whole["instrument"]["pin"]
    pin["ahead_mm"] = f"{110 + rng.normal(0.0, 0.5):.6f} +- 0.5"
    pin["below_mm"] = f"{62 + rng.normal(0.0, 0.5):.6f} +- 0.5"
    return Case(**whole)


def composed(case: Case) -> dict[str, Carried]:
    """The numbers of the answers by the answers' own composition, without words and verdicts."""
    ledger = Ledger("pin")
    assert case.instrument is not None
    assert case.marks is not None
    pin = pin_input(case.instrument, case.caliper, ledger)
    marks = marks_input(case.marks, case.caliper, ledger)
    states = states_of(case, ledger)
    known = openings(case, marks, states, ledger)
    assert known.from_mip is not None
    assert known.from_contact is not None
    placed = bench_marks(case, marks)
    assert placed is not None
    out = {
        "pin_mip": carried_pin_from_opening(pin.pin, known.from_mip, pin.lengths),
        "pin_cr": carried_pin_from_opening(pin.pin, known.from_contact, pin.lengths),
    }
    assert states.mip is not None
    assert states.record is not None
    assert states.contact is not None
    assert states.after_set is not None
    wanted = [states.record, states.contact]
    fit = fit_poses(placed, marks.table, states.mip, wanted, slack=record_slack(case, wanted), usable_mm=0.25)
    shift = point_motion(fit, states.contact, states.mip, Point("incisors", (92.0, -42.0, 0.0))).shift
    for axis, name in enumerate(("forward", "up", "right")):
        out[f"slide_{name}"] = shift[axis]
    found = movement(placed, marks.table, states.record, states.after_set)
    out["lift"] = found.lift if found.lift is not None else found.mean
    return out


@pytest.fixture(scope="module")
def draws() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(20260317)
    made = [composed(drawn_case(rng)) for _ in range(DRAWS)]
    return {key: np.array([one[key].value for one in made]) for key in made[0]}


@pytest.fixture(scope="module")
def told() -> dict[str, Carried]:
    return composed(kestrel.case())


def within_chance(spread: float, u: float, draws: int, widened: float = NOT_LINEAR) -> bool:
    """Whether the SD of so many draws may come from a distribution of standard deviation u."""
    low, high = chi2.ppf([0.001, 0.999], draws - 1) / (draws - 1)
    return bool((1 - widened) * math.sqrt(low) * u <= spread <= (1 + widened) * math.sqrt(high) * u)


KEYS = ("pin_mip", "pin_cr", "slide_forward", "slide_up", "slide_right", "lift")


def test_the_composition_here_is_what_the_sheet_prints(told: dict[str, Carried]) -> None:
    sheet = answer(kestrel.case(), ["pin", "mounting"])
    for key in KEYS:
        q = sheet["pin" if key.startswith("pin_") else "mounting"][key]
        assert q.value == pytest.approx(told[key].value, abs=1e-9), key
        assert q.u == pytest.approx(told[key].u, rel=1e-9), key


@pytest.mark.parametrize("key", KEYS)
def test_the_spread_of_the_draws_is_the_measured_part_of_the_printed_u(
    draws: dict[str, np.ndarray], told: dict[str, Carried], key: str
) -> None:
    spread, u = float(draws[key].std(ddof=1)), told[key].without("assumed").u
    assert within_chance(spread, u, DRAWS), (key, spread, u)
    # Nothing systematic: the mean of the draws is the answer, within three standard errors of it.
    assert abs(float(draws[key].mean()) - told[key].value) < 3.0 * spread / math.sqrt(DRAWS) + 0.02 * u


def test_bounds_that_tight_see_an_uncertainty_that_is_a_quarter_off(
    draws: dict[str, np.ndarray], told: dict[str, Carried]
) -> None:
    for key in KEYS:
        spread, u = float(draws[key].std(ddof=1)), told[key].without("assumed").u
        assert not within_chance(spread, 1.35 * u, DRAWS)
        assert not within_chance(spread, u / 1.35, DRAWS)


def strayed(rng: np.random.Generator, state: str, slack: Slack) -> Case:
    """The demo case with the lower astray in one state, by the slack but for the opening, and readings that follow."""
    whole = kestrel.data()
    states, rows = lines_of(whole)
    pose = truth.pose(state)
    small = exp6(rng.normal(0.0, 1.0, 6) * np.array(slack) * np.array([1, 1, 0, 1, 1, 1]))
    at = states.index(state)
    kept = [["pair", *states]]
    for pair, *cells in rows:
        upper, lower = pair.split("-")
        moved = truth.distance_mm((upper, lower), small @ pose) - truth.distance_mm((upper, lower), pose)
        cells[at] = f"{float(cells[at]) + moved:.6f}"
        kept.append([pair, *cells])
    whole["marks"]["readings_mm"] = "\n".join("  ".join(row) for row in kept)
    return Case(**whole)


@pytest.mark.parametrize(("key", "state"), [("pin_mip", "B"), ("pin_cr", "F")])
def test_what_is_assumed_spreads_the_misses_as_its_part_of_u_says(
    told: dict[str, Carried], key: str, state: str
) -> None:
    rng = np.random.default_rng(20260318)
    slack = RECORD_SLACK if state == "B" else instrument_slack(kestrel.case(), Ledger("pin"))
    misses = (
        np.array([composed(strayed(rng, state, slack))[key].value for _ in range(ASSUMED_DRAWS)])
        - told[key].value
    )
    variance = sum(
        float(p) ** 2
        for source, p in zip(told[key].sources, told[key].parts[0], strict=True)
        if source.startswith("assumed/")
    )
    assert variance > 0.0
    assert within_chance(float(misses.std(ddof=1)), math.sqrt(variance), ASSUMED_DRAWS, 0.10)
    assert told[key].u == pytest.approx(math.hypot(math.sqrt(variance), told[key].without("assumed").u))
