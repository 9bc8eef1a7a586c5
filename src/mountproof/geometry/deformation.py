"""How one scan of an arch differs from another beyond where it lies: scale, width, twist, bend, and single spots.

After the registration, what is left along the normals is fitted by a few smooth motions of the whole arch, the six rigid
ones among them once more, so that none of them can hide in where the scan lies. Their doubt follows from how the
residuals hang together in patches. What no smooth motion explains is looked for spot by spot.

Shapes are stated in a frame of x ahead, y up, z right. Source of the patches' covariance: K.-Y. Liang and S. L. Zeger
1986; of the weights: A. E. Beaton and J. W. Tukey 1974 (both from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from scipy.stats import norm
from scipy.stats import t as student

from mountproof.geometry.nearest import Mesh, nearest
from mountproof.geometry.poses import Array, checked, transform
from mountproof.geometry.registration import Registered, cubes_of, register_surface

#: The shapes that are told, in the order of their numbers, and the one more that flexure is told apart by.
SHAPES = ("scale", "width", "twist", "bend")
FLEXURE = "flexure"
#: Edge of the patches: what hangs together is cut where patches meet, so they are about a tooth, three times a cusp.
PATCH_MM = 9.0
#: All shapes together are wrongly reported in this share of pairs without any.
FALSE_ALARMS = 0.05
_TUKEY, _MAD, _LEAST_SD_MM = 4.685, 0.6744897501960817, 5e-4
_ROUNDS = 6
#: What hangs together over the borders of patches makes no doubt larger than by this: beyond, it is no scatter.
_MOST_BEYOND = 2.0
#: A fit that takes back less of a small motion than this is not at its end: nothing is concluded from it.
_LEAST_ANSWER = 0.2
#: No motion is tried by less (mm): below it, partners do not change.
_LEAST_TRIED = 1e-4
#: A shape is held where what else could move takes less than this share of its information away.
_HELD = 1e-3
#: Cells in which spots are looked for, mm; fewer points than these show nothing; so many SDs and so far they stand off.
_CELL_MM, _LEAST_POINTS, _SPOT_SD, _SPOT_MM = 1.5, 4, 5.0, 0.03
#: Halves of a jaw that bend about the front go over into each other within this, mm.
_FRONT_MM = 5.0
#: No scanner keeps the shape of an arch better than this, mm; and half the curvature of a cusp, 1/mm.
_LEAST_SHAPE_MM, _CURVED = 1e-3, 0.5
#: One of five shapes is better than none by chance in fewer than one of twenty pairs (chi-square, 1 degree, 0.01), halved.
_CLEAR = 3.317


class Measure(NamedTuple):
    """What shapes are measured by: ``middle_mm`` (3,), half the width and half the length of the arch, mm."""

    middle_mm: Array
    half_width_mm: float
    half_length_mm: float


class Spot(NamedTuple):
    """One place where the scans differ: ``at_mm`` (3,), signed ``off_mm`` there (above zero: the other stands out), its SD."""

    at_mm: Array
    off_mm: float
    u_mm: float
    area_mm2: float


class Deformed(NamedTuple):
    """How the other scan differs from the mesh.

    ``values`` (4,) in the order of ``SHAPES`` with ``cov`` (4, 4): ``scale`` relative; ``width`` mm across twice the half
    width, beyond what scale does (below zero: the other is narrower); ``twist`` mm by which the right hind corner stands
    above the plane of the other three; ``bend`` mm by which the middle stands above front and back. ``held`` (4,) whether
    the scan shows it at all; ``shows`` (4,) whether it stands out of its doubt. ``likelihood``: log of the likelihood of
    one shape alone (``none``, each of ``SHAPES``, ``flexure``), each with its best amount in ``amounts``. ``spots``,
    largest first; ``residual_mm`` (n,) what no smooth shape explains, NaN without a partner; ``sd_mm`` of one residual.
    """

    found: Registered
    measure: Measure
    values: Array
    cov: Array
    held: NDArray[np.bool_]
    shows: NDArray[np.bool_]
    likelihood: dict[str, float]
    amounts: dict[str, float]
    spots: tuple[Spot, ...]
    residual_mm: Array
    sd_mm: float


def measure_of(points_mm: ArrayLike) -> Measure:
    """Return the middle, half the width (z) and half the length (x) of an arch of points (n, 3)."""
    p = checked(points_mm, (3,), "points_mm").reshape(-1, 3)
    low, high = np.quantile(p, 0.01, axis=0), np.quantile(p, 0.99, axis=0)
    half = 0.5 * (high - low)
    return Measure(0.5 * (low + high), float(max(half[2], 1.0)), float(max(half[0], 1.0)))


def shape_motion(shape: str, at_mm: ArrayLike, measure: Measure) -> Array:
    """Return (n, 3) how one unit of a shape moves places ``at_mm`` (n, 3). ValueError for a shape of another name.

    ``scale``: out from the middle. ``width``: along z, in proportion to z. ``twist``: turned about x in proportion to x.
    ``bend``: y by a parabola of x, cross sections staying square to it. ``flexure``: each half turned about the front,
    seen from above, one mm of width at the back.
    """
    p = checked(at_mm, (3,), "at_mm").reshape(-1, 3) - measure.middle_mm
    x, y, z = p[:, 0], p[:, 1], p[:, 2]
    wide, long = measure.half_width_mm, measure.half_length_mm
    u, s = x / long, z / wide
    none = np.zeros(len(p))
    if shape == "scale":
        return p
    if shape == "width":
        return np.column_stack([none, none, 0.5 * s])
    if shape == "twist":
        return np.column_stack([none, -0.25 * u * s, 0.25 * u * y / wide])
    if shape == "bend":
        return np.column_stack([2.0 * u * y / long, 1.0 - u * u, none])
    if shape == FLEXURE:
        back = (long - x) / (2.0 * long)
        return np.column_stack([np.abs(z) / (4.0 * long), none, 0.5 * np.tanh(z / _FRONT_MM) * back])
    raise ValueError(f"shape: one of {', '.join((*SHAPES, FLEXURE))}")


def deformation(
    points_mm: ArrayLike,
    mesh: Mesh,
    start: ArrayLike,
    *,
    measure: Measure | None = None,
    most_mm: float = 1.5,
    patch_mm: float = PATCH_MM,
) -> Deformed:
    """Tell how ``points_mm`` (n, 3) of another scan differ in shape from ``mesh``, from ``start`` (4, 4) mesh from points.

    Raises ValueError where too few points lie near the mesh, or in fewer than twenty patches.
    """
    points = checked(points_mm, (3,), "points_mm").reshape(-1, 3)
    found = register_surface(points, mesh, start, most_mm=most_mm)
    at = transform(found.pose, points)
    sized = measure_of(at) if measure is None else measure
    plain = _fit(at, mesh, sized, SHAPES, most_mm, patch_mm)
    wider = _fit(at, mesh, sized, (*SHAPES, FLEXURE), most_mm, patch_mm, plain.answered)
    likelihood, amounts = _alone(wider)
    limit = student.ppf(1.0 - FALSE_ALARMS / (2.0 * len(SHAPES)), plain.degrees)
    shows = plain.held & (np.abs(plain.values) > limit * np.sqrt(np.diag(plain.cov)))
    # A doubt that few patches tell is itself in doubt: stated as the doubt that is as wide with many.
    few = student.ppf(0.975, plain.degrees) / norm.ppf(0.975)
    return Deformed(
        found,
        sized,
        plain.values,
        plain.cov * np.outer(few, few),
        plain.held,
        shows,
        likelihood,
        amounts,
        _spots(wider.at, wider.residual, wider.sd),
        wider.residual,
        wider.sd,
    )


def likeliest(found: Deformed) -> tuple[str, float]:
    """Return the one shape that explains the whole best, and the log of how much likelier it is than the next."""
    ranked = sorted(found.likelihood, key=lambda name: -found.likelihood[name])
    # An amount of its own must pay for itself: nothing at all goes first unless one shape is clearly likelier.
    if found.likelihood[ranked[0]] - found.likelihood["none"] < _CLEAR:
        return "none", 0.0
    return ranked[0], found.likelihood[ranked[0]] - found.likelihood[ranked[1]]


class _Fit(NamedTuple):
    values: Array
    cov: Array
    held: NDArray[np.bool_]
    degrees: Array
    at: Array
    residual: Array
    sd: float
    answered: Array


def _fit(
    at: Array,
    mesh: Mesh,
    measure: Measure,
    shapes: tuple[str, ...],
    most_mm: float,
    patch_mm: float,
    answered: Array | None = None,
) -> _Fit:
    """Fit the six rigid motions and ``shapes`` to the distances along the normals, by a few rounds of nearest points.

    ``answered`` (j, j), j no more than k: as ``_answered`` found it for the first of these motions; tried anew where None.
    """
    modes = np.stack([*_rigid(at, measure), *(shape_motion(s, at, measure) for s in shapes)], axis=2)
    size = np.sqrt((modes**2).sum(axis=1).mean(axis=0))
    modes = modes / size
    values = np.zeros(modes.shape[2])
    hint: NDArray[np.int32] | None = None
    for _ in range(_ROUNDS):
        one = _step(at, modes, values, mesh, most_mm, hint)
        values, hint = values + one.step, one.hint
        if np.abs(one.step).max() < 1e-5:
            break
    rows, jacobian, signed = one.rows, one.jacobian, one.signed
    which, patches = cubes_of(at[rows], patch_mm)
    if patches - modes.shape[2] < 8:
        raise ValueError("the scans share too little surface to tell shapes apart")
    pulls = np.zeros((patches, modes.shape[2]))
    np.add.at(pulls, which, jacobian * (one.weight * signed[rows])[:, None])
    own = np.zeros((patches, modes.shape[2], modes.shape[2]))
    np.add.at(own, which, np.einsum("i,ia,ib->iab", one.weight, jacobian, jacobian))
    # Where the fit would go without one patch: patches at the ends of an arch pull the fit after them, which hides them from a
    # plain sum. Without them all is too wide, with them too narrow: half way is right where patches are alike.
    without = np.linalg.solve(np.eye(len(one.inverse)) - own @ one.inverse, pulls[:, :, None])[:, :, 0]
    moves = 0.5 * (pulls + without) @ one.inverse
    pull = jacobian @ one.inverse * one.weight[:, None]
    moves = moves * _beyond_patches(at[rows], pull, signed[rows], which)
    if answered is None:
        sds = np.sqrt(np.square(moves).sum(axis=0))
        answered = _answered(at, modes, values, sds, mesh, most_mm, one.hint)
    back = np.diag(np.full(modes.shape[2], np.diag(answered).mean()))
    back[: len(answered), : len(answered)] = answered
    moves = np.linalg.solve(back, moves.T).T
    cov = moves.T @ moves / np.outer(size, size)
    # Points that stray to and fro about a curved surface lie outside it on average, by half its curvature times their variance.
    floor_mm = _LEAST_SHAPE_MM + _CURVED * one.sd**2
    floors = [floor_mm / measure.half_width_mm if name == "scale" else floor_mm for name in shapes]
    cov[6:, 6:] += np.diag(np.square(floors))
    free = (one.lost**2).sum(axis=1) > 0.01 if one.lost.size else np.zeros(len(values), np.bool_)
    share = np.column_stack([np.bincount(which, pull[:, k] ** 2, patches) for k in range(6, modes.shape[2])])
    most = np.maximum(share.max(axis=0), np.finfo(np.float64).tiny)
    degrees = np.maximum(
        (share / most).sum(axis=0) ** 2 / np.maximum((share / most) ** 2, 1e-300).sum(axis=0), 1.0
    )
    return _Fit((values / size)[6:], cov[6:, 6:], ~free[6:], degrees, at, one.residual, one.sd, answered)


class _Step(NamedTuple):
    """One round: the step (k,), and of the points that count: their rows, normals along the motions, distances, weights."""

    step: Array
    rows: NDArray[np.intp]
    jacobian: Array
    signed: Array
    weight: Array
    inverse: Array
    lost: Array
    residual: Array
    sd: float
    hint: NDArray[np.int32]


def _step(
    at: Array, modes: Array, values: Array, mesh: Mesh, most_mm: float, hint: NDArray[np.int32] | None
) -> _Step:
    """One round of nearest points with Tukey's weights."""
    moved = at - modes @ values
    found = nearest(moved, mesh, most_mm, hint)
    normals = mesh.normals[found.row]
    ok = (found.row >= 0) & ~found.on_border & (np.abs(normals).sum(axis=1) > 0.0)
    signed = np.einsum("ij,ij->i", moved - found.place_mm, normals)
    if ok.sum() < 100:
        raise ValueError("fewer than a hundred points lie near the surface: look at the start")
    sd = max(float(np.median(np.abs(signed[ok]))) / _MAD, _LEAST_SD_MM)
    rows = np.flatnonzero(ok & (np.abs(signed) < _TUKEY * sd))
    jacobian = np.einsum("ij,ijk->ik", normals[rows], modes[rows])
    weight = (1.0 - (signed[rows] / (_TUKEY * sd)) ** 2) ** 2
    inverse, lost = _inverse((jacobian * weight[:, None]).T @ jacobian)
    step = inverse @ (jacobian.T @ (weight * signed[rows]))
    return _Step(
        step,
        rows,
        jacobian,
        signed,
        weight,
        inverse,
        lost,
        np.where(ok, signed, np.nan),
        sd,
        found.row,
    )


