"""The made-up dentition on three seats: a rest without friction that is known in closed form.

Three lower cusps carry a ball each, and the crowns above them a groove of two flat walls, as a technician may set them in
metal for a verification cast. The lower cast stands so much deeper, and around each groove the upper is hollowed so far, that
nothing else meets. The ball's centre lies where it
touches both walls, and the grooves point at one place: three balls in three V-grooves hold a body in all six directions
(the kinematic coupling of instrument makers). The declared pose in maximum intercuspation is the identity.

Why it rests there: a push straight up at a place ``p`` is a sum of pushes up at the three centres, by levers
(``w . (x, z) = p's``, ``sum w = 1``). Each ball meets its walls by normals through its centre, leaning by the same angle ``a``
from the vertical to either side, so a share ``w / (2 cos a)`` of each wall balances its part; all six are above nothing and
their rows are independent, so no small motion gains. Meshes keep it exactly: a ball has a corner at either foot, all others lie
on the same sphere and so farther from the wall, and a wall is a plane however it is cut. Nothing here comes from the geometry
that is tested with it.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from mountproof.phantom import truth
from mountproof.phantom.arch import ArchName, PhantomArch, build_arch
from mountproof.phantom.occlusal import Cusp
from mountproof.phantom.placement import frame_of
from mountproof.phantom.tuning import elements_of, lift_of

Array = NDArray[np.float64]
Faces = NDArray[np.int32]

#: How much deeper the lower cast stands than in the made-up case, so that only the seats meet (mm).
RELIEF_MM: Final = 1.2
#: Radius of the balls, and how far above its cusp tip each one's centre lies (mm).
BALL_MM: Final = 0.8
ABOVE_TIP_MM: Final = 0.1
#: Lean of the walls' normals from the vertical.
LEAN_RAD: Final = np.pi / 4.0
#: Lower tooth, cusp that carries the ball, upper tooth that holds the groove.
CUSPS: Final = ((47, "DB", 17), (37, "DB", 27), (44, "B", 14))
#: In centric relation the condyles stand so far from MIP; the teeth are that far apart.
CENTRIC: Final = truth.Condyles((-0.20, 0.05, 0.08), (-0.12, 0.05, 0.04), 2.2)
#: Half width of a groove, how far it goes to either end, and how high it reaches into the crown, from the ball's centre (mm).
_HALF_MM, _ENDS_MM, _TOP_MM = 1.3, (-1.0, 1.35), 2.6
#: Around a groove nothing of the upper comes lower than so far above the ball's centre, out to so far from it; from there on the
#: hollow's side comes down at 45 degrees (mm).
_HOLLOW_MM, _HOLLOW_HALF_MM = 0.9, 2.0
#: No other corner of a ball lies within this part of their mean distance of a foot.
_ROUND_FOOT = 0.7


class Seat(NamedTuple):
    """One seat in the pose of rest: teeth (ISO 3950), the ball's centre (3,), and of its two walls the feet and unit normals.

    ``feet_mm`` (2, 3): where the ball touches; ``normals`` (2, 3): from the upper towards the lower; ``along`` (3,): unit
    direction of the groove.
    """

    lower: int
    upper: int
    centre_mm: Array
    feet_mm: Array
    normals: Array
    along: Array


def seats() -> tuple[Seat, ...]:
    """The three seats, as they are in maximum intercuspation."""
    above = np.array([0.0, ABOVE_TIP_MM - RELIEF_MM, 0.0])
    centres = [_tip(tooth, cusp) + above for tooth, cusp, _ in CUSPS]
    middle = np.array(centres).mean(axis=0)
    out = []
    for (lower, _, upper), centre in zip(CUSPS, centres, strict=True):
        along = (middle - centre) * [1.0, 0.0, 1.0]
        along /= np.linalg.norm(along)
        side = np.cross(along, [0.0, 1.0, 0.0])
        normals = np.array(
            [sign * np.sin(LEAN_RAD) * side - [0.0, np.cos(LEAN_RAD), 0.0] for sign in (1.0, -1.0)]
        )
        out.append(Seat(lower, upper, centre, centre - BALL_MM * normals, normals, along))
    return tuple(out)


def shares(point_mm: tuple[float, float, float]) -> Array:
    """Shares (3,) of a unit push straight up at a place that each wall of each seat carries at rest (see the module).

    Raises ValueError for a place outside the triangle of the seats, where the lower would tip.
    """
    centres = np.array([seat.centre_mm for seat in seats()])
    levers = np.linalg.solve(
        np.stack([centres[:, 0], centres[:, 2], np.ones(3)]), [point_mm[0], point_mm[2], 1.0]
    )
    if levers.min() <= 0.0:
        raise ValueError("the push takes hold outside the three seats")
    out: Array = levers / (2.0 * np.cos(LEAN_RAD))
    return out


def build_seated(arch: ArchName, triangles: int = 214_000) -> PhantomArch:
    """Build the 'upper' or 'lower' cast on its seats, in maximum intercuspation; as ``build_arch``, and raises as it does."""
    plain = build_arch(arch, triangles)
    cast = _hollowed(plain.vertices_mm) if arch == "upper" else plain.vertices_mm - [0.0, RELIEF_MM, 0.0]
    vertices, faces, teeth = [cast], [plain.faces], [plain.teeth]
    start = len(plain.vertices_mm)
    for seat in seats():
        v, f = _ball(seat, 400 + triangles // 800) if arch == "lower" else _groove(seat, triangles)
        vertices.append(v)
        faces.append(f + np.int32(start))
        teeth.append(np.full(len(f), seat.lower if arch == "lower" else seat.upper, dtype=np.int32))
        start += len(v)
    return PhantomArch(
        np.concatenate(vertices),
        np.ascontiguousarray(np.concatenate(faces), dtype=np.int32),
        np.concatenate(teeth),
    )


def centric_pose() -> Array:
    """Pose `upper_from_lower` (4 x 4, mm) in centric relation, teeth apart; the pose of rest is the identity."""
    return truth.pose_of(CENTRIC)


def _tip(tooth: int, name: str) -> Array:
    """Where the tip of a lower cusp stands in the made-up case."""
    cusp = next(e for e in elements_of(tooth) if isinstance(e, Cusp) and e.name == name)
    axes, origin = frame_of("lower", tooth % 10)
    at = axes @ np.array([cusp.d_mm, cusp.b_mm, cusp.h_mm]) + origin + [0.0, lift_of(tooth), 0.0]
    out: Array = at * np.array([1.0, 1.0, -1.0 if tooth // 10 == 3 else 1.0])
    return out


def _hollowed(upper_mm: Array) -> Array:
    """The upper with everything raised that would come lower than the hollow around a groove."""
    out = upper_mm.copy()
    for seat in seats():
        away = np.hypot(out[:, 0] - seat.centre_mm[0], out[:, 2] - seat.centre_mm[2])
        low = seat.centre_mm[1] + _HOLLOW_MM - np.maximum(away - _HOLLOW_HALF_MM, 0.0)
        out[:, 1] = np.maximum(out[:, 1], np.where(away < 2.0 * _HOLLOW_HALF_MM, low, -np.inf))
    return out


def _ball(seat: Seat, corners: int) -> tuple[Array, Faces]:
    """A ball of flat faces with a corner at either foot, its other corners spread evenly (golden angle) beyond the feet."""
    k = np.arange(corners) + 0.5
    height, turn = 1.0 - 2.0 * k / corners, np.pi * (1.0 + 5.0**0.5) * k
    ring = np.sqrt(1.0 - height * height)
    spread = np.stack([ring * np.cos(turn), height, ring * np.sin(turn)], axis=1)
    far = (spread @ -seat.normals.T).max(axis=1) < np.cos(_ROUND_FOOT * (4.0 * np.pi / corners) ** 0.5)
    unit = np.concatenate([-seat.normals, spread[far]])
    return _outwards(np.concatenate([seat.feet_mm, seat.centre_mm + BALL_MM * unit[2:]]))


def _outwards(points: Array) -> tuple[Array, Faces]:
    """The hull of points of which each is a corner, wound outwards."""
    faces = ConvexHull(points).simplices.astype(np.int32)
    tri = points[faces]
    normal = np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
    inward = np.einsum("ij,ij->i", normal, tri[:, 0] - points.mean(axis=0)) < 0.0
    faces[inward] = faces[inward][:, ::-1]
    return points, faces


def _groove(seat: Seat, triangles: int) -> tuple[Array, Faces]:
    """A closed prism with a V below, its two walls cut into cells; the apex lies above the ball's centre."""
    apex = BALL_MM / np.cos(LEAN_RAD)
    rim = apex - _HALF_MM * np.tan(LEAN_RAD)
    cells = max(2, round(triangles**0.5 / 40.0))
    # the cross-section, once around from one rim over the apex to the other, then over the top
    rise = np.linspace(0.0, 1.0, cells + 1)
    walls = [(-_HALF_MM * (1 - t), rim + (apex - rim) * t) for t in rise]
    walls += [(_HALF_MM * t, apex + (rim - apex) * t) for t in rise[1:]]
    loop = np.array([*walls, (_HALF_MM, _TOP_MM), (-_HALF_MM, _TOP_MM)])
    ends = np.linspace(*_ENDS_MM, cells + 1)
    side = np.cross(seat.along, [0.0, 1.0, 0.0])
    rows = [loop[:, :1] * side + loop[:, 1:] * [0.0, 1.0, 0.0] + e * seat.along for e in ends]
    # both ends are fans about a place above the apex, from where every corner of the section is seen
    above = 0.5 * (apex + _TOP_MM) * np.array([0.0, 1.0, 0.0])
    points = seat.centre_mm + np.concatenate([*rows, [above + e * seat.along for e in _ENDS_MM]])
    n = len(loop)
    ids = np.arange((cells + 1) * n).reshape(cells + 1, n)
    a, b = ids[:-1], np.roll(ids[:-1], -1, axis=1)
    c, d = ids[1:], np.roll(ids[1:], -1, axis=1)
    around = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([b, d, c], -1).reshape(-1, 3)])
    first, last = ids[0], ids[-1]
    caps = [
        np.stack([np.roll(first, -1), first, np.full(n, len(points) - 2)], -1),
        np.stack([last, np.roll(last, -1), np.full(n, len(points) - 1)], -1),
    ]
    faces = np.concatenate([around, *caps]).astype(np.int32)
    tri = points[faces]
    if np.einsum("ij,ij->", tri[:, 0], np.cross(tri[:, 1], tri[:, 2])) < 0.0:
        faces = faces[:, ::-1]
    return points, np.ascontiguousarray(faces)
