"""How the two casts meet, by plain sampling: heights of both in hinge coordinates on one fine grid, no search, no bounds.

In r = hypot(x, y), z and phi = atan2(y, x) closing adds to the lower's phi, so at each grid point the gap along closure is
r (least phi of the upper - greatest phi of the lower). Grid 0.025 mm over convex contacts of 0.3 mm radius and more:
the sampled least gap is at most 0.025^2 / (4 * 0.3) = 0.5 um too large.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from mountproof.phantom import kestrel, truth
from mountproof.phantom.arch import ArchName, PhantomArch, build_arch
from mountproof.phantom.occlusal import relief
from mountproof.phantom.placement import frame_of
from mountproof.phantom.tuning import elements_of, lift_of

Array = NDArray[np.float64]
CELL_MM = 0.025
#: Sampling adds at most this to a gap, um (see above), rounded up.
SAMPLING_UM = 1.0


class Meeting(NamedTuple):
    gap_um: float
    mate: int
    point_mm: Array


def _polar(v: Array) -> Array:
    return np.stack([np.hypot(v[:, 0], v[:, 1]), v[:, 2], np.arctan2(v[:, 1], v[:, 0])], axis=1)


def _sampled(p: Array, faces: Array, low: Array, shape: tuple[int, int], upper: bool) -> Array:
    """Least (upper) or greatest (lower) phi over each grid point; inf or -inf where there is nothing."""
    out = np.full(shape, np.inf if upper else -np.inf)
    keep_best = np.minimum if upper else np.maximum
    t = ((p[:, :2] - low) / CELL_MM)[faces]
    first = np.maximum(np.ceil(t.min(axis=1)).astype(int), 0)
    last = np.minimum(np.floor(t.max(axis=1)).astype(int), np.array(shape) - 1)
    (x0, y0), (x1, y1), (x2, y2) = (t[:, k].T for k in range(3))
    area = (y1 - y2) * (x0 - x2) + (x2 - x1) * (y0 - y2)
    on_grid = (last >= first).all(axis=1) & (np.abs(area) > 1e-12)
    t, first, span, area, phi = (q[on_grid] for q in (t, first, last - first + 1, area, p[faces, 2]))

    def put(of: Array, i: Array, j: Array) -> None:
        (u0, v0), (u1, v1), (u2, v2) = (t[of, k].T for k in range(3))
        a = ((v1 - v2) * (i - u2) + (u2 - u1) * (j - v2)) / area[of]
        b = ((v2 - v0) * (i - u2) + (u0 - u2) * (j - v2)) / area[of]
        c = 1.0 - a - b
        hit = np.minimum(np.minimum(a, b), c) >= -1e-9
        value = a * phi[of, 0] + b * phi[of, 1] + c * phi[of, 2]
        keep_best.at(out, (i[hit], j[hit]), value[hit])

    # Small faces all at once, one grid point of each at a time; large ones one by one.
    small = (span <= 12).all(axis=1)
    for di, dj in np.ndindex(12, 12):
        of = np.flatnonzero(small & (span[:, 0] > di) & (span[:, 1] > dj))
        put(of, first[of, 0] + di, first[of, 1] + dj)
    for k in np.flatnonzero(~small):
        i, j = np.mgrid[first[k, 0] : first[k, 0] + span[k, 0], first[k, 1] : first[k, 1] + span[k, 1]]
        put(np.full(i.size, k), i.ravel(), j.ravel())
    return out


@lru_cache(maxsize=4)
def _cast(arch: ArchName) -> PhantomArch:
    return build_arch(arch, 214_000)


def _meetings(upper_from_lower: Array) -> dict[int, Meeting]:
    """Of every upper tooth: least gap along closure, the lower tooth there and the place on the upper."""
    up, low = _cast("upper"), _cast("lower")
    pu = _polar(up.vertices_mm)
    pl = _polar(low.vertices_mm @ upper_from_lower[:3, :3].T + upper_from_lower[:3, 3])
    found: dict[int, Meeting] = {}
    for tooth in np.unique(up.teeth[up.teeth > 0]).tolist():
        fu = up.faces[up.teeth == tooth]
        for mate in np.unique(low.teeth[low.teeth > 0]).tolist():
            fl = low.faces[low.teeth == mate]
            a, b = pu[np.unique(fu)][:, :2], pl[np.unique(fl)][:, :2]
            lo, hi = np.maximum(a.min(axis=0), b.min(axis=0)), np.minimum(a.max(axis=0), b.max(axis=0))
            if (hi - lo < 0.2).any():
                continue
            shape = tuple((np.ceil((hi - lo) / CELL_MM) + 1).astype(int).tolist())
            over, under = _sampled(pu, fu, lo, shape, True), _sampled(pl, fl, lo, shape, False)
            r = lo[0] + CELL_MM * np.arange(shape[0])[:, None]
            gap = (over - under) * r
            k = np.unravel_index(int(np.argmin(gap)), shape)
            g = float(gap[k]) * 1000.0
            if np.isfinite(g) and (tooth not in found or g < found[tooth].gap_um):
                rr, phi = float(r[k[0], 0]), float(over[k])
                place = np.array([rr * np.cos(phi), rr * np.sin(phi), lo[1] + CELL_MM * k[1]])
                found[tooth] = Meeting(g, mate, place)
    return found


@pytest.fixture(scope="module")
def closed() -> dict[int, Meeting]:
    return _meetings(truth.pose("A"))


@pytest.fixture(scope="module")
def first() -> dict[int, Meeting]:
    return _meetings(truth.pose("G"))


def test_in_mip_the_teeth_that_hold_foil_are_in_contact(closed: dict[int, Meeting]) -> None:
    in_mip = next(f for f in kestrel.FOIL if f.where == "mouth" and f.state == "MIP")
    gaps = {t: closed[t].gap_um for t in in_mip.holds}
    assert min(gaps.values()) > -1.0, f"they overlap: {gaps}"
    assert max(gaps.values()) < kestrel.FOIL_UM - SAMPLING_UM, f"foil would pass: {gaps}"


def test_in_mip_the_foil_drags_at_the_centrals_and_passes_at_the_other_front_teeth(
    closed: dict[int, Meeting],
) -> None:
    # The palatal slope there is steep: the gap along the normal is about 0.9 of that along closure.
    for t in (11, 21):
        assert kestrel.FOIL_UM < 0.85 * closed[t].gap_um < 20.0
    for t in (12, 13, 22, 23):
        assert 40.0 < closed[t].gap_um < 100.0


def test_each_tooth_meets_its_own_mates(closed: dict[int, Meeting]) -> None:
    for tooth, m in closed.items():
        lower_quadrant = {1: 4, 2: 3}[tooth // 10]
        assert m.mate // 10 == lower_quadrant
        # Cusp to fossa: the same tooth of the lower, or the next one back.
        assert m.mate % 10 - tooth % 10 in (0, 1)


def test_first_contact_is_15_against_45_where_the_case_says(first: dict[int, Meeting]) -> None:
    order = sorted(first, key=lambda t: first[t].gap_um)
    assert order[0] == truth.FIRST_TOOTH
    assert first[order[0]].mate == truth.FIRST_MATE
    # At the closing angle of the case (pin 3.16) what is left there is under 8 um.
    assert abs(first[order[0]].gap_um) < 8.0
    per_degree = float(np.linalg.norm(first[15].point_mm[:2])) * np.pi / 180.0
    assert abs(first[15].gap_um / 1000.0 / per_degree) < 0.005


def test_runners_up_lack_what_the_case_says(first: dict[int, Meeting]) -> None:
    base = first[truth.FIRST_TOOTH].gap_um
    for tooth, lacks in truth.RUNNERS_UP_MM.items():
        assert abs((first[tooth].gap_um - base) / 1000.0 - lacks) < 0.01, tooth
    front = [(first[t].gap_um - base) / 1000.0 for t in (13, 12, 11, 21, 22, 23)]
    assert min(front) > 0.95
    assert max(front) < 1.5
    assert abs(float(np.mean(front)) - 1.2) < 0.2


def test_foil_on_the_instrument_holds_at_15_only(first: dict[int, Meeting]) -> None:
    base = first[15].gap_um
    # Slopes of up to 60 degrees halve the gap along the normal: still ten foils.
    assert all(0.5 * (m.gap_um - base) > 10 * kestrel.FOIL_UM for t, m in first.items() if t != 15)


def test_first_contact_is_on_the_mesial_incline_of_15(first: dict[int, Meeting]) -> None:
    axes, origin = frame_of("upper", 5)
    local = axes.T @ (first[15].point_mm - origin - np.array([0.0, lift_of(15), 0.0]))
    d, b = np.array([local[0]]), np.array([local[1]])
    e = 0.02
    rise = (relief(elements_of(15), d + e, b) - relief(elements_of(15), d - e, b)) / (2 * e)
    assert local[0] < -0.3, "mesial of the crest"
    # It falls towards mesial, as an incline that stops a jaw coming forward does.
    assert 15.0 < float(np.degrees(np.arctan(rise))[0]) < 55.0


def test_the_lower_moves_off_the_upper_when_it_opens(closed: dict[int, Meeting]) -> None:
    opened = _meetings(truth.closed_by(np.eye(4), -np.radians(0.5)))
    for t, m in opened.items():
        arc = np.linalg.norm(m.point_mm[:2]) * np.radians(0.5) * 1000.0
        assert abs(m.gap_um - closed[t].gap_um - arc) < 1.0 + 0.02 * arc