def _answered(
    at: Array, modes: Array, values: Array, sds: Array, mesh: Mesh, most_mm: float, hint: NDArray[np.int32]
) -> Array:
    """Return (k, k) how much of a small motion, one SD of each, one round takes back.

    Less than all of it, since points find new partners on a curved surface, and since Tukey's weights let go: by so much less
    the fit is held, and by so much more it strays.
    """
    still = _step(at, modes, values, mesh, most_mm, hint).step
    out = np.zeros((len(values), len(values)))
    for k in range(len(values)):
        by = np.zeros(len(values))
        by[k] = max(float(sds[k]), _LEAST_TRIED)
        out[:, k] = (still - _step(at, modes, values + by, mesh, most_mm, hint).step) / by[k]
    held = np.linalg.eigvals(out).real.min()
    return out if held > _LEAST_ANSWER else np.eye(len(values))


def _beyond_patches(at: Array, pull: Array, residual: Array, patch: NDArray[np.intp]) -> Array:
    """Return by how much the SD of each motion grows (k,) since residuals hang together over the borders of patches.

    ``pull`` (n, k) moves the motions by each residual. How residuals hang together over a distance is read off all of
    them, in cells; it is followed to where it ends. Both sums of it, within patches and over all, are then compared.
    """
    cell, cells = cubes_of(at, _CELL_MM)
    count = np.bincount(cell, minlength=cells)
    mean = np.bincount(cell, residual, cells) / count
    middle = np.column_stack([np.bincount(cell, at[:, k], cells) for k in range(3)]) / count[:, None]
    pulled = np.column_stack([np.bincount(cell, pull[:, k], cells) for k in range(pull.shape[1])])
    home = np.zeros(cells, dtype=np.intp)
    home[cell] = patch
    pairs = cKDTree(middle).query_pairs(PATCH_MM, output_type="ndarray")
    one, other = pairs[:, 0], pairs[:, 1]
    apart = np.linalg.norm(middle[one] - middle[other], axis=1)
    ring = np.minimum((apart / _CELL_MM).astype(np.intp), int(PATCH_MM / _CELL_MM) - 1)
    product, weight = mean[one] * mean[other], np.sqrt(count[one] * count[other])
    together = np.bincount(ring, product * weight) / np.maximum(np.bincount(ring, weight), 1.0)
    together[np.maximum.accumulate(together <= 0.0)] = 0.0
    shared = 2.0 * together[ring][:, None] * pulled[one] * pulled[other]
    same = home[one] == home[other]
    own = (np.square(mean)[:, None] * np.square(pulled)).sum(axis=0)
    inside = own + shared[same].sum(axis=0)
    grown = (inside + shared[~same].sum(axis=0)) / np.maximum(inside, np.finfo(np.float64).tiny)
    out: Array = np.sqrt(np.clip(grown, 1.0, _MOST_BEYOND**2))
    return out


