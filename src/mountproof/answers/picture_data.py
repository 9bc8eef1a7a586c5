"""The arrays behind the pictures of records and mountings; surfaces draw them, answers fill them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.poses import Array

if TYPE_CHECKING:
    # Its module needs compiled kernels, which are slow to import.
    from mountproof.answers.slide_path import Stage


class Dots(NamedTuple):
    """Where one point of the lower lies with each record in, all at one opening, mm from the middle of them.

    ``name``: what the point is (``right condyle``, ``incisors``); ``places_mm`` (n, 3) ahead, up, right;
    ``reading_cov`` (3, 3) of one record's own reading; ``usual_sd_mm`` of honest records, one axis; ``usual_assumed``
    true where nobody measured that.
    """

    name: str
    places_mm: Array
    reading_cov: Array
    usual_sd_mm: float
    usual_assumed: bool


class Scatter(NamedTuple):
    """Records compared: ``names`` (n), which one is mounted, which stands out, which lies nearest the middle."""

    names: tuple[str, ...]
    dots: tuple[Dots, ...]
    mounted: str | None
    outlier: str | None
    nearest: str | None


class ResidualMap(NamedTuple):
    """How a record lies on one cast: signed distance (mm, above zero: a gap) at each vertex of the cast, NaN where unseen.

    ``vertices_mm`` (n, 3) in the frame of the upper jaw; ``faces`` (m, 3); ``teeth`` (m,) tooth of each face, 0 none.
    ``spots``: what was found where: (words, (x, y, z)).
    """

    record: str
    arch: str
    vertices_mm: Array
    faces: NDArray[np.int32]
    teeth: NDArray[np.int32]
    residual_mm: Array
    spots: tuple[tuple[str, tuple[float, float, float]], ...]


class RecordEvidence(NamedTuple):
    """Behind the answer to the record."""

    scatter: Scatter | None
    maps: tuple[ResidualMap, ...]


class FoilSide(NamedTuple):
    """One list of a foil: where, closure, thickness, and the state of each tooth (holds, drags, free, or nothing)."""

    where: str
    closure: str
    thickness_um: float
    states: dict[int, str]


class FoilChart(NamedTuple):
    """Foil in the mouth beside that on the mounting (or casts by hand): teeth by ISO 3950 and the fitted gaps.

    ``fitted_um`` gives for each tooth the gap (um, 95 % low and high) that is left once the fitted change is taken away; where no
    foil bounds it, it lies above ``low``: the gap is NaN and the high end infinite.
    """

    relation: str
    mouth: FoilSide
    casts: FoilSide
    teeth: tuple[int, ...]
    differs: tuple[int, ...]
    fitted_um: dict[int, tuple[float, float, float]]


class SplitPlane(NamedTuple):
    """Gaps of a split cast and the plane through them: places (n, 2) ahead, right; gaps (n,) and their u.

    ``plane`` (3,): the gap (mm) below the hinge's middle, and how it grows per mm ahead and per mm to the right.
    ``carried``: what the plane comes to elsewhere: (words, ahead mm, right mm, gap mm, u mm) of condyles and molars.
    """

    record: str
    places_mm: Array
    gaps_mm: Array
    u_mm: Array
    plane: Array
    carried: tuple[tuple[str, float, float, float, float], ...] = ()


class Cause(NamedTuple):
    """One cause with its probability given all checks, and what speaks for it.

    ``next_check``: what would best tell it from the next likeliest one, on the likeliest cause only.
    """

    key: str
    words: str
    chance: float
    speaks: tuple[str, ...]
    action: str
    minutes: float
    next_check: str = ""


class MountingEvidence(NamedTuple):
    """Behind the answer to the mounting."""

    foils: tuple[FoilChart, ...]
    splits: tuple[SplitPlane, ...]
    causes: tuple[Cause, ...]


class BudgetBar(NamedTuple):
    """One step in the doubt of a number: its share of the variance (0 to 1), 95 % ends, and what it makes alone (1 SD, mm)."""

    key: str
    words: str
    share: float
    low: float
    high: float
    sd_mm: float
    assumed: bool


class Budget(NamedTuple):
    """The doubt of one number, taken apart: ``u`` (1 SD), steps by their share, and u before the checks if they changed it."""

    what: str
    unit: str
    u: float
    bars: tuple[BudgetBar, ...]
    prior_u: float | None = None


class Better(NamedTuple):
    """One better measurement: what it would make of u (mm), and the minutes it takes."""

    words: str
    u_now: float
    u_then: float
    minutes: float


class ToothChance(NamedTuple):
    """Chances of one tooth (ISO 3950) to meet first and to hold the foil, with their Monte Carlo errors.

    ``gap_um``: median, 95 % low and high of the gap along closure at first contact. ``unknown``: a hole lies there.
    """

    tooth: int
    first: float
    holds: float
    first_u: float
    holds_u: float
    gap_um: tuple[float, float, float] | None
    unknown: bool


class ContactChances(NamedTuple):
    """Chances of all teeth, upper and lower, each from right to left, over so many drawn mountings."""

    foil_um: float
    closure: str
    teeth: tuple[ToothChance, ...]
    draws: int
    after_checks: bool


class DoubtEvidence(NamedTuple):
    """Behind the answer to the doubt."""

    budgets: tuple[Budget, ...]
    better: tuple[Better, ...]
    contacts: ContactChances | None
    limits_line: str


class Band(NamedTuple):
    """A number over the heights of a sweep, (k,), with the ends of its 95 % interval, (k,) each."""

    mid: Array
    low: Array
    high: Array


class ChangeCurve(NamedTuple):
    """One pair of teeth over the heights of a sweep: what comes off and what stays open.

    ``off_mm`` across the surface, both teeth together; ``area_mm2`` of the upper; ``volume_mm3``; ``gap_mm`` along closure;
    ``fill_mm3`` over the place that meets first. ``at_hole``: a hole may hide more.
    """

    upper: int
    lower: int
    off_mm: Band
    area_mm2: Band
    volume_mm3: Band
    gap_mm: Band
    fill_mm3: Band
    at_hole: bool


class ChangeTotals(NamedTuple):
    """All pairs of teeth together over the heights: volumes that come off and that are added, and the most of either, mm."""

    off_mm3: Band
    on_mm3: Band
    off_mm: Band
    on_mm: Band


class ReplayRound(NamedTuple):
    """A trial after one round: the pin (mm over the zero), the pair that met first before it, the pairs that hold after it.

    ``off_mm``: what has come off each tooth (ISO 3950) since the trial began, across the surface.
    """

    number: int
    pin_mm: float
    first: tuple[int, int]
    holding: tuple[tuple[int, int], ...]
    off_mm: Mapping[int, float]


class Replay(NamedTuple):
    """One way of a trial, round by round; ``teeth``: those the casts have; ``why``: why it ended, or nothing."""

    name: str
    teeth: tuple[int, ...]
    rounds: tuple[ReplayRound, ...]
    why: str


class ChangeLimit(NamedTuple):
    """One end of the heights inside the clinician's limits: the pin there (mm), its 95 % ends, and why it ends there."""

    pin_mm: float
    low_mm: float
    high_mm: float
    words: str


