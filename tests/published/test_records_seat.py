"""Outside band: how far records repositioned on their own apparatus are out.

Vergos and Tripodakis, Int J Prosthodont 2003;16:365 (read as abstract): 101 um (polyvinyl siloxane), 107 (polyether),
168 (wax). What is this far out on one side must be found, told as such, and judged by limits that lie around the band.
"""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.case.limits import Limits
from mountproof.geometry.poses import inverse
from mountproof.phantom.arch import build_arch
from mountproof.phantom.record_scan import Faults, record_surface
from mountproof.phantom.truth import record_pose
from mountproof.records.imprint import ArchName, Cast, cast_of, record_of
from mountproof.records.on_cast import OnCasts, fit_record

BAND_MM = (0.101, 0.168)


@pytest.mark.parametrize("out_mm", BAND_MM)
def test_records_as_far_out_as_published_are_found(out_mm: float) -> None:
    made = {n: build_arch(n, 90_000) for n in ("upper", "lower")}  # type: ignore[arg-type]
    pose = record_pose(1)
    scan = record_surface(
        made["upper"],
        made["lower"],
        pose,
        edge_mm=0.3,
        noise_mm=0.01,
        faults=Faults(rock_mm=("upper", out_mm)),
    )
    casts: dict[ArchName, Cast] = {
        "upper": cast_of("upper", *made["upper"]),
        "lower": cast_of("lower", *made["lower"]),
    }
    on = fit_record(
        record_of(scan.vertices_mm, scan.faces, False), casts, {"upper": np.eye(4), "lower": inverse(pose)}
    )
    assert isinstance(on, OnCasts) and on.upper.halves is not None
    assert on.upper.halves.p_value < 1e-3
    back = [t.at_mm for t in on.upper.teeth if t.tooth == 27]
    off, u = on.upper.halves.off_mm(back, "left", np.array([0.0, -1.0, 0.0]))
    assert off[0] == pytest.approx(out_mm, abs=max(0.25 * out_mm, 2.0 * float(u[0])))


def test_the_limits_lie_around_the_band() -> None:
    limit = Limits().record_on_cast
    assert limit.decent < BAND_MM[0] < limit.redo < BAND_MM[1]