def _rigid(at: Array, measure: Measure) -> list[Array]:
    arm = at - measure.middle_mm
    axes = np.eye(3)
    turns = [np.cross(axes[k], arm) for k in range(3)]
    shifts = [np.broadcast_to(axes[k], arm.shape) for k in range(3)]
    return [*turns, *shifts]


def _inverse(information: Array) -> tuple[Array, Array]:
    """Return the inverse where motions are held, and the directions (k, lost) that are not."""
    seen = np.diag(information)
    scale = 1.0 / np.sqrt(np.maximum(seen, _HELD * seen.max()))
    values, vectors = np.linalg.eigh(information * np.outer(scale, scale))
    lost = values < _HELD
    inner = (vectors[:, ~lost] / values[~lost]) @ vectors[:, ~lost].T
    return inner * np.outer(scale, scale), vectors[:, lost]


def _alone(fit: _Fit) -> tuple[dict[str, float], dict[str, float]]:
    """Return the log likelihood of each shape alone with its best amount, by the fit of all and its covariance."""
    information = np.linalg.pinv(fit.cov, rcond=1e-12, hermitian=True)
    push = information @ fit.values
    all_of_it = float(fit.values @ push)
    likelihood, amounts = {"none": -0.5 * all_of_it}, {"none": 0.0}
    for k, name in enumerate((*SHAPES, FLEXURE)):
        if information[k, k] > 0.0:
            amounts[name] = float(push[k] / information[k, k])
            likelihood[name] = -0.5 * (all_of_it - float(push[k] ** 2 / information[k, k]))
    return likelihood, amounts


