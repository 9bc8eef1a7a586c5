"""Few teeth: bases that give, tracings that scatter, implants that do not give, and the stop that is missing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers.implants import at_implants, held_at
from mountproof.answers.ledger import Ledger
from mountproof.answers.record_few_teeth import few_teeth
from mountproof.answers.result import Verdict
from mountproof.answers.usual_sites import usual_sites
from mountproof.case.limits import Limit
from mountproof.records.bases import worst_amplification

THIRD = [18, 28, 38, 48]


def page(**parts: Any) -> tuple[Ledger, list[str]]:
    ledger = Ledger("record")
    return ledger, few_teeth(kestrel.case(**parts), ledger)


def dentition(missing: list[int] | None = None, **more: Any) -> dict[str, Any]:
    return {"numbering": "iso3950", "missing": THIRD if missing is None else missing, **more}


def test_a_full_dentition_says_nothing() -> None:
    ledger, says = page()
    assert not says and not ledger.verdicts and not ledger.needs


def push(**more: float) -> dict[str, Any]:
    return {"arch": "lower", "pair": "UA-LA", "at_rest_mm": 42.6, **more}


@pytest.mark.parametrize(
    ("right", "left", "sd", "verdict"),
    [
        (42.65, 42.58, 0.01, Verdict.AGREES),
        (42.75, 42.45, 0.01, Verdict.DOUBTFUL),
        (43.20, 42.40, 0.045, Verdict.DISAGREES),
        (42.65, 42.50, 0.09, Verdict.CANNOT_TELL),
    ],
)
def test_a_base_is_judged_by_its_range(right, left, sd, verdict) -> None:
    ledger, says = page(
        few_teeth={"pushes": [push(pushed_right_mm=right, pushed_left_mm=left, pressed_mm=42.3)]},
        caliper={"resolution_mm": 0.01, "sd_mm": sd},
    )
    assert ledger.verdicts == [verdict]
    values = (42.6, right, left)
    assert ledger["base_lower"].value == pytest.approx(max(values) - min(values))
    assert ledger["base_lower"].u == pytest.approx(sd * 2**0.5)
    assert bool(says) is (verdict is not Verdict.AGREES)
    assert ledger.tables[0].rows[0][-1] == "+0.30"  # what the mucosa gives


def test_a_base_that_was_not_pushed_is_asked_for() -> None:
    ledger, says = page(few_teeth={"pushes": [push()]})
    assert not ledger.verdicts and not says and "pushed right" in ledger.needs[0].reading


def tips(
    count: int, sd: float, shift: tuple[float, float] = (0.0, 0.0), sitting: str = "", seed: int = 4
) -> list[Any]:
    points = np.random.default_rng(seed).normal(size=(count, 2)) * sd + shift
    return [{"ahead_mm": float(a), "right_mm": float(r), "sitting": sitting} for a, r in points.round(2)]


@pytest.mark.parametrize(
    ("count", "sd", "verdict"),
    [
        (12, 0.1, Verdict.AGREES),
        (12, 0.3, Verdict.DOUBTFUL),
        (14, 1.2, Verdict.DISAGREES),
        (3, 0.3, Verdict.CANNOT_TELL),
    ],
)
def test_a_tracing_is_judged_by_the_interval_of_its_scatter(count, sd, verdict) -> None:
    ledger, _ = page(few_teeth={"tracing": tips(count, sd)})
    assert ledger.verdicts == [verdict]
    found = ledger["tracing_sd"]
    assert found.low is not None and found.high is not None
    assert found.low < found.value < found.high
    asked = any("more tips" in n.reading for n in ledger.needs)
    assert asked is (count < 6)


def test_two_sittings_apart_are_said() -> None:
    apart = tips(6, 0.08, sitting="first") + tips(6, 0.08, (0.5, -0.4), "second", 5)
    ledger, says = page(few_teeth={"tracing": apart})
    assert Verdict.DOUBTFUL in ledger.verdicts and "another sitting" in says[-1]
    alike = tips(6, 0.08, sitting="first") + tips(6, 0.08, sitting="second", seed=5)
    ledger, says = page(few_teeth={"tracing": alike})
    assert ledger.verdicts == [Verdict.AGREES] and not says


def test_one_tip_shows_no_scatter() -> None:
    ledger, says = page(few_teeth={"tracing": tips(1, 0.1)})
    assert not ledger.verdicts and not says and "closed into" in ledger.needs[0].reading


def test_an_index_over_implants_is_asked_for_and_judged() -> None:
    asked, says = page(dentition=dentition(implants=[46, 36]))
    assert not says and asked.needs[0].field == "few_teeth.index_fits"
    assert any("0.05" in n and "36, 46" in n for n in asked.notes)
    fits, says = page(dentition=dentition(implants=[46]), few_teeth={"index_fits": True})
    assert fits.verdicts == [Verdict.AGREES] and not says
    off, says = page(dentition=dentition(implants=[46]), few_teeth={"index_fits": False})
    assert off.verdicts == [Verdict.DISAGREES] and "does not fit" in says[0]


def test_limits_of_teeth_are_not_copied_to_implants() -> None:
    case = kestrel.case(dentition=dentition(implants=[46]))
    usual = case.limits.axis_cost
    assert at_implants(case, (16, 15)) == (16,)
    assert held_at(case, [16], usual).limit == case.limits.implant_mounting
    assert held_at(case, [15], usual) == (usual, False)
    tight = Limit(decent=0.01, redo=0.02, unit="mm")
    assert held_at(case, [16], tight) == (tight, False)
    half = Limit(decent=0.01, redo=0.5, unit="mm")
    assert held_at(case, [16], half).limit.decent == 0.01
    assert held_at(case, [16], half).limit.redo == case.limits.implant_mounting.redo


def test_few_teeth_the_stop_that_helps_most_is_named() -> None:
    """Only front teeth are left: the stop wanted is at a second molar, and it does lower the amplification."""
    gone = [q * 10 + p for q in (1, 2, 3, 4) for p in (4, 5, 6, 7, 8)]
    ledger, _ = page(dentition=dentition(gone))
    need = ledger.needs[0]
    assert "base or rim where 17 and 47" in need.reading or "base or rim where 27 and 37" in need.reading
    assert "times at the worst tooth" in need.why
    case = kestrel.case(dentition=dentition(gone))
    sites = {t: at for t, at in usual_sites(case, Ledger("record")).items() if t % 10 < 8}
    front = [sites[t] for t in sites if t % 10 < 4]
    before = worst_amplification(front, list(sites.values()))
    tried = {t: worst_amplification([*front, sites[t]], list(sites.values())) for t in sites if t % 10 > 3}
    best = min(tried, key=lambda t: tried[t])
    assert (
        str(best) in need.reading
        and f"{before:.1f} times" in need.why
        and f"{tried[best]:.1f} times" in need.why
    )


def test_stops_of_the_record_go_before_the_teeth() -> None:
    """D-8: a record on the six front teeth in a full dentition; then one with stops all round asks for nothing."""
    whole = kestrel.data()["records"]
    front = [
        {"ahead_mm": a, "right_mm": r}
        for a, r in ((92, 4), (90, 12), (84, 17), (92, -4), (90, -12), (84, -17))
    ]
    ledger, _ = page(records={**whole, "record 1": {**whole["record 1"], "stops": front}})
    assert "between 17 and 47" in ledger.needs[0].reading or "between 27 and 37" in ledger.needs[0].reading
    spread = [{"ahead_mm": a, "right_mm": r} for a, r in ((92, 0), (50, 28), (50, -28), (60, 26), (60, -26))]
    ledger, _ = page(records={**whole, "record 1": {**whole["record 1"], "stops": spread}})
    assert not ledger.needs


def test_two_teeth_hold_no_plane() -> None:
    gone = [q * 10 + p for q in (1, 2, 3, 4) for p in range(1, 9) if p != 3]
    ledger, _ = page(dentition=dentition(gone))
    assert "hold no plane; with this one" in ledger.needs[0].why
    none = [q * 10 + p for q in (1, 2, 3, 4) for p in range(1, 9)]
    ledger, _ = page(dentition=dentition(none))
    assert "three or more stops" in ledger.needs[0].reading


def test_sites_follow_what_was_entered() -> None:
    usual = usual_sites(kestrel.case(), Ledger("record"))
    moved = usual_sites(
        kestrel.case(teeth_at={"incisors": {"ahead_mm": 95, "above_mm": -42}}), Ledger("record")
    )
    assert usual[16][1] > 0 > usual[26][1] and usual[16][0] == usual[26][0]
    assert moved[11][0] == pytest.approx(95) and moved[16][0] == pytest.approx(usual[16][0] + 3)
