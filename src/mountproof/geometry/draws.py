"""Exact first contact at every one of many poses of the lower that differ from one by small motions.

Prepared once (``near``): each part of both arches is cut into patches with sloping lids. Then (``closings``) the
motions are taken in bunches that are alike. Pairs of patches are bounded at every motion of a bunch side by side; the corners,
edges and faces that may touch first are left, and those that do in the closed forms of ``first_contact``. Why nothing is
missed: docs/theory/draws.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry import _pair_contacts, _pair_search, _small_motions
from mountproof.geometry._bunch_lanes import LANES
from mountproof.geometry._leans import MOST_TILT_RAD
from mountproof.geometry._pair_asked import Search, Two, as_told, bunched_by, nominal, room_for
from mountproof.geometry._pair_bounds import Frame
from mountproof.geometry._parts import STEEPEST, Part
from mountproof.geometry._parts_made import made
from mountproof.geometry.contact import first_contact
from mountproof.geometry.poses import RIGID_ENTRY_TOLERANCE, checked, exp6
from mountproof.geometry.surface import Surface, moved, split

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Called with the share of the work done; may raise to stop it.
Told = Callable[[float], None]

#: Pairs of parts up to so much behind the first at the nominal pose are asked which of them comes first at a motion, mm.
_LEADING_MM = 0.5

#: Contacts are sought first so far beyond what the nominal one tells of them, and beyond what that of a motion nearby does, mm.
_ROUGH_MM, _FINE_MM = 0.3, 0.1

#: Radius of the patches that tell whether a pair has to be solved at all, mm.
_PATCH_MM = 0.35


class Pair(NamedTuple):
    """Two parts that may touch: their labels, places among the parts, least radius (mm), nominal closing (rad, inf: none).

    ``tangent`` (6,): what a small motion does to it (see ``_guesses``).
    """

    upper_label: int
    lower_label: int
    upper: int
    lower: int
    least_r_mm: float
    nominal_rad: float
    tangent: Floats


@dataclass(frozen=True, eq=False)
class Near:
    """Two arches made ready for many small motions of the lower. Made by ``near``, never changed.

    ``pairs``: parts that may touch, those that do so first at the nominal pose in front. ``middle_mm`` (3,): middle of the lower.
    ``clear``: such motions keep all of the lower in front of the hinge axis.
    """

    upper: Surface
    lower: Surface
    band_mm: float
    turn_rad: float
    shift_mm: float
    middle_mm: Floats
    clear: bool
    pairs: tuple[Pair, ...]
    uppers: tuple[Part, ...]
    lowers: tuple[Part, ...]
    frames: tuple[Frame, ...]
    upper_surfaces: dict[int, Surface]
    lower_surfaces: dict[int, Surface]


class Closings(NamedTuple):
    """First contacts of n poses.

    ``closing_rad`` (n,): exact first contact of the whole arches, inf where they never meet. ``first_pair`` (n,): place
    in ``pairs`` of the parts that meet first, -1 for none; of parts that meet at once, those with the lowest face
    numbers. ``pairs`` (p, 2 labels). ``pair_closing_rad`` (n, p): exact first contact of two parts, NaN where it is
    farther than the band behind the first. ``pair_rise`` (n, p): gap along the normal over gap along closure there.
    ``pair_radius_mm`` (n, p): distance of the contact from the hinge axis.
    """

    closing_rad: Floats
    first_pair: NDArray[np.int64]
    pairs: tuple[tuple[int, int], ...]
    pair_closing_rad: Floats
    pair_rise: Floats
    pair_radius_mm: Floats

    @property
    def pair_gap_mm(self) -> Floats:
        """Gap along closure of each pair at the first contact, mm of arc at the place where it will touch, (n, p)."""
        gap: Floats = (self.pair_closing_rad - self.closing_rad[:, None]) * self.pair_radius_mm
        return gap


def near(
    upper: Surface,
    lower: Surface,
    upper_labels: NDArray[np.integer],
    lower_labels: NDArray[np.integer],
    *,
    band_mm: float,
    turn_rad: float,
    shift_mm: float,
) -> Near:
    """Prepare two arches for many small motions of the lower away from its present pose.

    ``upper_labels`` (m,), ``lower_labels`` (m,): one number per face; faces of a label are one part, 0 (no tooth) too.
    ``band_mm``: how far behind the first contact, in arc, contacts of other parts are told. ``turn_rad``: largest turn
    covered; ``shift_mm``: largest way of the middle of the lower covered. Larger motions are answered as well, slowly.
    Raises ValueError when the arches are swapped, labels do not match faces, or a bound is no size.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    for name, size in (("band_mm", band_mm), ("turn_rad", turn_rad), ("shift_mm", shift_mm)):
        if not (math.isfinite(size) and size >= 0.0):
            raise ValueError(f"{name} is a finite size of at least 0, got {size}")
    upper_names, upper_surfaces = _parts(upper, upper_labels)
    lower_names, lower_surfaces = _parts(lower, lower_labels)
    box = lower.vertices_mm[lower.tree_faces]
    middle = 0.5 * (box.min(axis=(0, 1)) + box.max(axis=(0, 1)))
    reach = shift_mm + turn_rad * float(np.linalg.norm(box - middle, axis=2).max())
    tol, far, slack = upper.tolerances(lower)
    least_x = min(upper.near_mm, lower.near_mm)
    wide = 4.0 * tol * (1.0 + far / least_x)
    spare = 2.0 * slack + (2.0 * STEEPEST + 1.0) * wide / least_x
    middles = {label: _touched(upper, part) for label, part in lower_surfaces.items()}
    # nearer to the axis, or moved farther, the direction of closing turns too much for leans to tell anything
    leaning = turn_rad + reach / max(least_x - reach, reach) <= MOST_TILT_RAD
    uppers = tuple(made(upper_surfaces[label], None, leaning) for label in upper_names)
    lowers = tuple(made(lower_surfaces[label], middles[label], leaning) for label in lower_names)
    frames = tuple(_frame(middles[label], tol, wide, spare) for label in lower_names)
    room = room_for(lowers)
    pairs = []
    for j, low in enumerate(lowers):
        for i, up in enumerate(uppers):
            a, b = up.lids[0], low.lids[0]
            if max(a[0], b[0]) <= min(a[1], b[1]) + reach and max(a[2], b[2]) <= min(a[3], b[3]) + reach:
                at, tangent = nominal(up, low, frames[j], lower.pose, room)
                least_r = max(float(a[0]), float(b[0]) - reach, least_x - reach)
                pairs.append(Pair(upper_names[i], lower_names[j], i, j, least_r, at, tangent))
    pairs.sort(key=lambda p: (p.nominal_rad, p.upper_label, p.lower_label))
    return Near(
        upper,
        lower,
        band_mm,
        turn_rad,
        shift_mm,
        middle,
        float(box[..., 0].min()) > reach,
        tuple(pairs),
        uppers,
        lowers,
        frames,
        upper_surfaces,
        lower_surfaces,
    )


