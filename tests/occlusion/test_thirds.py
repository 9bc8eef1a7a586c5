"""Landmarks of back teeth against where made-up crowns were built, on real crowns, and where they must not be told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from mountproof.occlusion.incline import ToothFrame, tooth_frames
from mountproof.occlusion.thirds import Incline, Table, groove_at, incline_at, outer_tips, table_of
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.occlusal import Cusp, relief
from mountproof.phantom.placement import frame_of
from mountproof.phantom.tuning import elements_of, lift_of
from mountproof.teeth import Arch
from occlusion.open_arch_files import read_open_arch

F64 = NDArray[np.float64]
BACK = {"upper": (14, 15, 16, 17, 24, 25, 26, 27), "lower": (34, 35, 36, 37, 44, 45, 46, 47)}
#: How far a landmark may lie from where it was built, mm: three of the least standard uncertainty that is told.
NEAR_MM = 0.3


@pytest.fixture(scope="module")
def arches() -> dict[str, PhantomArch]:
    return {"upper": build_arch("upper", 40_000), "lower": build_arch("lower", 40_000)}


def of(arch: PhantomArch, which: Arch, tooth: int, noise_mm: float = 0.0) -> Table:
    frame = tooth_frames(arch.vertices_mm, arch.faces, arch.teeth, which)[tooth]
    v = arch.vertices_mm + np.random.default_rng(tooth).normal(0.0, noise_mm, arch.vertices_mm.shape)
    table = table_of(v, arch.faces[arch.teeth == tooth], frame)
    assert table is not None
    return table


def built(which: Arch, tooth: int, frame: ToothFrame) -> list[tuple[float, float, float]]:
    """(mesial, outward of the tip, outward of the groove) of each outer cusp, from the formula of the crown on a fine grid."""
    axes, origin = frame_of(which, tooth % 10)
    flip = np.array([1.0, 1.0, -1.0]) if tooth // 10 in (2, 3) else np.ones(3)
    d, b = np.meshgrid(np.arange(-4.5, 4.5, 0.05), np.arange(-4.5, 4.5, 0.05), indexing="ij")
    local = np.stack([d, b, relief(elements_of(tooth), d, b)], axis=-1)
    place = (local @ axes.T + origin + np.array([0.0, lift_of(tooth), 0.0])) * flip
    along, out, high = place @ frame.mesial, place @ frame.outward, place @ frame.occlusal
    found = []
    for cusp in elements_of(tooth):
        # the fifth cusp of the lower first molar is hardly a tip of its own
        if not isinstance(cusp, Cusp) or cusp.b_mm < 0.5 or cusp.name == "D":
            continue
        near = np.hypot(d - cusp.d_mm, b - cusp.b_mm) < 0.8
        top = np.unravel_index(np.argmax(np.where(near, high, -np.inf)), high.shape)
        across = (np.abs(along - along[top]) < 0.05) & (out < out[top]) & (out > out[top] - 4.0)
        low = np.unravel_index(np.argmin(np.where(across, high, np.inf)), high.shape)
        found.append((float(along[top]), float(out[top]), float(out[low])))
    return sorted(found, reverse=True)


@pytest.mark.parametrize("noise_mm", [0.0, 0.02])
@pytest.mark.parametrize(("which", "tooth"), [(w, t) for w in ("upper", "lower") for t in BACK[w]])
def test_tips_lie_where_they_were_built(
    arches: dict[str, PhantomArch], which: Arch, tooth: int, noise_mm: float
) -> None:
    table = of(arches[which], which, tooth, noise_mm)
    tips = outer_tips(table)
    wanted = built(which, tooth, table.frame)
    assert len(tips) == len(wanted)
    for tip, (along, out, _) in zip(tips, wanted, strict=True):
        assert float(tip.point_mm @ table.frame.mesial) == pytest.approx(along, abs=NEAR_MM)
        assert float(tip.point_mm @ table.frame.outward) == pytest.approx(out, abs=NEAR_MM)
        assert 0.1 <= tip.u_mm <= 0.3


@pytest.mark.parametrize("tooth", BACK["upper"])
def test_grooves_lie_where_they_were_built(arches: dict[str, PhantomArch], tooth: int) -> None:
    table = of(arches["upper"], "upper", tooth)
    tips = outer_tips(table)
    for along, out, groove in built("upper", tooth, table.frame):
        on = incline_at(table, tips, along)
        assert on is not None
        assert on.groove_mm == pytest.approx(groove, abs=NEAR_MM)
        assert on.width_mm == pytest.approx(out - groove, abs=0.4)
        assert on.part(groove) == pytest.approx(0.0, abs=0.15)
        assert on.part(out) == pytest.approx(1.0, abs=0.15)


def test_left_and_right_are_alike(arches: dict[str, PhantomArch]) -> None:
    """Molars are mirror images but for small facets: an outward axis that did not turn with the side would show at once."""
    for right, left in ((16, 26), (17, 27)):
        widths = [
            [
                incline.width_mm
                for tip in outer_tips(table)
                if (incline := incline_at(table, outer_tips(table), float(tip.point_mm @ table.frame.mesial)))
            ]
            for table in (of(arches["upper"], "upper", right), of(arches["upper"], "upper", left))
        ]
        assert widths[0] == pytest.approx(widths[1], abs=0.25)


def test_a_worn_tooth_a_hole_and_a_speck_are_not_guessed(arches: dict[str, PhantomArch]) -> None:
    arch = arches["upper"]
    frame = tooth_frames(arch.vertices_mm, arch.faces, arch.teeth, "upper")[16]
    faces = arch.faces[arch.teeth == 16]
    table = of(arch, "upper", 16)
    tip = outer_tips(table)[0]
    along = float(tip.point_mm @ frame.mesial)
    high = arch.vertices_mm @ frame.occlusal
    worn = arch.vertices_mm - np.maximum(high - (high[faces].max() - 2.0), 0.0)[:, None] * frame.occlusal
    flat = table_of(worn, faces, frame)
    assert flat is not None
    assert groove_at(flat, along) is None
    assert incline_at(flat, outer_tips(flat), along) is None
    centre = arch.vertices_mm[faces].mean(axis=1)
    holed = table_of(arch.vertices_mm, faces[np.linalg.norm(centre - tip.point_mm, axis=1) > 1.0], frame)
    assert holed is not None
    assert all(np.linalg.norm(t.point_mm - tip.point_mm) > 1.0 for t in outer_tips(holed))
    assert table_of(arch.vertices_mm, faces[:5], frame) is None


@given(
    groove=st.floats(-3, 3),
    width=st.floats(0.5, 6),
    at=st.floats(-8, 8),
    by=st.floats(-3, 3),
)
def test_moving_a_tip_by_d_moves_its_part_by_d_over_the_width(
    groove: float, width: float, at: float, by: float
) -> None:
    on = Incline(groove, 0.1, groove + width, 0.1)
    assert on.part(at + by) - on.part(at) == pytest.approx(by / on.width_mm, abs=1e-9)
    assert on.part(on.groove_mm) == 0.0
    assert on.part(on.tip_mm) == pytest.approx(1.0)


def test_real_crowns_have_inclines_of_a_likely_width(open_arches: Path) -> None:
    """Premolars and molars: 2 to 4 mm from groove to tip (common practice, no source); what is worn is not told."""
    vertices, faces, teeth = read_open_arch(open_arches, "upper")
    frames = tooth_frames(vertices, faces, teeth, "upper")
    told = {}
    for tooth in BACK["upper"]:
        table = table_of(vertices, faces[teeth == tooth], frames[tooth])
        assert table is not None
        tips = outer_tips(table)
        on = [incline_at(table, tips, float(t.point_mm @ table.frame.mesial)) for t in tips]
        told[tooth] = [one.width_mm for one in on if one is not None]
    assert sum(bool(widths) for widths in told.values()) >= 6, told
    assert all(1.4 < mm < 4.2 for widths in told.values() for mm in widths), told
