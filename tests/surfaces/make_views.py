"""Made-up occlusal views: a row of round crowns on an arch, a gap that is a plain function of place."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from mountproof.occlusion.contours import contour_lines
from mountproof.occlusion.view import Frame, Line, OcclusalView, ToothMark

EDGES_MM = (0.05, 0.1, 0.25, 0.5, 1.0)
PIXEL_MM = 0.2
WIDE_MM, HIGH_MM = 68.0, 58.0
UPPER = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER = (47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37)


def _centres(arch: str) -> np.ndarray:
    angle = np.linspace(np.deg2rad(-15), np.deg2rad(195), 14)
    x = WIDE_MM / 2 - 26 * np.cos(angle)
    y = 42 - 36 * np.clip(np.sin(angle), -0.3, 1.0)
    return np.stack([x, y if arch == "upper" else HIGH_MM - y], axis=1)


def _mark(number: int, centre: np.ndarray, arch: str) -> ToothMark:
    middle = np.array([WIDE_MM / 2, 36.0 if arch == "upper" else HIGH_MM - 36.0])
    out = (centre - middle) / np.hypot(*(centre - middle))
    beside = centre + out * (7.5 if number % 10 > 5 else 6.3)
    return ToothMark(number, (float(centre[0]), float(centre[1])), (float(beside[0]), float(beside[1])))


def make_view(arch: str, *, hole: bool = False) -> OcclusalView:
    """Return the view of one arch; ``hole`` leaves a patch unknown."""
    rows, columns = round(HIGH_MM / PIXEL_MM), round(WIDE_MM / PIXEL_MM)
    u = (np.arange(columns) + 0.5)[None, :] * PIXEL_MM
    v = (np.arange(rows) + 0.5)[:, None] * PIXEL_MM
    height = np.zeros((rows, columns))
    tooth = np.zeros((rows, columns), dtype=np.int32)
    outlines = []
    centres = _centres(arch)
    numbers = UPPER if arch == "upper" else LOWER
    for number, (cu, cv) in zip(numbers, centres, strict=True):
        radius = 5.0 if number % 10 > 5 else 3.8
        away = np.hypot(u - cu, v - cv)
        dome = np.sqrt(np.maximum(1.0 - (away / radius) ** 2, 0.0)) * 4.0
        cusps = 0.5 * np.cos(1.8 * (u - cu)) * np.cos(1.8 * (v - cv))
        here = (away < radius) & (dome + cusps > height)
        height[here] = (dome + cusps)[here]
        tooth[here] = number
        turn = np.linspace(0, 2 * np.pi, 40)
        outlines.append(
            Line(number, np.stack([cu + radius * np.cos(turn), cv + radius * np.sin(turn)], axis=1))
        )
    slope_v, slope_u = np.gradient(height, PIXEL_MM)
    light = np.clip(0.75 - 0.25 * (slope_u + slope_v), 0.05, 1.0)
    shade = np.where(tooth > 0, np.rint(255 * light), 0).astype(np.uint8)
    gap = np.where(tooth > 0, 0.9 * (4.6 - height) + 0.01 * np.abs(u - 12.0), np.nan)
    gap[height < 3.2] = np.nan
    band = np.where(np.isfinite(gap) & (gap <= EDGES_MM[-1]), np.searchsorted(EDGES_MM, gap), 255).astype(
        np.uint8
    )
    unknown = np.zeros_like(tooth, dtype=np.bool_)
    if hole:
        unknown[(np.hypot(u - centres[12, 0], v - centres[12, 1]) < 2.0)] = True
        band[unknown] = 255
    lines = [
        Line(rank, (line + 0.5) * PIXEL_MM)
        for rank, edge in enumerate(EDGES_MM)
        for line in contour_lines(gap, edge)
        if len(line) > 5
    ]
    sites = np.array([centres[2], centres[3] + 0.8, centres[1] - 1.2, centres[11]])
    return OcclusalView(
        frame=Frame(arch, 0.0, 0.0, 1.0, rows, columns, PIXEL_MM),  # type: ignore[arg-type]
        shade=shade,
        tooth=tooth,
        gap_mm=gap,
        unknown=unknown,
        band=band,
        contours=tuple(lines),
        outlines=tuple(outlines),
        marks=tuple(_mark(n, c, arch) for n, c in zip(numbers, centres, strict=True)),
        hole_border_mm=np.zeros((0, 2, 2)),
        sites_mm=sites,
        width_mm=WIDE_MM,
        height_mm=HIGH_MM,
        scale_bar_mm=10.0,
        patient_right="left",
    )


def make_evidence(*, hole: bool = False) -> SimpleNamespace:
    """Return what the answer to the contacts carries for the pictures."""
    return SimpleNamespace(views=(make_view("upper"), make_view("lower", hole=hole)), band_edges_mm=EDGES_MM)
