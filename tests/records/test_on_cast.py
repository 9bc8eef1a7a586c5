"""A record laid on both casts: the pose to micrometres, each planted fault by its name, nothing named that is not there."""

from __future__ import annotations

import importlib.util
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from mountproof.geometry.poses import Array, exp6, inverse, point_cov, transform
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.record_scan import Faults, RecordScan, Spot, cusp_of, joined_casts, record_surface
from mountproof.phantom.truth import closed_by, closing_rad, record_pose
from mountproof.records.imprint import ArchName, Cast, cast_of, record_of
from mountproof.records.on_cast import OnCasts, fit_record, relate

POSE = record_pose(1)
AWAY = exp6(np.array([0.3, 1.2, -0.5, 10.0, 20.0, -30.0]))
#: A start as from points picked by hand: off by about half a millimetre.
NEAR = exp6(np.array([0.004, -0.004, 0.005, 0.1, -0.1, 0.1]))
BACK = tuple(10 * q + k for q in (1, 2, 3, 4) for k in (4, 5, 6, 7))
NOISY = {"edge_mm": 0.4, "noise_mm": 0.012, "scan_from_upper": AWAY}
AT = np.array([[90.0, -42.0, 0.0], [50.0, -35.0, 28.0], [50.0, -35.0, -28.0]])


@cache
def made(name: ArchName, triangles: int = 60_000) -> PhantomArch:
    return build_arch(name, triangles)


@cache
def cast(name: ArchName, triangles: int = 60_000) -> Cast:
    one = made(name, triangles)
    return cast_of(name, one.vertices_mm, one.faces, one.teeth)


def _starts(scan: RecordScan, pose: Array = POSE) -> dict[ArchName, Array]:
    back = inverse(scan.scan_from_upper)
    return {"upper": NEAR @ back, "lower": inverse(pose) @ NEAR @ back}


def _on(scan: RecordScan, *, joined: bool = False, pose: Array = POSE, triangles: int = 60_000) -> OnCasts:
    casts: dict[ArchName, Cast] = {"upper": cast("upper", triangles), "lower": cast("lower", triangles)}
    found = fit_record(record_of(scan.vertices_mm, scan.faces, joined), casts, _starts(scan, pose))
    assert isinstance(found, OnCasts), found
    return found


def _off_um(found: Array, true: Array = POSE) -> float:
    return 1e3 * float(np.linalg.norm(transform(found @ inverse(true), AT) - AT, axis=1).max())


def _record(**more: object) -> RecordScan:
    return record_surface(made("upper"), made("lower"), POSE, **(NOISY | more))  # type: ignore[arg-type]


def _spot(name: ArchName, tooth: int, radius: float, height: float, behind: float = 0.0) -> Spot:
    at = cusp_of(made(name), tooth, name, None if name == "upper" else POSE)
    return Spot(name, at[0] - behind, at[2], radius, height)


def _named(on: OnCasts) -> set[tuple[str, int]]:
    return {(s.kind, s.tooth) for fit in (on.upper, on.lower) for s in fit.spots}


@pytest.mark.parametrize("joined", [False, True])
def test_without_noise_the_relation_is_found_to_five_micrometres(joined: bool) -> None:
    pair = made("upper"), made("lower")
    scan = (
        joined_casts(*pair, POSE, scan_from_upper=AWAY)
        if joined
        else record_surface(*pair, POSE, edge_mm=0.4, scan_from_upper=AWAY)
    )
    assert _off_um(_on(scan, joined=joined).upper_from_lower) < 5.0


def test_a_record_of_a_tenth_of_the_triangles_is_as_near() -> None:
    coarse = record_surface(made("upper"), made("lower"), POSE, edge_mm=0.95, scan_from_upper=AWAY)
    fine = record_surface(made("upper"), made("lower"), POSE, edge_mm=0.25)
    assert len(coarse.faces) < 0.1 * len(fine.faces)
    assert _off_um(_on(coarse).upper_from_lower) < 5.0


def test_casts_of_a_tenth_of_the_triangles_cost_twenty_micrometres() -> None:
    fine = made("upper", 200_000), made("lower", 200_000)
    scan = record_surface(*fine, POSE, edge_mm=0.2, scan_from_upper=AWAY)
    assert _off_um(_on(scan, triangles=20_000).upper_from_lower) < 20.0
    sides = joined_casts(*fine, POSE, scan_from_upper=AWAY)
    assert _off_um(_on(sides, joined=True, triangles=20_000).upper_from_lower) < 20.0


@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_named_on_a_good_record(seed: int) -> None:
    on = _on(_record(seed=seed))
    assert _named(on) == set()
    assert _off_um(on.upper_from_lower) < 15.0
    for fit in (on.upper, on.lower):
        assert fit.halves is not None and fit.halves.p_value > 1e-3
        assert fit.only is None
        assert fit.stops is not None and fit.stops.growth.max() < 1.0
        assert all(abs(t.gap_mm) < 0.035 for t in fit.teeth)


