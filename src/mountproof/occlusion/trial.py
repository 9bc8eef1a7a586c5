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
from mountproof.geometry.contact import Contact, PairContact, first_contact, first_contacts_by_label
from mountproof.geometry.surface import Surface, prepare
from mountproof.occlusion.change import Share, parts_of
from mountproof.occlusion.trial_cuts import Cut, Duplicate, cuts_of, three

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Places = NDArray[np.intp]
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
    """What a round removes: ``step_mm`` across the surface; from whom, and who is left out.

    As it stands a round closes until one of the pairs that hold has come down by the step, and all that would overlap comes off.
    ``only_holding``: the step comes off every pair that holds when the round begins, each at the place where it meets first,
    and off no other, as a hand follows its marks. ``holds_mm``: pairs hold within so much of arc of the first.
    """

    step_mm: float = 0.05
    share: Share = "both"
    excluded: frozenset[int] = frozenset()
    only_holding: bool = False
    holds_mm: float = HOLDS_MM


class Round(NamedTuple):
    """One round: who met first before it (upper, lower), what came off, and the pairs that hold after it.

    ``places_mm``: where each of these pairs holds (k, 3), on the upper, in the frame of the record's pose.
    """

    first: tuple[int, int]
    cuts: tuple[Cut, ...]
    holding: tuple[tuple[int, int], ...]
    places_mm: tuple[tuple[float, float, float], ...] = ()


class State(NamedTuple):
    """Where a trial stands: both duplicates, the closing at which they meet, the contact, and the rounds so far.

    ``begun``: vertices (n, 3) of both duplicates, upper first, before the first round. ``stopped``: why no further
    round is possible, or nothing: "blocked" where neither tooth that meets first may be reshaped, "end" where closing
    reached the end of what was copied, "coarse" where the faces are too wide for the step. ``met``: the pairs that hold, if
    they were looked for within ``within_mm`` of arc.
    """

    upper: Duplicate
    lower: Duplicate
    closing_rad: float
    end_rad: float
    contact: Contact
    begun: tuple[Floats, Floats]
    rounds: tuple[Round, ...] = ()
    stopped: str = ""
    met: tuple[PairContact, ...] = ()
    within_mm: float = math.nan

    def totals(self) -> tuple[Cut, ...]:
        """Return what came off each tooth since the trial began: at its deepest place, and in all."""
        pairs = zip((self.upper, self.lower), self.begun, strict=True)
        return tuple(cut for now, before in pairs for cut in cuts_of(now, before))


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
        (upper, upper_teeth, _widened(chart.lower_face), lower_teeth),
        (lower, lower_teeth, _widened(chart.upper_face), upper_teeth),
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
    goals = _goals(state, first, plan)
    if goals.last > state.end_rad:
        return state._replace(stopped="end")
    before = state
    state = _lowered(state, goals, plan)
    again = _meeting(state, goals.last)
    tries = 0
    while again is not None:
        pair = (int(state.upper.teeth[again.upper_face]), int(state.lower.teeth[again.lower_face]))
        goal, parts = goals.of(*pair), parts_of(*pair, plan.share, plan.excluded)
        if again.closing_rad >= goal - _LEFT * (goals.last - before.closing_rad):
            break
        tries += 1
        if parts is None or tries > _MOST_TRIES:
            break  # what may not be reshaped is met sooner: the round ends there
        state = _faces_lowered(state, again, goal, parts)
        again = _meeting(state, goals.last)
    if again is None or again.closing_rad <= before.closing_rad:
        return before._replace(stopped="coarse")
    met = held_pairs(state, again, plan.holds_mm)
    cuts = (
        *cuts_of(state.upper, before.upper.surface.rest_mm),
        *cuts_of(state.lower, before.lower.surface.rest_mm),
    )
    holding = tuple((m.upper_label, m.lower_label) for m in met)
    done = Round(first, cuts, holding, tuple(three(m.contact.point_mm) for m in met))
    return state._replace(closing_rad=again.closing_rad, contact=again, rounds=(*state.rounds, done), met=met,
                          within_mm=plan.holds_mm)  # fmt: skip


class _Goals(NamedTuple):
    """To which closing (rad) the pairs of a round are to come down: ``by_pair``, all others to ``rest``; ``last`` of them all."""

    by_pair: Mapping[tuple[int, int], float]
    rest: float
    last: float

    def of(self, upper_tooth: int, lower_tooth: int) -> float:
        return self.by_pair.get((upper_tooth, lower_tooth), self.rest)


def _goals(state: State, first: tuple[int, int], plan: Plan) -> _Goals:
    held = state.met if state.within_mm == plan.holds_mm else held_pairs(state, state.contact, plan.holds_mm)
    each = {(m.upper_label, m.lower_label): _stepped(state, m.contact, plan.step_mm) for m in held}
    if first not in each:  # something other than teeth meets first
        each[first] = _stepped(state, state.contact, plan.step_mm)
    if plan.only_holding:
        return _Goals(each, -math.inf, max(each.values()))
    # of pairs that hold alike chance has one meet first: the step is that of none of them in particular
    least = min(each.values())
    return _Goals({}, least, least)


def _stepped(state: State, contact: Contact, step_mm: float) -> float:
    """Return the closing at which a contact has come down by a step across the flattest faces around it.

    Once surfaces have been fitted to each other edges that meet are nearly in line and corners lie on corners: the normal
    of the contact itself may then be that of a wall beside it, and a step along closure many times too long.
    """
    radius = math.hypot(float(contact.point_mm[0]), float(contact.point_mm[1]))
    faces = ((state.upper.surface, contact.upper_face), (state.lower.surface, contact.lower_face))
    rise = max(contact.rise, *(_flattest(one, face) for one, face in faces))
    return contact.closing_rad + step_mm / (radius * rise)


