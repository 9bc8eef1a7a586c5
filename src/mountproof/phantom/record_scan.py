"""A made-up scan of a record between the made-up casts, or of the casts joined by it, with one thing wrong at a time.

The record is a sheet of wax over the teeth: above, the free wax, or the upper cast where that is lower; below the same
from the lower cast. Its corners lie over one even grid, so the imprints lie exactly on the casts as they are given,
undercuts are left out as a knife leaves them, and the outer sides close the sheet. All is made in the frame of the upper
jaw with the lower at the pose of the record, then carried to coordinates of the scanner's own choosing.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom.arch import PhantomArch
from mountproof.phantom.heights import heights

Array = NDArray[np.float64]
Faces = NDArray[np.int32]

#: Wax reaches this far beyond the teeth, seen from above, mm.
_BEYOND_MM: Final = 1.5
#: Wax thinner than this tears: there the record has a hole.
_TEARS_MM: Final = 0.06
#: Wax before a cusp of the other arch stays about this thick where there is room, mm.
_PUSHED_MM: Final = 0.8
#: The places that a twist is counted at: this far behind and before the middle of the record, and to each side, mm.
TWIST_AHEAD_MM, TWIST_SIDE_MM = 20.0, 25.0


class RecordScan(NamedTuple):
    """One scan: vertices (n, 3) mm in the scanner's coordinates, faces (m, 3), and ``scan_from_upper`` (4, 4)."""

    vertices_mm: Array
    faces: Faces
    scan_from_upper: Array


class Spot(NamedTuple):
    """A place of one arch: tooth (or gum near it), where (x, z) in the frame of the upper jaw, mm, and how large."""

    arch: str
    x_mm: float
    z_mm: float
    radius_mm: float
    height_mm: float


class Faults(NamedTuple):
    """What is wrong with a record.

    ``voids``: bubbles in an imprint; ``missing``: places where the wax never reached the teeth, by ``height_mm``;
    ``blobs``: wax or a crumb that stands proud of the cast; ``gum``: wax that reached the gum and presses into the cast
    by ``height_mm``; ``rock_mm``: (arch, amount at the left second molar) by which an imprint falls away to the left;
    ``twist_mm``: right against left molars, by a twist that grows evenly from side to side.
    """

    voids: tuple[Spot, ...] = ()
    missing: tuple[Spot, ...] = ()
    blobs: tuple[Spot, ...] = ()
    gum: tuple[Spot, ...] = ()
    rock_mm: tuple[str, float] | None = None
    twist_mm: float = 0.0


def cusp_of(cast: PhantomArch, tooth: int, arch: str, pose: Array | None = None) -> Array:
    """Return (3,) the tip of a tooth: its lowest point in the upper, its highest in the lower, moved by ``pose``."""
    rows = np.unique(cast.faces[cast.teeth == tooth])
    v = cast.vertices_mm[rows] if pose is None else _moved(pose, cast.vertices_mm[rows])
    out: Array = v[np.argmin(v[:, 1]) if arch == "upper" else np.argmax(v[:, 1])]
    return out


def record_surface(
    upper: PhantomArch,
    lower: PhantomArch,
    upper_from_lower: Array,
    *,
    edge_mm: float = 0.3,
    depth_mm: float = 1.3,
    noise_mm: float = 0.0,
    seed: int = 0,
    faults: Faults | None = None,
    scan_from_upper: Array | None = None,
    without: tuple[int, ...] = (),
) -> RecordScan:
    """Scan the record: both imprints and the outer sides in one mesh.

    ``upper_from_lower`` (4, 4) with the record in; ``scan_from_upper`` (4, 4) to the coordinates of the scanner.
    ``edge_mm``: distance of the corners of the grid; ``depth_mm``: how deep the tips lie in the wax; ``noise_mm``: SD of
    the scanner, each corner and axis; ``without``: teeth that the wax does not cover. Raises ValueError where no wax
    is left.
    """
    wrong = faults or Faults()
    low = lower._replace(vertices_mm=_moved(upper_from_lower, lower.vertices_mm))
    grid = _grid(upper, low, edge_mm, without)
    tops = heights(upper.vertices_mm, upper.faces, grid.x, grid.z, lowest=True)
    bottoms = heights(low.vertices_mm, low.faces, grid.x, grid.z, lowest=False)
    free_top = _level(upper, "upper", grid, without) + depth_mm
    free_bottom = _level(low, "lower", grid, without) - depth_mm
    # A cusp of the other arch pushes the wax before it, as far as the cast lets it go.
    top = np.fmin(np.fmax(free_top, bottoms + _PUSHED_MM), tops)
    bottom = np.fmax(np.fmin(free_bottom, tops - _PUSHED_MM), bottoms)
    top = _spoil(top, tops, grid, wrong, "upper", down=True)
    bottom = _spoil(bottom, bottoms, grid, wrong, "lower", down=False)
    there = grid.wax & (top - bottom > _TEARS_MM)
    v, f = _sheet(grid, top, bottom, there)
    return _scanned(v, f, wrong, noise_mm, seed, scan_from_upper)


