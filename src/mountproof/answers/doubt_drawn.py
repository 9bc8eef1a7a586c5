"""Part of question 8, with scans: mountings like this one, drawn, closed exactly, and weighed by the foils of the mouth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.doubt_chain import CaseChain
from mountproof.answers.foil_lists import contact_teeth, give_of, reads_of
from mountproof.answers.implants import at_implants
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case, Closure, Relation, Where
from mountproof.doubt.chain import ROUTES
from mountproof.doubt.foil_readings import OWN_GIVE_SD_MM, Interval, give_values, interval_of
from mountproof.doubt.motions import as_twist
from mountproof.doubt.normal import log_between
from mountproof.doubt.posterior import adapted, condition
from mountproof.geometry.draws import Closings, Near, closings, near
from mountproof.geometry.poses import Array, exp6, point_jacobian
from mountproof.said import say

#: Draws of the motion: the chance of a tooth is then known to 0.8 percent at the worst (1 SD). The seed is fixed.
_DRAWS, SEED = 4_000, 20_260_417
#: Gaps wider than this beyond the first contact are told only as wider (mm of arc).
BAND_MM: Final = 0.5
#: Most draws are closed only as far as a foil reaches: its thickness and what teeth give, on a slope.
_GIVE_REACH_MM, _SLOPE = 0.07, 0.55
#: Motions beyond so many SDs are closed one by one, slowly.
_REACH_SDS: Final = 5.5
#: The foil of a case that names none: 12 um is felt between teeth.
FOIL_UM: Final = 12.0
#: Checks that read foils stay out of the linear looks: every draw is held against the foils themselves.
_BY_FOIL: Final = ("foils", "none_held", "contact_pin")


class Moving(NamedTuple):
    """The lower as it may stand in the mouth: prepared surfaces, and the motion off it, ``mean`` (6,) and ``cov`` (6, 6)."""

    near: Near
    mean: Array
    cov: Array


class Weighted(NamedTuple):
    """Drawn mountings closed exactly: motions (n, 6), first contacts, weights (n,) and how many equal ones they are worth."""

    motions: Array
    found: Closings
    lead_rad: Array
    weights: Array
    effective: float
    by_foils: bool
    enough: bool


def moving_of(closed: Closed, chain: CaseChain) -> Moving:
    """Prepare the scans for every motion that the steps between record and scans leave open, after the linear checks."""
    network = chain.chain.network
    rows = network.pick(*ROUTES["scans"]) @ network.honest
    looks = [one for one in chain.looks if one.key not in _BY_FOIL]
    after = condition(np.zeros(rows.shape[1]), network.honest_cov, looks)
    mean, cov = rows @ after.mean, rows @ after.cov @ rows.T
    assert closed.evidence is not None and closed.first is not None
    twist = as_twist() @ cov @ as_twist().T
    off = as_twist() @ mean
    turn = _REACH_SDS * math.sqrt(float(np.linalg.eigvalsh(twist[:2, :2])[-1])) + float(
        np.linalg.norm(off[:2])
    )
    sited = closed.evidence.sited
    middle = 0.5 * (sited.lower.vertices_mm.min(axis=0) + sited.lower.vertices_mm.max(axis=0))
    # without the turn about the hinge, which closing undoes
    keep = [0, 1, 3, 4, 5]
    carry = point_jacobian(middle)[:, keep]
    at_middle = carry @ twist[np.ix_(keep, keep)] @ carry.T
    shift = _REACH_SDS * math.sqrt(float(np.linalg.eigvalsh(at_middle)[-1])) + float(
        np.linalg.norm(carry @ off[keep])
    )
    ready = near(
        sited.upper,
        sited.lower,
        closed.evidence.upper_teeth,
        closed.evidence.lower_teeth,
        band_mm=BAND_MM,
        turn_rad=turn,
        shift_mm=shift,
    )
    return Moving(ready, mean, cov)


def closed_at(moving: Moving, motions: Array, progress: Progress, band_mm: float) -> tuple[Closings, Array]:
    """Close the lower as it stands in the mouth, motions (n, 6) off what the scans show; and the turn about the hinge (n,).

    The mouth is what is shown less the motion. Its turn about the hinge comes last, so closing takes it back whole. Contacts
    up to ``band_mm`` behind the first are told.
    """
    twists = -(np.asarray(motions) @ as_twist().T)
    lead = twists[:, 2].copy()
    twists[:, 2] = 0.0
    doing = say("closing many mountings like this one")
    ready = replace(moving.near, band_mm=band_mm)
    return closings(ready, exp6(twists), told=lambda share: progress(share, doing)), lead


class Read(NamedTuple):
    """One tooth that was read in the mouth: its number, the interval, and the values of give (k,)."""

    tooth: int
    interval: Interval
    gives: Array


def lists_of(case: Case, ledger: Ledger) -> tuple[Read, ...]:
    """Return what foils in the mouth in CR say, tooth by tooth; readings that contradict each other are left out."""
    out = []
    for closure in Closure:
        foils = [
            f
            for f in case.foils
            if f.where is Where.MOUTH and f.relation is Relation.CR and f.closure is closure
        ]
        if not foils:
            continue
        give = np.array(give_values(*give_of(case, closure, ledger)))
        for tooth in contact_teeth(case, foils):
            reads = reads_of(case, foils, tooth)
            stiff = bool(at_implants(case, [tooth]))
            read = interval_of(reads, 0.0 if stiff else OWN_GIVE_SD_MM, -math.inf) if reads else None
            if read is not None:
                out.append(Read(tooth, read, np.zeros_like(give) if stiff else give))
    return tuple(out)


def gaps_of(found: Closings, rise: bool, band_mm: float) -> dict[int, Array]:
    """Return for each tooth the least gap (n,) at first contact, along closure or along the normal; the band where wider."""
    gap = np.where(np.isfinite(found.pair_closing_rad), found.pair_gap_mm, np.inf)
    if rise:
        gap = gap * np.where(np.isfinite(found.pair_rise), found.pair_rise, 1.0)
    out: dict[int, Array] = {}
    for k, pair in enumerate(found.pairs):
        for tooth in set(pair):
            out[tooth] = np.minimum(out[tooth], gap[:, k]) if tooth in out else gap[:, k]
    return {tooth: np.minimum(g, band_mm) for tooth, g in out.items()}


def _log_likelihood(found: Closings, reads: Sequence[Read], band_mm: float) -> Array:
    """Logarithm (n,) of how likely each drawn mounting makes what the foils said, the common give summed over."""
    n = len(found.closing_rad)
    gaps = gaps_of(found, rise=True, band_mm=band_mm)
    far = np.full(n, band_mm)
    total = np.zeros((n, len(reads[0].gives)))
    for read in reads:
        over = gaps.get(read.tooth, far)[:, None] - read.gives
        low, high, sd = read.interval.low_mm, read.interval.high_mm, read.interval.sd_mm
        total += np.maximum(log_between((low - over) / sd, (high - over) / sd)[0], -300.0)
    top = total.max(axis=1)
    out: Array = top + np.log(np.mean(np.exp(total - top[:, None]), axis=1))
    return out


def reach_of(case: Case) -> float:
    """How far behind the first contact (mm of arc) a foil of this case may still be held."""
    thickest = max((f.thickness_um for f in case.foils if f.relation is Relation.CR), default=FOIL_UM)
    return min((1.5 * thickest / 1000.0 + _GIVE_REACH_MM) / _SLOPE, BAND_MM)


def drawn_of(case: Case, moving: Moving, reads: Sequence[Read], progress: Progress) -> Weighted:
    """Draw mountings like this one and close each exactly; weigh them by the foils in the mouth where there are any."""
    rng, band = np.random.default_rng(SEED), reach_of(case)
    if not reads:
        scale, axes = np.linalg.eigh(moving.cov)
        root = axes * np.sqrt(np.maximum(scale, 0.0))
        motions = moving.mean + rng.standard_normal((_DRAWS, 6)) @ root.T
        found, lead = closed_at(moving, motions, progress, band)
        return Weighted(motions, found, lead, np.full(_DRAWS, 1.0 / _DRAWS), float(_DRAWS), False, True)
    last: list[tuple[Array, Closings, Array]] = []

    def log_of(motions: Array) -> Array:
        last[:] = [(motions, *closed_at(moving, motions, progress, band))]
        return _log_likelihood(last[0][1], reads, band)

    weighed = adapted(log_of, moving.mean, moving.cov, rng, n=_DRAWS // 2)
    draws, found, lead = last[0]
    if not np.array_equal(draws, weighed.draws):
        found, lead = closed_at(moving, weighed.draws, progress, band)
    w = weighed.weights
    return Weighted(weighed.draws, found, lead, w.weights, w.ess, True, weighed.enough.enough)