def closings(prepared: Near, motions: ArrayLike, *, threads: int = 1, told: Told | None = None) -> Closings:
    """Return the exact first contact of the arches, and of every pair of parts near it, at every pose.

    ``motions`` (n, 4, 4) poses or (n, 6) twists (rotation vector in rad, then mm): small motions of the lower in the
    upper's frame; the lower's pose is motion @ nominal. ``threads``: work side by side; the answer is the same to the
    last bit. ``told``: called with the share of the work done, may raise to stop it. Raises ValueError for a motion that
    is not rigid, FaultError when the lower would no longer lie in front of the hinge axis.
    """
    given = np.asarray(motions, dtype=np.float64)
    moves = exp6(given) if given.ndim == 2 and given.shape[1] == 6 else checked(given, (4, 4), "motions")
    moves = np.ascontiguousarray(moves)
    if moves.ndim != 3:
        raise ValueError(f"motions (n, 4, 4) or twists (n, 6) wanted, got {given.shape}")
    small = _small(prepared, moves)
    told = told or _quiet
    places = np.flatnonzero(small)
    cuts = np.array_split(places, max(min(threads, len(places) // LANES), 1)) if len(places) else []
    shares = np.zeros(max(len(cuts), 1))

    def work(index: int) -> _Found:
        def tell(share: float) -> None:
            shares[index] = share
            told(0.95 * float(shares.mean()))

        return _chunk(prepared, moves[cuts[index]], tell)

    with ThreadPoolExecutor(max(len(cuts), 1)) as pool:
        found = list(pool.map(work, range(len(cuts))))
    large = [_alone(prepared, move) for move in moves[~small]]
    told(1.0)
    return _gathered(prepared, len(moves), cuts, found, np.flatnonzero(~small), large)


class _Found(NamedTuple):
    """What one thread found: angles of each pair (p, n), NaN where beyond the band; rise; radius; first; its pair."""

    closing: Floats
    rise: Floats
    radius: Floats
    first: Floats
    first_pair: NDArray[np.int64]


def _quiet(_share: float) -> None:
    pass


def _parts(surface: Surface, labels: NDArray[np.integer]) -> tuple[list[int], dict[int, Surface]]:
    """The parts of a surface by their labels, 0 among them."""
    tags = np.asarray(labels)
    values, places = np.unique(tags, return_inverse=True)
    parts = split(surface, (places + 1).reshape(tags.shape))
    named = {int(values[place - 1]): part for place, part in parts.items()}
    return list(named), named


def _touched(upper: Surface, part: Surface) -> Floats:
    """A place of a lower part in the middle of what matters: where it touches first, else the middle of its corners."""
    met = first_contact(upper, part)
    corners = part.vertices_mm[part.tree_faces].reshape(-1, 3)
    if met is None:
        middle: Floats = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
        return middle
    c, s = math.cos(met.closing_rad), math.sin(met.closing_rad)
    x, y, z = met.point_mm
    return np.array([c * x + s * y, c * y - s * x, z])


def _frame(middle: Floats, tol: float, wide: float, slack: float) -> Frame:
    r = math.hypot(middle[0], middle[1])
    return Frame(
        r,
        float(middle[2]),
        float(middle[0]) / r,
        float(middle[1]) / r,
        math.atan2(middle[1], middle[0]),
        tol,
        wide,
        slack,
    )


def _small(prepared: Near, moves: Floats) -> NDArray[np.bool_]:
    """Which motions are within the bounds; raises ValueError for one that is not rigid."""
    sizes = np.zeros((len(moves), 2))
    _small_motions._sizes(moves, prepared.middle_mm, RIGID_ENTRY_TOLERANCE, sizes)
    good = np.isfinite(sizes).all(axis=1)
    if not good.all():
        raise ValueError(f"motion {int(np.argmin(good))} is no rigid motion")
    if not prepared.clear:
        return np.zeros(len(moves), dtype=bool)
    small: NDArray[np.bool_] = (sizes[:, 0] <= prepared.turn_rad) & (sizes[:, 1] <= prepared.shift_mm)
    return small


def _chunk(prepared: Near, motions: Floats, told: Told) -> _Found:
    """All pairs at some of the motions.

    Of the pairs that lead at the nominal pose the one with the least guess is solved first, at every motion; what it finds,
    and the band behind it, leaves few of the others.
    """
    n, pairs = len(motions), prepared.pairs
    poses = np.ascontiguousarray(motions @ prepared.lower.pose)
    rows = {j: as_told(motions, prepared.frames[j]) for j in {pair.lower for pair in pairs}}
    every = {j: bunched_by(row, np.arange(n)) for j, row in rows.items()}
    search = Search(motions, poses, room_for(prepared.lowers))
    found: dict[int, tuple[Two, Floats]] = {}
    far, first = np.full(n, np.inf), np.full(n, np.inf)
    lead = sum((pair.nominal_rad - pairs[0].nominal_rad) * pair.least_r_mm <= _LEADING_MM for pair in pairs)

    def two(i: int) -> Two:
        up, low = pairs[i].upper, pairs[i].lower
        which = found[i][0].which if i in found else np.zeros((n, 5), np.int32)
        return Two(prepared.uppers[up], prepared.lowers[low], prepared.frames[low], rows[low], which)

    def keep(i: int, both: Two, mine: NDArray[np.intp], closing: Floats) -> None:
        _, kept = found.setdefault(i, (both, np.full(n, np.inf)))
        kept[mine] = closing[mine]
        np.minimum(first, kept, out=first)

    fine = [_FINE_MM / pair.least_r_mm for pair in pairs]
    guesses = np.full((lead, n), np.inf)
    for i, pair in enumerate(pairs[:lead]):
        guesses[i] = search.guesses(two(i), every[pair.lower], pair.tangent, _ROUGH_MM / pair.least_r_mm)
    told(0.1)
    leader = np.argmin(guesses, axis=0) if lead else np.full(n, -1)
    for i in range(lead):
        mine, both = np.flatnonzero(leader == i), two(i)
        keep(i, both, mine, search.near(both, far, mine, guesses[i], fine[i]))
        told(0.1 + 0.3 * (i + 1) / lead)
    for i, pair in enumerate(pairs):
        limit = first + prepared.band_mm / pair.least_r_mm
        both, bunched = two(i), every[pair.lower]
        if i < lead:
            likely = (guesses[i] <= limit + fine[i]) & (leader != i)
            mine = np.flatnonzero(likely)
            keep(i, both, mine, search.near(both, limit, mine, guesses[i], fine[i]))
            bunched = bunched_by(both.told, np.flatnonzero(~likely & (leader != i)))
        allowed = search(both, limit, bunched, _pair_search.WHETHER, _PATCH_MM)
        mine = np.flatnonzero(np.isfinite(allowed))
        if len(mine):
            keep(i, both, mine, search(both, limit, bunched_by(both.told, mine)))
        told(0.4 + 0.6 * (i + 1) / len(pairs))
    return _told(prepared, search, first, found)


def _told(prepared: Near, search: Search, first: Floats, found: dict[int, tuple[Two, Floats]]) -> _Found:
    """What was found, as far as it lies in the band."""
    closing, rise, radius = (np.full((len(prepared.pairs), len(first)), np.nan) for _ in range(3))
    for i, (both, kept) in found.items():
        closing[i] = kept
        _pair_contacts._finished(
            both.up,
            both.low,
            search.poses,
            first,
            prepared.band_mm,
            both.frame.tol,
            search.room,
            closing[i],
            both.which,
            rise[i],
            radius[i],
        )
    return _Found(closing, rise, radius, first, _earliest(first, found))


def _earliest(first: Floats, found: dict[int, tuple[Two, Floats]]) -> NDArray[np.int64]:
    """Which pair is first, (n,): -1 for none; of several at once that of the lowest face numbers."""
    best = np.full(len(first), -1, dtype=np.int64)
    names = np.full((len(first), 2), np.iinfo(np.int32).max, dtype=np.int32)
    for i, (both, kept) in sorted(found.items()):
        mine = np.flatnonzero((kept == first) & np.isfinite(first))
        upper, lower = both.which[mine, 3], both.which[mine, 4]
        before = (
            (best[mine] < 0)
            | (upper < names[mine, 0])
            | ((upper == names[mine, 0]) & (lower < names[mine, 1]))
        )
        mine = mine[before]
        best[mine], names[mine] = i, both.which[mine, 3:]
    return best


def _alone(prepared: Near, move: Floats) -> dict[tuple[int, int], tuple[float, float, float, int, int]]:
    """Every pair of parts at one pose, by ``first_contact``: closing, rise, radius, face numbers."""
    pose = move @ prepared.lower.pose
    met = {}
    for w, part in prepared.lower_surfaces.items():
        there = moved(part, pose)
        for u, other in prepared.upper_surfaces.items():
            got = first_contact(other, there)
            if got is not None:
                radius = math.hypot(got.point_mm[0], got.point_mm[1])
                met[u, w] = (got.closing_rad, got.rise, radius, got.upper_face, got.lower_face)
    return met


def _gathered(
    prepared: Near,
    n: int,
    cuts: list[NDArray[np.intp]],
    found: list[_Found],
    large_at: NDArray[np.intp],
    large: list[dict[tuple[int, int], tuple[float, float, float, int, int]]],
) -> Closings:
    """Put together what the threads found and what was searched by itself."""
    names = [(pair.upper_label, pair.lower_label) for pair in prepared.pairs]
    place = {name: i for i, name in enumerate(names)}
    for met in large:
        for name in met:
            if name not in place:
                place[name] = len(names)
                names.append(name)
    if len(cuts) == 1 and len(large) == 0:  # nothing to put together
        return Closings(
            found[0].first,
            found[0].first_pair,
            tuple(names),
            found[0].closing.T,
            found[0].rise.T,
            found[0].radius.T,
        )
    closing, rise, radius = (np.full((n, len(names)), np.nan) for _ in range(3))
    first, first_pair = np.full(n, np.inf), np.full(n, -1, dtype=np.int64)
    for at, part in zip(cuts, found, strict=True):
        p = len(part.closing)
        closing[at, :p], rise[at, :p], radius[at, :p] = part.closing.T, part.rise.T, part.radius.T
        first[at], first_pair[at] = part.first, part.first_pair
    for at, met in zip(large_at, large, strict=True):
        if not met:
            continue
        name = min(met, key=lambda x: (met[x][0], met[x][3], met[x][4]))
        first[at], first_pair[at] = met[name][0], place[name]
        for other, (angle, slope, r, _, _) in met.items():
            if (angle - first[at]) * r <= prepared.band_mm:
                closing[at, place[other]], rise[at, place[other]], radius[at, place[other]] = angle, slope, r
    return Closings(first, first_pair, tuple(names), closing, rise, radius)