def joined_casts(
    upper: PhantomArch,
    lower: PhantomArch,
    upper_from_lower: Array,
    *,
    side: str = "",
    hidden_mm: float = 1.0,
    noise_mm: float = 0.0,
    seed: int = 0,
    twist_mm: float = 0.0,
    scan_from_upper: Array | None = None,
) -> RecordScan:
    """Scan the casts joined by a record from the front and the sides: facial faces of both in one mesh.

    ``upper_from_lower`` (4, 4) with the record in; ``scan_from_upper`` (4, 4) to the coordinates of the scanner;
    ``side``: "right" or "left" where only that side was scanned; ``hidden_mm``: how much of the teeth the wax hides.
    """
    vs, fs, count = [], [], 0
    for arch, cast, pose in (("upper", upper, np.eye(4)), ("lower", lower, upper_from_lower)):
        v = _moved(pose, cast.vertices_mm)
        f = cast.faces[_facial(v, cast, arch, hidden_mm, side)]
        used, row = np.unique(f, return_inverse=True)
        vs.append(v[used])
        fs.append(row.reshape(-1, 3) + count)
        count += len(used)
    faces = np.ascontiguousarray(np.concatenate(fs), dtype=np.int32)
    return _scanned(np.concatenate(vs), faces, Faults(twist_mm=twist_mm), noise_mm, seed, scan_from_upper)


class _Grid(NamedTuple):
    """Corners x (p,), z (q,) and where there is wax (p, q)."""

    x: Array
    z: Array
    wax: NDArray[np.bool_]


def _grid(upper: PhantomArch, low: PhantomArch, edge_mm: float, without: tuple[int, ...]) -> _Grid:
    both = []
    for cast in (upper, low):
        kept = (cast.teeth > 0) & ~np.isin(cast.teeth, without)
        both.append(cast.vertices_mm[cast.faces[kept]])
    if not sum(len(b) for b in both):
        raise ValueError("no tooth is left that the wax could cover")
    seen = np.concatenate([b.reshape(-1, 3) for b in both])
    lo, hi = seen.min(axis=0) - 2 * _BEYOND_MM, seen.max(axis=0) + 2 * _BEYOND_MM
    x, z = np.arange(lo[0], hi[0], edge_mm), np.arange(lo[2], hi[2], edge_mm)
    wax = np.zeros((len(x), len(z)), np.bool_)
    middles = np.concatenate([b.mean(axis=1) for b in both])
    i = np.rint((middles[:, 0] - lo[0]) / edge_mm).astype(int)
    j = np.rint((middles[:, 2] - lo[2]) / edge_mm).astype(int)
    wax[i, j] = True
    reach = round(_BEYOND_MM / edge_mm) + 1
    for _ in range(reach):  # grown by a diamond and a square in turn: about an octagon
        wax[1:] |= wax[:-1].copy()
        wax[:-1] |= wax[1:].copy()
        wax[:, 1:] |= wax[:, :-1].copy()
        wax[:, :-1] |= wax[:, 1:].copy()
    return _Grid(x, z, wax)


def _level(cast: PhantomArch, arch: str, grid: _Grid, without: tuple[int, ...]) -> Array:
    """Return (p, q) the height of the tips around each corner: weighted by how near each tooth is."""
    tips = [cusp_of(cast, int(t), arch) for t in np.unique(cast.teeth) if t > 0 and t not in without]
    total, share = np.zeros(grid.wax.shape), np.zeros(grid.wax.shape)
    for x, y, z in tips:
        w = 1.0 / ((grid.x[:, None] - x) ** 2 + (grid.z[None, :] - z) ** 2 + 9.0) ** 2
        total += w * y
        share += w
    return total / share


def _spoil(wax: Array, cast: Array, grid: _Grid, wrong: Faults, arch: str, *, down: bool) -> Array:
    """Return an imprint (p, q) with what is wrong; ``down``: away from this cast is down."""
    out, away = wax.copy(), -1.0 if down else 1.0
    if wrong.rock_mm is not None and wrong.rock_mm[0] == arch:
        fall = np.clip(-grid.z / 28.0, 0.0, None) * wrong.rock_mm[1]
        out = out + away * fall[None, :]
    for spot in wrong.missing:
        if spot.arch == arch:
            near = np.clip(2.0 * (1.0 - _far(grid, spot) / spot.radius_mm), 0.0, 1.0)
            out = out + away * spot.height_mm * near
    for spot in wrong.voids:
        if spot.arch == arch:
            far = _far(grid, spot)
            middle = _at(cast, grid, spot)
            bowl = middle + away * np.sqrt(np.clip(spot.radius_mm**2 - far**2, 0.0, None))
            inside = far < spot.radius_mm
            out = np.where(inside, np.minimum(out, bowl) if down else np.maximum(out, bowl), out)
    for spot in wrong.blobs:
        if spot.arch == arch:
            far = _far(grid, spot)
            cap = cast - away * spot.height_mm * (1.0 - (far / spot.radius_mm) ** 2)
            inside = far < spot.radius_mm
            out = np.where(inside, np.fmax(out, cap) if down else np.fmin(out, cap), out)
    for spot in wrong.gum:
        if spot.arch == arch:
            inside = (_far(grid, spot) < spot.radius_mm) & np.isfinite(cast)
            out = np.where(inside, cast - away * spot.height_mm, out)
    return out


