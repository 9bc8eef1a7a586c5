"""Occlusal views: sides, bands, contour lines, holes, and the mirror."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from mountproof.geometry.closing import ClosingMap, closing_map
from mountproof.geometry.surface import prepare
from mountproof.geometry.topology import border_edges
from mountproof.occlusion.view import NO_BAND, NO_SURFACE, OcclusalView, frames, occlusal_view, to_picture
from mountproof.teeth import mirrored, right_to_left
from occlusion.made_arch import row_of_blocks

EDGES = (0.1, 0.3, 0.6, 1.0, 1.6)
Arrays = tuple[np.ndarray, np.ndarray, np.ndarray]


@lru_cache(maxsize=1)
def blocks() -> tuple[Arrays, Arrays]:
    upper = row_of_blocks("upper", [t for t in right_to_left("upper") if t % 10 < 8 and t != 25])
    lower = row_of_blocks("lower", [t for t in right_to_left("lower") if t % 10 < 8], front_mm=84.0)
    return upper, (lower[0] - [0.0, 2.6, 0.0], lower[1], lower[2])


def closing_of(upper: Arrays, lower: Arrays) -> ClosingMap:
    return closing_map(prepare(*upper[:2], arch="upper"), prepare(*lower[:2], arch="lower"))


def views(upper: Arrays, lower: Arrays, columns: int = 500) -> tuple[OcclusalView, OcclusalView]:
    closing = closing_of(upper, lower)
    up, low = frames(*upper, *lower, columns=columns)
    made = [
        occlusal_view(f, *a, closing, band_edges_mm=EDGES, border=border_edges(a[1]))
        for f, a in ((up, upper), (low, lower))
    ]
    return made[0], made[1]


@lru_cache(maxsize=1)
def plain() -> tuple[OcclusalView, OcclusalView]:
    return views(*blocks())


def test_patient_right_is_left_on_both_and_incisors_at_the_outer_edges() -> None:
    """Trap 2: a mark on 16 stands on the left of the picture; neither view is mirrored."""
    upper, lower = plain()
    up, low = ({m.tooth: m.at_mm for m in v.marks} for v in (upper, lower))
    assert up[16][0] < up[26][0] and low[46][0] < low[36][0]
    assert up[11][1] < up[16][1] and low[41][1] > low[46][1]
    assert upper.patient_right == lower.patient_right == "left"
    for view in (upper, lower):
        for m in view.marks:
            r, c = (int(x / view.frame.pixel_mm) for x in m.at_mm[::-1])
            assert view.tooth[r, c] == m.tooth
            beside = tuple(int(x / view.frame.pixel_mm) for x in m.beside_mm[::-1])
            assert view.tooth[beside] == 0


def test_opposing_places_stand_at_the_same_distance_from_the_left() -> None:
    upper, lower = plain()
    points = np.array([[70.0, -35.0, 20.0], [60.0, -34.0, -11.0]])
    one, two = to_picture(upper.frame, points), to_picture(lower.frame, points + np.array([3.0, 1.0, 0.0]))
    assert (one[:, 0] == two[:, 0]).all()
    assert upper.frame.pixel_mm == lower.frame.pixel_mm and upper.width_mm == lower.width_mm


def test_pixels_show_the_place_they_say() -> None:
    upper, lower = plain()
    for view, (v, f, t) in zip((upper, lower), blocks(), strict=True):
        centre = v[f].mean(axis=1)
        facing = np.abs(np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]])[:, 1])
        towards = 1.0 if view is lower else -1.0
        high = towards * centre[:, 1]
        top = np.flatnonzero((facing > 0.1) & (high > np.quantile(high, 0.75)))
        at = np.floor(to_picture(view.frame, centre) / view.frame.pixel_mm).astype(int)
        assert top.size > 100
        seen = view.tooth[at[top, 1], at[top, 0]]
        assert (seen == t[top]).mean() > 0.97


def test_bands_are_the_gap_between_their_edges() -> None:
    for view in plain():
        shown = view.band != NO_BAND
        assert shown.any() and (view.gap_mm[shown] <= EDGES[-1]).all()
        assert not (np.isfinite(view.gap_mm) & (view.gap_mm <= EDGES[-1]) & ~shown).any()
        for k in range(5):
            here = view.gap_mm[view.band == k]
            assert (here <= EDGES[k]).all() and (k == 0 or (here > EDGES[k - 1]).all())
        assert (view.shade[view.tooth > 0] != NO_SURFACE).all()
        assert (view.shade[shown] != NO_SURFACE).all()


def test_gap_is_the_map_s_gap_and_follows_closing() -> None:
    upper, lower = blocks()
    closing = closing_of(upper, lower)
    up, low = frames(*upper, *lower, columns=400)
    for frame, arch in ((up, upper), (low, lower)):
        still = occlusal_view(frame, *arch, closing, band_edges_mm=EDGES)
        closed = occlusal_view(frame, *arch, closing, band_edges_mm=EDGES, closed_rad=0.004)
        known = np.isfinite(still.gap_mm)
        assert (known == np.isfinite(closed.gap_mm)).all()
        r = np.nonzero(known)[0]
        x = frame.v_sign * ((r + 0.5) * frame.pixel_mm - frame.v_from_x_mm)
        drop = (still.gap_mm - closed.gap_mm)[known] / 0.004  # the radius
        y = np.sqrt(drop**2 - x**2)
        assert (y > 20).all() and (y < 45).all()
        assert (closed.shade == still.shade).all()
    values = closing.gap_mm()
    assert np.nanmin(still.gap_mm) == pytest.approx(np.nanmin(values), abs=0.02)


def test_contours_separate_the_bands() -> None:
    for view in plain():
        assert {line.of for line in view.contours} >= {3, 4}
        for line in view.contours:
            q = np.round(line.points_mm / view.frame.pixel_mm - 0.5, 6)  # the whole numbers are whole again
            low, high = np.floor(q).astype(int), np.ceil(q).astype(int)
            a, b = view.gap_mm[low[:, 1], low[:, 0]], view.gap_mm[high[:, 1], high[:, 0]]
            edge = EDGES[line.of]
            assert ((np.minimum(a, b) <= edge + 1e-12) & (edge - 1e-12 <= np.maximum(a, b))).all()


def test_outlines_go_round_their_tooth() -> None:
    for view in plain():
        assert (
            {line.of for line in view.outlines}
            == {m.tooth for m in view.marks}
            == set(np.unique(view.tooth)) - {0}
        )
        for m in view.marks:
            longest = max((x.points_mm for x in view.outlines if x.of == m.tooth), key=len)
            x, y = longest.T
            enclosed = 0.5 * abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
            counted = (view.tooth == m.tooth).sum() * view.frame.pixel_mm**2
            assert enclosed == pytest.approx(counted, rel=0.02)


def test_mirrored_case_gives_the_flipped_picture() -> None:
    upper, lower = blocks()

    def mirror(a: Arrays) -> Arrays:
        return (
            a[0] * [1, 1, -1],
            np.ascontiguousarray(a[1][:, ::-1]),
            np.array([mirrored(int(t)) for t in a[2]]),
        )

    for here, there in zip(plain(), views(mirror(upper), mirror(lower)), strict=True):
        flipped = there.tooth[:, ::-1]
        swap = np.zeros(50, dtype=np.int32)
        for t in (*right_to_left("upper"), *right_to_left("lower")):
            swap[t] = mirrored(t)
        assert (swap[flipped] == here.tooth).mean() > 0.999
        both = np.isfinite(here.gap_mm) & np.isfinite(there.gap_mm[:, ::-1])
        assert both.sum() > 0.98 * np.isfinite(here.gap_mm).sum()
        assert np.median(np.abs(here.gap_mm - there.gap_mm[:, ::-1])[both]) < 1e-9


def test_a_hole_is_drawn_and_marked_unknown() -> None:
    upper, lower = blocks()
    centre = upper[0][upper[1]].mean(axis=1)
    low = centre[:, 1] < np.quantile(centre[upper[2] == 16][:, 1], 0.4)
    cut = (upper[2] == 16) & low
    holed = (upper[0], upper[1][~cut], upper[2][~cut])
    whole, other = views(holed, lower)
    assert len(plain()[0].hole_border_mm) == 0 and not plain()[0].unknown.any()
    assert len(whole.hole_border_mm) > 10 and whole.unknown.any() and other.unknown.any()
    # The opposing teeth are unknown where the hole is, and only they.
    assert set(np.unique(other.tooth[other.unknown])) <= {0, 46, 47, 45}
    assert np.ptp(whole.hole_border_mm, axis=(0, 1)).max() < 16.0


def test_one_arch_alone_has_a_picture_without_gaps() -> None:
    upper, lower = blocks()
    up, _ = frames(*upper, *lower, columns=300)
    view = occlusal_view(up, *upper, None, band_edges_mm=EDGES, sites_mm=upper[0][:2])
    assert np.isnan(view.gap_mm).all() and (view.band == NO_BAND).all() and view.contours == ()
    assert view.sites_mm == pytest.approx(to_picture(up, upper[0][:2]))
    assert view.shade.max() > 180
    with pytest.raises(ValueError, match="rise"):
        occlusal_view(up, *upper, None, band_edges_mm=(0.2, 0.1))


def test_a_casts_pictures_without_any_number() -> None:
    upper, lower = blocks()
    up, low = frames(upper[0], upper[1], 0 * upper[2], lower[0], lower[1], 0 * lower[2], columns=200)
    view = occlusal_view(up, upper[0], upper[1], 0 * upper[2], None, band_edges_mm=EDGES)
    assert view.marks == () and view.outlines == () and (view.shade > 0).any()
    assert low.columns == up.columns == 200