def _spots(at: Array, residual: Array, sd: float) -> tuple[Spot, ...]:
    """Return the places where cells of points stand off together by more than their like."""
    seen = np.flatnonzero(np.isfinite(residual))
    cell = np.floor((at[seen] - at[seen].min(axis=0)) / _CELL_MM).astype(np.int64)
    keys, which, count = np.unique(cell, axis=0, return_inverse=True, return_counts=True)
    which = which.ravel()
    mean = np.bincount(which, residual[seen]) / count
    enough = count >= _LEAST_POINTS
    if not enough.any():
        return ()
    z = mean * np.sqrt(count) / sd
    alike = max(float(np.median(np.abs(z[enough]))) / _MAD, 1.0)
    u = alike * sd / np.sqrt(count)
    off = np.flatnonzero(enough & (np.abs(mean) > _SPOT_SD * u) & (np.abs(mean) > _SPOT_MM))
    if not len(off):
        return ()
    pairs = np.array(sorted(cKDTree(keys[off]).query_pairs(1.8)), dtype=np.int64).reshape(-1, 2)
    same = np.sign(mean[off][pairs[:, 0]]) == np.sign(mean[off][pairs[:, 1]])
    pairs = pairs[same]
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(off), len(off)))
    parts, label = connected_components(graph, directed=False)
    out = []
    for k in range(parts):
        cells = off[label == k]
        most = cells[int(np.argmax(np.abs(mean[cells])))]
        here = at[seen[which == most]].mean(axis=0)
        out.append(Spot(here, float(mean[most]), float(u[most]), float(len(cells) * _CELL_MM**2)))
    return tuple(sorted(out, key=lambda s: -abs(s.off_mm)))