def _far(grid: _Grid, spot: Spot) -> Array:
    return np.asarray(np.hypot(grid.x[:, None] - spot.x_mm, grid.z[None, :] - spot.z_mm))


def _at(cast: Array, grid: _Grid, spot: Spot) -> float:
    near = np.where(np.isfinite(cast), _far(grid, spot), np.inf)
    return float(cast.flat[int(np.argmin(near))])


def _sheet(grid: _Grid, top: Array, bottom: Array, there: NDArray[np.bool_]) -> tuple[Array, Faces]:
    """Return the closed sheet: faces of the top upwards, of the bottom downwards, and the sides between."""
    cell = there[:-1, :-1] & there[1:, :-1] & there[1:, 1:] & there[:-1, 1:]
    if not cell.any():
        raise ValueError("no wax is left")
    p, q = there.shape
    at = np.arange(p * q).reshape(p, q)
    a, b, c, d = (s[cell] for s in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    # x ahead, z right, y up: (a, d, c) winds so that its normal points up.
    up = np.concatenate([np.stack([a, d, c], 1), np.stack([a, c, b], 1)])
    down = up[:, ::-1] + p * q
    edges = np.concatenate([up[:, [0, 1]], up[:, [1, 2]], up[:, [2, 0]]])
    keys = np.sort(edges, axis=1)
    _, first, count = np.unique(keys, axis=0, return_index=True, return_counts=True)
    rim = edges[first[count == 1]]
    i, j = rim[:, 0], rim[:, 1]
    sides = np.concatenate([np.stack([j, i, i + p * q], 1), np.stack([j, i + p * q, j + p * q], 1)])
    x, z = np.meshgrid(grid.x, grid.z, indexing="ij")
    v = np.concatenate([np.stack([x, h, z], axis=-1).reshape(-1, 3) for h in (top, bottom)])
    used, f = np.unique(np.concatenate([up, down, sides]), return_inverse=True)
    return v[used], np.ascontiguousarray(f.reshape(-1, 3), dtype=np.int32)


def _facial(v: Array, cast: PhantomArch, arch: str, hidden_mm: float, side: str) -> NDArray[np.bool_]:
    """Return which faces (m,) a scanner sees from the front and the sides."""
    corner = v[cast.faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    middle = corner.mean(axis=1)
    teeth = middle[cast.teeth > 0]
    heart = np.array([teeth[:, 0].min() + 10.0, 0.0, 0.0])
    out = middle - heart
    out[:, 1] = 0.0
    out /= np.linalg.norm(out, axis=1)[:, None]
    level = np.array([cusp_of(cast, int(t), arch)[1] for t in np.unique(cast.teeth) if t > 0])
    edge = float(np.median(level)) if arch == "upper" else float(np.median(_level_of(v, cast)))
    clear = middle[:, 1] > edge + hidden_mm if arch == "upper" else middle[:, 1] < edge - hidden_mm
    seen: NDArray[np.bool_] = (np.einsum("ij,ij->i", normal, out) > 0.3 * size) & clear
    seen &= np.abs(middle[:, 1] - edge) < 14.0
    if side:
        seen &= (middle[:, 2] > 3.0) if side == "right" else (middle[:, 2] < -3.0)
    return seen


def _level_of(v: Array, cast: PhantomArch) -> list[float]:
    return [float(v[np.unique(cast.faces[cast.teeth == t]), 1].max()) for t in np.unique(cast.teeth) if t > 0]


def _scanned(
    v: Array, f: Faces, wrong: Faults, noise_mm: float, seed: int, scan_from_upper: Array | None
) -> RecordScan:
    if wrong.twist_mm:
        v = v.copy()
        middle = 0.5 * (v[:, 0].min() + v[:, 0].max())
        v[:, 1] += 0.5 * wrong.twist_mm * (v[:, 0] - middle) / TWIST_AHEAD_MM * v[:, 2] / TWIST_SIDE_MM
    if noise_mm > 0.0:
        v = v + noise_mm * np.random.default_rng(seed).standard_normal(v.shape)
    away = np.eye(4) if scan_from_upper is None else scan_from_upper
    return RecordScan(_moved(away, v), f, away)


def _moved(pose: Array, points: Array) -> Array:
    out: Array = points @ pose[:3, :3].T + pose[:3, 3]
    return out