def test_a_void_is_named_by_its_tooth() -> None:
    assert _named(_on(_record(faults=Faults(voids=(_spot("lower", 46, 1.2, 0.0),))))) == {("void", 46)}


def test_a_tooth_without_an_imprint_is_named() -> None:
    named = _named(_on(_record(faults=Faults(missing=(_spot("upper", 26, 6.0, 0.6),)))))
    assert ("bare", 26) in named and all(t in (25, 26, 27) for _, t in named)


def test_what_a_record_rides_on_is_named_with_its_height() -> None:
    on = _on(_record(faults=Faults(blobs=(_spot("upper", 16, 1.0, 0.3),))))
    (spot,) = on.upper.spots
    assert (spot.kind, spot.tooth) == ("rides", 16)
    assert spot.off_mm == pytest.approx(-0.3, abs=0.06)
    assert not on.lower.spots


def test_wax_on_gum_is_named_and_no_tooth() -> None:
    on = _on(_record(faults=Faults(gum=(_spot("upper", 17, 3.0, 0.2, behind=9.0),))))
    assert _named(on) == {("gum", 17)}
    (spot,) = on.upper.spots
    assert -0.4 < spot.off_mm < 0.0


def test_teeth_that_met_through_the_wax_are_named_on_both_casts() -> None:
    near = closed_by(POSE, 0.97 * closing_rad())
    scan = record_surface(made("upper"), made("lower"), near, **NOISY)  # type: ignore[arg-type]
    found = _named(_on(scan, pose=near))
    assert found == {("perforated", 15), ("perforated", 45)}


def test_a_twist_shows_between_the_sides_though_the_whole_fits_well() -> None:
    on = _on(_record(faults=Faults(twist_mm=0.2)))
    for fit, bite in ((on.upper, -1.0), (on.lower, 1.0)):
        assert fit.laid.found.sd_mm < 0.06  # a low residual is no proof
        assert fit.halves is not None and fit.halves.p_value < 1e-6
        back = [t.at_mm for t in fit.teeth if t.tooth in (17, 47)]
        off, _u = fit.halves.off_mm(back, "right", np.array([0.0, bite, 0.0]))
        assert abs(off[0]) > 0.15
        # towards one cast, away from the other
        assert np.sign(off[0]) == (1.0 if bite < 0.0 else -1.0)


def test_a_rock_shows_on_its_own_cast_only() -> None:
    on = _on(_record(faults=Faults(rock_mm=("upper", 0.25))))
    assert on.upper.halves is not None and on.lower.halves is not None
    assert on.upper.halves.p_value < 1e-6 < 1e-3 < on.lower.halves.p_value
    back = [t.at_mm for t in on.upper.teeth if t.tooth == 17]
    off, _u = on.upper.halves.off_mm(back, "right", np.array([0.0, -1.0, 0.0]))
    assert off[0] == pytest.approx(0.22, abs=0.06)


def test_stops_on_the_front_teeth_alone_do_not_hold_the_molars() -> None:
    on = _on(_record(without=BACK))
    assert on.upper.stops is not None
    growth = dict(zip((t.tooth for t in on.upper.teeth), on.upper.stops.growth, strict=True))
    assert growth[17] > 3.0 and growth[27] > 3.0 and growth[11] < 1.0


def test_one_side_alone_leaves_the_other_far_more_open_than_its_residuals() -> None:
    scan = joined_casts(
        made("upper"), made("lower"), POSE, noise_mm=0.012, side="right", scan_from_upper=AWAY
    )
    both = _on(
        joined_casts(made("upper"), made("lower"), POSE, noise_mm=0.012, scan_from_upper=AWAY), joined=True
    )
    on = _on(scan, joined=True)
    assert on.upper.only == "right" and on.upper.halves is None and both.upper.only is None
    there, here = (float(np.sqrt(point_cov(on.cov6, AT[k])[1, 1])) for k in (2, 1))
    assert there > 1.7 * here
    assert there > float(np.sqrt(point_cov(both.cov6, AT[2])[1, 1]))


def test_what_lies_elsewhere_is_refused() -> None:
    scan = _record()
    away = exp6(np.array([0.0, 0.0, 0.0, 40.0, 0.0, 0.0]))
    record = record_of(scan.vertices_mm, scan.faces, False)
    casts: dict[ArchName, Cast] = {"upper": cast("upper"), "lower": cast("lower")}
    starts = _starts(scan)
    assert relate(record, casts, starts | {"lower": away @ starts["lower"]}) == "lower"


def test_intervals_of_the_relation_hold_what_they_promise() -> None:
    """200 draws of noise that hangs together, twelve numbers each; 2 000 draws are run by the benchmark of that name."""
    file = Path(__file__).parents[2] / "benchmarks" / "record_coverage.py"
    spec = importlib.util.spec_from_file_location("record_coverage", file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["record_coverage"] = module
    spec.loader.exec_module(module)
    found = module.coverage(200)
    assert 0.93 <= found.share <= 0.97
    assert found.half_mm < 0.05
