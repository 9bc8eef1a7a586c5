"""A trial on working duplicates of two scans: round by round a set depth comes off where the teeth hold, then they close again.

The casts that were scanned are never changed: a trial holds its own copies of the faces that may come to hold. Places move along
the direction of closing, r and z kept: then what is removed is exactly what would overlap, no face folds, and closing
again needs no new order of the faces. Every round is a frozen state; to undo is to go on from an earlier one.
Derivation and what it cannot show: docs/theory/change.md.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.closing import ClosingMap, opposite_phi
from mountproof.geometry.contact import Contact, first_contact, first_contacts_by_label
from mountproof.geometry.surface import Surface, prepare
from mountproof.occlusion.change import Share, parts_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
#: Teeth hold where they are this near (mm of arc) when the first of them meet.
HOLDS_MM: Final = 0.008
#: Faces of a duplicate are cut in four while half of their edges are longer: so closely what comes off follows the other arch.
_WIDE_MM: Final = 0.35
#: Vertices are lowered in passes, since each leans on the faces of the other arch that are lowered with it.
_PASSES: Final = 6
#: What is left after a pass, as a part of the step, that needs no other.
_SETTLED: Final = 0.01
#: Corners and edges may still meet faces between their corners; a round ends when no more than this part of it is left.
_LEFT: Final = 0.3
#: It gives up (and says so) after so many faces that had to be lowered one by one.
_MOST_TRIES: Final = 100


class Plan(NamedTuple):
    """What a round removes: ``step_mm`` across the surface at the place that meets first; from whom, and who is left out."""

    step_mm: float = 0.05
    share: Share = "both"
    excluded: frozenset[int] = frozenset()


class Cut(NamedTuple):
    """What one round took off one tooth: greatest depth across the surface and along closure (mm), and volume (mm3).

    ``place_mm``, ``normal``: the deepest place (3) before the cut, in the frame of the record's pose, and the unit normal
    out of the tooth there: which incline it is.
    """

    tooth: int
    across_mm: float
    along_mm: float
    volume_mm3: float
    place_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    normal: tuple[float, float, float] = (0.0, 0.0, 0.0)


class Round(NamedTuple):
    """One round: who met first before it (upper, lower), what came off, and the pairs that hold after it."""

    first: tuple[int, int]
    cuts: tuple[Cut, ...]
    holding: tuple[tuple[int, int], ...]


class Duplicate(NamedTuple):
    """The faces of one arch that may come to hold: ``teeth`` (m,) per face, ``vertex_teeth`` (n,) per vertex.

    ``opposed`` (n,): tooth over each vertex, 0 none. ``meets_rad`` (n,): closing at which it met its opponent when the trial
    began, infinite where nothing opposes; surfaces only recede, so it never meets earlier.
    """

    surface: Surface
    teeth: Ints
    vertex_teeth: Ints
    opposed: Ints
    meets_rad: Floats


class State(NamedTuple):
    """Where a trial stands: both duplicates, the closing at which they meet, the contact, and the rounds so far.

    ``begun``: vertices (n, 3) of both duplicates, upper first, before the first round. ``stopped``: why no further
    round is possible, or nothing: "blocked" where neither tooth that meets first may be reshaped, "end" where closing
    reached the end of what was copied, "coarse" where the faces are too wide for the step.
    """

    upper: Duplicate
    lower: Duplicate
    closing_rad: float
    end_rad: float
    contact: Contact
    begun: tuple[Floats, Floats]
    rounds: tuple[Round, ...] = ()
    stopped: str = ""

    def totals(self) -> tuple[Cut, ...]:
        """Return what came off each tooth since the trial began: at its deepest place, and in all."""
        pairs = zip((self.upper, self.lower), self.begun, strict=True)
        return tuple(cut for now, before in pairs for cut in _cuts(now, before))


def begin(
    upper: Surface, lower: Surface, upper_teeth: Ints, lower_teeth: Ints, chart: ClosingMap, end_rad: float
) -> State:
    """Copy what may come to hold until ``end_rad`` and close it.

    ``upper_teeth`` (m,), ``lower_teeth`` (m',): tooth per face; ``chart``: closing map of the two surfaces. ValueError
    where nothing meets before ``end_rad``.
    """
    with np.errstate(invalid="ignore"):
        near = chart.gap_rad <= end_rad
    for _ in range(3):  # faces reach beyond the cell in which something overlaps
        wide = near.copy()
        wide[1:] |= near[:-1]
        wide[:-1] |= near[1:]
        near = wide.copy()
        near[:, 1:] |= wide[:, :-1]
        near[:, :-1] |= wide[:, 1:]
    copies = []
    pairs = (
        (upper, upper_teeth, chart.lower_face, lower_teeth),
        (lower, lower_teeth, chart.upper_face, upper_teeth),
    )
    for surface, teeth, over, other in pairs:
        copies.append(
            _copied(surface, np.asarray(teeth, np.int32), chart, near, over, np.asarray(other, np.int32))
        )
    up, low = copies
    contact = (
        None if up is None or low is None else first_contact(up.surface, low.surface, within_rad=end_rad)
    )
    if up is None or low is None or contact is None:
        raise ValueError("nothing meets before the end of the trial")
    up, low = (mine._replace(meets_rad=_meets(mine, other)) for mine, other in ((up, low), (low, up)))
    return State(up, low, contact.closing_rad, end_rad, contact, (up.surface.rest_mm, low.surface.rest_mm))


def duplicate_id(surface: Surface) -> str:
    """Return a short name of a surface, made of its vertices: it changes with every cut, the same shape has the same."""
    return hashlib.sha256(np.ascontiguousarray(surface.rest_mm).tobytes()).hexdigest()[:8]


def next_round(state: State, plan: Plan) -> State:
    """Return the state after one more round, or the same one with the reason why there is none."""
    if state.stopped:
        return state
    contact = state.contact
    first = (int(state.upper.teeth[contact.upper_face]), int(state.lower.teeth[contact.lower_face]))
    if parts_of(*first, plan.share, plan.excluded) is None:
        return state._replace(stopped="blocked")
    radius = math.hypot(float(contact.point_mm[0]), float(contact.point_mm[1]))
    goal = state.closing_rad + plan.step_mm / (radius * contact.rise)
    if goal > state.end_rad:
        return state._replace(stopped="end")
    before = state
    state = _lowered(state, goal, plan)
    again = first_contact(state.upper.surface, state.lower.surface)
    tries = 0
    while again is not None and again.closing_rad < goal - _LEFT * (goal - before.closing_rad):
        pair = (int(state.upper.teeth[again.upper_face]), int(state.lower.teeth[again.lower_face]))
        parts = parts_of(*pair, plan.share, plan.excluded)
        tries += 1
        if parts is None or tries > _MOST_TRIES:
            break  # what may not be reshaped is met sooner: the round ends there
        state = _faces_lowered(state, again, goal, parts)
        again = first_contact(state.upper.surface, state.lower.surface)
    if again is None or again.closing_rad <= before.closing_rad:
        return before._replace(stopped="coarse")
    holding = _holding(state, again)
    cuts = (
        *_cuts(state.upper, before.upper.surface.rest_mm),
        *_cuts(state.lower, before.lower.surface.rest_mm),
    )
    done = Round(first, cuts, holding)
    return state._replace(closing_rad=again.closing_rad, contact=again, rounds=(*state.rounds, done))


def run(state: State, plan: Plan, stop: Callable[[State], bool], most_rounds: int = 200) -> tuple[State, ...]:
    """Return every state of a trial, the first one included, until ``stop`` says so of one or no round is possible."""
    states = [state]
    while not states[-1].stopped and not stop(states[-1]) and len(states) <= most_rounds:
        states.append(next_round(states[-1], plan))
    return tuple(states)


def stop_at(closing_rad: float) -> Callable[[State], bool]:
    """Return the rule: no more rounds once the arches close so far."""
    return lambda state: state.closing_rad >= closing_rad


def stop_when_spent(budget_mm: Mapping[int, float]) -> Callable[[State], bool]:
    """Return the rule: no more rounds once a tooth has lost its budget across the surface; teeth without one set none."""
    return lambda state: any(cut.across_mm >= budget_mm.get(cut.tooth, math.inf) for cut in state.totals())


def _copied(
    surface: Surface, teeth: Ints, chart: ClosingMap, near: NDArray[np.bool_], over: Ints, other: Ints
) -> Duplicate | None:
    polar = surface.polar
    cells = _cell_of(chart, np.sqrt(polar[:, 0]), polar[:, 1])
    inside = (cells >= 0).all(axis=1)
    close = np.zeros(len(polar), dtype=np.bool_)
    close[inside] = near[cells[inside, 0], cells[inside, 1]]
    chosen = close[surface.faces].any(axis=1)
    if not chosen.any():
        return None
    used, places = np.unique(surface.faces[chosen], return_inverse=True)
    faces: Ints = places.reshape(-1, 3).astype(np.int32)
    vertices, own = surface.vertices_mm[used], teeth[chosen]
    while _edge_mm(vertices, faces) > _WIDE_MM:
        vertices, faces, own = _quartered(vertices, faces, own)
    r = np.hypot(vertices[:, 0], vertices[:, 1])
    at = _cell_of(chart, r, vertices[:, 2])
    seen = (at >= 0).all(axis=1)
    face = over[at[seen, 0], at[seen, 1]]
    opposed, mine = (np.zeros(len(vertices), dtype=np.int32) for _ in range(2))
    opposed[seen] = np.where(face >= 0, other[face], 0)
    mine[faces.ravel()] = np.repeat(own, 3)
    made = prepare(vertices, faces, arch=surface.arch)
    return Duplicate(made, own, mine, opposed, np.full(len(vertices), -np.inf))


def _edge_mm(vertices: Floats, faces: Ints) -> float:
    """Return the length (mm) of the middle edge."""
    edges = np.linalg.norm(vertices[faces] - vertices[np.roll(faces, 1, axis=1)], axis=2)
    return float(np.median(edges))


def _quartered(vertices: Floats, faces: Ints, teeth: Ints) -> tuple[Floats, Ints, Ints]:
    """Halve every edge: four faces for one, the same surface."""
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    edges, back = np.unique(ends, axis=0, return_inverse=True)
    middle = 0.5 * (vertices[edges[:, 0]] + vertices[edges[:, 1]])
    ab, bc, ca = (back.reshape(3, -1) + len(vertices)).astype(np.int32)
    a, b, c = faces.T
    four = [np.stack(corners, axis=1) for corners in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
    return np.concatenate([vertices, middle]), np.concatenate(four).astype(np.int32), np.tile(teeth, 4)


def _meets(mine: Duplicate, other: Duplicate) -> Floats:
    gap = _gaps(mine, other, np.arange(len(mine.vertex_teeth)))
    return np.where(np.isfinite(gap), gap, np.inf)


def _gaps(mine: Duplicate, other: Duplicate, vertices: NDArray[np.intp]) -> Floats:
    """Return the gap (rad) from some vertices to the other arch, NaN where nothing opposes."""
    phi = np.arctan(mine.surface.polar[vertices, 2])
    there = opposite_phi(mine.surface, other.surface, vertices)
    gap: Floats = phi - there if mine.surface.arch == "upper" else there - phi
    return gap


def _cell_of(chart: ClosingMap, r: Floats, z: Floats) -> NDArray[np.intp]:
    i = np.floor((r - chart.r0_mm) / chart.cell_mm).astype(np.intp)
    j = np.floor((z - chart.z0_mm) / chart.cell_mm).astype(np.intp)
    out = (i < 0) | (j < 0) | (i >= chart.gap_rad.shape[0]) | (j >= chart.gap_rad.shape[1])
    made: NDArray[np.intp] = np.stack([np.where(out, -1, i), np.where(out, -1, j)], axis=1)
    return made


def _lowered(state: State, goal: float, plan: Plan) -> State:
    """Take off every vertex its part of what would overlap at ``goal``, until hardly anything does."""
    step = goal - state.closing_rad
    parts = (_part(state.upper, True, plan), _part(state.lower, False, plan))
    for _ in range(_PASSES):
        state, most = _one_pass(state, goal, parts)
        if most <= _SETTLED * step:
            break
    return state


def _one_pass(state: State, goal: float, parts: tuple[Floats, Floats]) -> tuple[State, float]:
    out = []
    most = 0.0
    for mine, other, part in ((state.upper, state.lower, parts[0]), (state.lower, state.upper, parts[1])):
        is_upper = mine.surface.arch == "upper"
        asked = np.flatnonzero((mine.meets_rad < goal) & (part > 0.0))
        over = goal - _gaps(mine, other, asked)
        by = np.zeros(len(part))
        by[asked] = np.where(over > 0.0, part[asked] * over, 0.0)
        most = max(most, float(by.max(initial=0.0)))
        out.append(_turned(mine, by if is_upper else -by))
    return state._replace(upper=out[0], lower=out[1]), most


def _part(mine: Duplicate, is_upper: bool, plan: Plan) -> Floats:
    """Which part of an overlap comes off each vertex, (n,)."""
    part = np.zeros(len(mine.vertex_teeth))
    both = np.stack([mine.vertex_teeth, mine.opposed], axis=1)
    for own, against in np.unique(both, axis=0).tolist():
        pair = (own, against) if is_upper else (against, own)
        parts = parts_of(*pair, plan.share, plan.excluded)
        if parts is not None:
            part[(both[:, 0] == own) & (both[:, 1] == against)] = parts[0 if is_upper else 1]
    return part


def _faces_lowered(state: State, contact: Contact, goal: float, parts: tuple[float, float]) -> State:
    """Where a corner or an edge meets a face between its corners: lower the corners of both faces by what is left."""
    left = goal - contact.closing_rad
    out = []
    for mine, face, part, way in (
        (state.upper, contact.upper_face, parts[0], 1.0),
        (state.lower, contact.lower_face, parts[1], -1.0),
    ):
        by = np.zeros(len(mine.vertex_teeth))
        by[mine.surface.faces[face]] = way * part * left
        out.append(_turned(mine, by))
    return state._replace(upper=out[0], lower=out[1])


def _turned(mine: Duplicate, by_rad: Floats) -> Duplicate:
    """Move vertices about the hinge; the order of the faces, which knows r and z only, stays."""
    if not by_rad.any():
        return mine
    v = mine.surface.rest_mm
    c, s = np.cos(by_rad), np.sin(by_rad)
    there = np.stack([c * v[:, 0] - s * v[:, 1], s * v[:, 0] + c * v[:, 1], v[:, 2]], axis=1)
    near, reach = float(there[:, 0].min()), float(np.linalg.norm(there, axis=1).max())
    return mine._replace(surface=replace(mine.surface, rest_mm=there, near_mm=near, reach_mm=reach))


def _holding(state: State, first: Contact) -> tuple[tuple[int, int], ...]:
    radius = math.hypot(float(first.point_mm[0]), float(first.point_mm[1]))
    met = first_contacts_by_label(state.upper.surface, state.lower.surface, state.upper.teeth, state.lower.teeth,
                                  within_rad=first.closing_rad + HOLDS_MM / radius)  # fmt: skip
    return tuple((m.upper_label, m.lower_label) for m in met)


def _cuts(now: Duplicate, before_mm: Floats) -> tuple[Cut, ...]:
    """Return what came off each tooth of one arch since its vertices stood at ``before_mm`` (n, 3)."""
    after, faces = now.surface.rest_mm, now.surface.faces
    if after is before_mm:
        return ()
    along = np.linalg.norm(after - before_mm, axis=1)
    # no place of the old surface is farther from the new one, and the other way round
    was, rise = _normals(before_mm, faces)
    across = along * np.minimum(rise, _normals(after, faces)[1])
    # out of the tooth: an upper faces against the direction of closing, a lower along it
    out = -was if now.surface.arch == "upper" else was
    lost = _cones(after, faces) - _cones(before_mm, faces)
    made = []
    for tooth in np.unique(now.teeth[lost != 0.0]).tolist():
        mine = np.unique(faces[now.teeth == tooth])
        deepest = int(mine[np.argmax(across[mine])])
        made.append(
            Cut(
                tooth,
                float(across[mine].max()),
                float(along[mine].max()),
                abs(float(lost[now.teeth == tooth].sum())),
                _three(before_mm[deepest]),
                _three(out[deepest]),
            )
        )
    return tuple(made)


def _cones(vertices: Floats, faces: Ints) -> Floats:
    """Signed volume between each face and the origin, mm3: their change is what came off, its rim being at rest."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    volume: Floats = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return volume


def _normals(vertices: Floats, faces: Ints) -> tuple[Floats, Floats]:
    """Return the unit normal (n, 3) at each vertex on the side towards closing, and its cosine with that direction."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area = np.cross(b - a, c - a)
    normal = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(normal, faces[:, k], area)
    size = np.linalg.norm(normal, axis=1)
    normal = np.divide(normal, size[:, None], out=np.zeros_like(normal), where=size[:, None] > 0.0)
    radius = np.hypot(vertices[:, 0], vertices[:, 1])
    along = (normal[:, 1] * vertices[:, 0] - normal[:, 0] * vertices[:, 1]) / radius
    return np.where(along[:, None] < 0.0, -normal, normal), np.where(size > 0.0, np.abs(along), 1.0)


def _three(values: Floats) -> tuple[float, float, float]:
    x, y, z = values
    return float(x), float(y), float(z)