def _flattest(surface: Surface, face: int) -> float:
    """Return the greatest cosine between the direction of closing and the normal of a face or of one that shares a corner."""
    around = surface.faces[np.isin(surface.faces, surface.faces[face]).any(axis=1)]
    a, b, c = (surface.rest_mm[around[:, k]] for k in range(3))
    normal, middle = np.cross(b - a, c - a), (a + b + c) / 3.0
    size = np.linalg.norm(normal, axis=1) * np.hypot(middle[:, 0], middle[:, 1])
    lean = np.abs(normal[:, 1] * middle[:, 0] - normal[:, 0] * middle[:, 1])
    return float((lean[size > 0.0] / size[size > 0.0]).max(initial=0.0))


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


def _widened(face: Ints) -> Ints:
    """Give cells without a face that of a neighbour: a place at the edge of what opposes it may lie in a cell that misses it."""
    made = face.copy()
    for _ in range(2):
        known = made
        made = known.copy()
        for axis in (0, 1):
            for step in (1, -1):
                beside = np.roll(known, step, axis=axis)
                beside[(slice(None),) * axis + (0 if step == 1 else -1,)] = -1
                made = np.where(made < 0, beside, made)
    return made


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
    gap = gaps_of(mine, other, np.arange(len(mine.vertex_teeth)))
    return np.where(np.isfinite(gap), gap, np.inf)


def gaps_of(mine: Duplicate, other: Duplicate, vertices: Places) -> Floats:
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


def _lowered(state: State, goals: _Goals, plan: Plan) -> State:
    """Take off every vertex its part of what would overlap at its goal, until hardly anything does."""
    step = goals.last - state.closing_rad
    wanted = (_wanted(state.upper, True, goals, plan), _wanted(state.lower, False, goals, plan))
    up, low = (
        np.flatnonzero((mine.meets_rad < goal) & (part > 0.0))
        for mine, (part, goal) in zip((state.upper, state.lower), wanted, strict=True)
    )
    asked = up, low
    for _ in range(_PASSES):
        state, asked, most = _one_pass(state, wanted, asked)
        if most <= _SETTLED * step:
            break
    return state


def _one_pass(
    state: State, wanted: tuple[tuple[Floats, Floats], tuple[Floats, Floats]], asked: tuple[Places, Places]
) -> tuple[State, tuple[Places, Places], float]:
    """Lower the places asked for; return what still overlapped, for the next pass: surfaces only recede."""
    out, over = [], []
    most = 0.0
    arches = ((state.upper, state.lower), (state.lower, state.upper))
    for (mine, other), (part, goal), here in zip(arches, wanted, asked, strict=True):
        deep = goal[here] - gaps_of(mine, other, here)
        still = deep > 0.0
        by = np.zeros(len(part))
        by[here[still]] = part[here[still]] * deep[still]
        most = max(most, float(by.max(initial=0.0)))
        out.append(turned(mine, by if mine.surface.arch == "upper" else -by))
        over.append(here[still])
    return state._replace(upper=out[0], lower=out[1]), (over[0], over[1]), most


def _wanted(mine: Duplicate, is_upper: bool, goals: _Goals, plan: Plan) -> tuple[Floats, Floats]:
    """Return which part of an overlap comes off each vertex, and the closing (rad) to which it comes down, (n,) each."""
    pairs, of = np.unique(mine.vertex_teeth.astype(np.int64) << 32 | mine.opposed, return_inverse=True)
    parts, goal = np.zeros(len(pairs)), np.zeros(len(pairs))
    for n, (own, against) in enumerate(
        zip((pairs >> 32).tolist(), (pairs & 0xFFFFFFFF).tolist(), strict=True)
    ):
        pair = (own, against) if is_upper else (against, own)
        found = parts_of(*pair, plan.share, plan.excluded)
        goal[n] = goals.of(*pair)
        if found is not None:
            parts[n] = found[0 if is_upper else 1]
    return parts[of], goal[of]


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
        out.append(turned(mine, by))
    return state._replace(upper=out[0], lower=out[1])


def turned(mine: Duplicate, by_rad: Floats) -> Duplicate:
    """Move vertices about the hinge by ``by_rad`` (n,); the order of the faces, which knows r and z only, stays."""
    if not by_rad.any():
        return mine
    v = mine.surface.rest_mm
    c, s = np.cos(by_rad), np.sin(by_rad)
    there = np.stack([c * v[:, 0] - s * v[:, 1], s * v[:, 0] + c * v[:, 1], v[:, 2]], axis=1)
    near, reach = float(there[:, 0].min()), float(np.linalg.norm(there, axis=1).max())
    return mine._replace(surface=replace(mine.surface, rest_mm=there, near_mm=near, reach_mm=reach))


def _meeting(state: State, goal: float) -> Contact | None:
    """Return the first contact. Most rounds end at their goal: a search that looks no farther is over much sooner."""
    surfaces = state.upper.surface, state.lower.surface
    return first_contact(*surfaces, within_rad=goal) or first_contact(*surfaces)


def held_pairs(state: State, first: Contact, holds_mm: float = HOLDS_MM) -> tuple[PairContact, ...]:
    """Return the pairs that meet within ``holds_mm`` of arc of the first contact of a state."""
    radius = math.hypot(float(first.point_mm[0]), float(first.point_mm[1]))
    return first_contacts_by_label(state.upper.surface, state.lower.surface, state.upper.teeth, state.lower.teeth,
                                   within_rad=first.closing_rad + holds_mm / radius)  # fmt: skip