class ChangeWindow(NamedTuple):
    """Heights inside the limits: not lower than ``floor`` (what comes off), not higher than ``ceiling`` (what is added).

    None: no limit on that side. ``least``: pin (mm) inside them at which the least volume comes off and is added in all.
    """

    floor: ChangeLimit | None
    ceiling: ChangeLimit | None
    least_mm: float | None


#: Space that lacks no more than this lacks nothing: as near as an opening is found (mm).
SAME_MM: Final = 5e-3


class ChangeEvidence(NamedTuple):
    """Behind the answer to the change: ``pin_mm`` (k,) how far the pin stands open over the zero, and the curves.

    ``stands``: (words, pin mm) of the heights that are told; ``at_pin`` false where heights are told at the incisors;
    ``by_mip``: the zero is the height of MIP, else first contact.
    """

    pin_mm: Array
    curves: tuple[ChangeCurve, ...]
    stands: tuple[tuple[str, float], ...]
    at_pin: bool
    by_mip: bool
    totals: ChangeTotals
    window: ChangeWindow | None = None
    replays: tuple[Replay, ...] = ()
    space: SpaceChart | None = None
    across: tuple[AcrossBar, ...] = ()


class AcrossBar(NamedTuple):
    """A lower cusp tip across an upper inner incline: 0 over the groove, 1 under the upper tip; ``low``, ``high``: 95 %.

    ``pose_low``, ``pose_high``: the part of it that the pose alone leaves open. ``cusp`` counts from mesial among ``cusps``.
    """

    upper: int
    lower: int
    cusp: int
    cusps: int
    part: float
    low: float
    high: float
    pose_low: float
    pose_high: float
    width_mm: float


class SpaceTooth(NamedTuple):
    """The space at one tooth (ISO 3950): ``gap_mm`` with its standard uncertainty, infinite where nothing is near.

    ``wanted_mm``: least thickness wanted there, None where nobody wants one.
    """

    tooth: int
    gap_mm: float
    u_mm: float
    wanted_mm: float | None

    @property
    def short_mm(self) -> float:
        """By how much the space stays short of what is wanted; 0 where it does not."""
        return 0.0 if self.wanted_mm is None else max(self.wanted_mm - self.gap_mm, 0.0)


class SpaceChart(NamedTuple):
    """Space between the teeth at one opening: ``pin_mm`` from where they touch, and what the pin then reads, in its marks.

    ``exact``: across and tooth by tooth, from scans; else upright, from places of teeth. ``views``: what makes both occlusal
    views (``views`` and ``band_edges_mm``), None without scans.
    """

    pin_mm: float
    pin_reads: float
    teeth: tuple[SpaceTooth, ...]
    exact: bool
    views: object = None

    @property
    def short(self) -> tuple[SpaceTooth, ...]:
        """Teeth that stay short of what is wanted, the shortest first."""
        found = [one for one in self.teeth if one.short_mm > SAME_MM]
        return tuple(sorted(found, key=lambda one: -one.short_mm))


class SlidePath(NamedTuple):
    """The slide, place by place: ``names`` (n), and of each the way from first contact (k, 3), mm ahead, up, right.

    ``mip_mm`` (n, 3): where MIP as scanned has each place, against first contact; None without such a scan. ``stages``: the
    poses of the way that are told, in their order.
    """

    names: tuple[str, ...]
    tracks_mm: tuple[Array, ...]
    mip_mm: Array | None = None
    stages: tuple[Stage, ...] = ()
