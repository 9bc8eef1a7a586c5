"""Part of question 8, with scans: the chance of each tooth to meet first and to hold a foil, every draw closed exactly."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from mountproof.answers.contacts import noted_closing
from mountproof.answers.doubt_chain import CaseChain
from mountproof.answers.doubt_drawn import (
    BAND_MM,
    FOIL_UM,
    SEED,
    Moving,
    Weighted,
    closed_at,
    drawn_of,
    gaps_of,
    lists_of,
    moving_of,
    reach_of,
)
from mountproof.answers.foil_lists import give_of
from mountproof.answers.foils import present, written
from mountproof.answers.implants import at_implants
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Quantity, Table, Verdict, Why
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case, Closure, Relation
from mountproof.doubt.blocks import join, normal_block
from mountproof.doubt.chain import ROUTES
from mountproof.doubt.foil_readings import OWN_GIVE_SD_MM, give_values
from mountproof.doubt.montecarlo import numerical_tolerance
from mountproof.doubt.motions import as_twist
from mountproof.doubt.posterior import chance, quantile, resampled
from mountproof.doubt.shares import Shares, called_shares
from mountproof.geometry.poses import Array, point_jacobian
from mountproof.said import figure, joined, say, term

#: Gaps beyond a foil are told from so many of the draws.
_WIDE_DRAWS: Final = 400
#: Draws for each step's share in the closing at first contact.
_SHARE_DRAWS: Final = 256
#: Teeth with less than these chances are not worth a line.
_FIRST_TOLD, _HOLDS_TOLD = 0.005, 0.05
_MOST_ROWS: Final = 16


def contacts(case: Case, ledger: Ledger, chain: CaseChain, progress: Progress) -> ContactChances | None:
    """Tell the chance of each tooth to meet first and to hold a foil; None without scans and a relation in CR."""
    closed = noted_closing(case, within(progress, 0.0, 0.3)).closed
    if closed is None or closed.first is None or closed.evidence is None:
        return None
    progress(0.3, say("closing many mountings like this one"))
    moving = moving_of(closed, chain)
    lists = lists_of(case, ledger)
    drawn = drawn_of(case, moving, lists, within(progress, 0.35, 0.35))
    if not drawn.enough:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.NOT_CARRIED,
            say(
                "the foils in the mouth go with so few of the mountings that could be ({count:.0f} of {all}) that no "
                "chance of a tooth is told",
                count=drawn.effective,
                all=len(drawn.weights),
            ),
        )
        ledger.need(
            say("the foils in the mouth once more"),
            say("they go with almost none of the mountings that orderly steps make"),
            "foils",
        )
        return None
    foil_um, assumed = _foil(case)
    if assumed:
        ledger.assume(
            say("thickness of the foil"),
            foil_um,
            "um",
            say("12 um is felt between teeth (J Contemp Dent Pract 2021;22:268-272)"),
            "foils",
        )
    told = _chances(case, ledger, closed, moving, drawn, foil_um)
    _closing(ledger, chain, closed, moving, drawn, within(progress, 0.7, 0.3))
    _table(case, ledger, told)
    _first(case, ledger, drawn, moving)
    return told


def _foil(case: Case) -> tuple[float, bool]:
    """Return the thickness (um) of the thinnest foil of a case in CR, or of the usual one, assumed."""
    used = [f.thickness_um for f in case.foils if f.relation is Relation.CR]
    return (min(used), False) if used else (FOIL_UM, True)


def _chances(
    case: Case, ledger: Ledger, closed: Closed, moving: Moving, drawn: Weighted, foil_um: float
) -> ContactChances:
    """Return the chance of every tooth of both arches, with its own error of drawing."""
    found, w = drawn.found, drawn.weights
    n = len(w)
    rng = np.random.default_rng(SEED + 1)
    mean, sd = give_of(case, Closure.LIGHT, ledger)
    values = np.array(give_values(mean, sd, 16))
    common = values[rng.integers(0, len(values), n)]
    band = reach_of(case)
    normal = gaps_of(found, rise=True, band_mm=band)
    # a few of them are closed again as far as gaps are told
    some = resampled(w, _WIDE_DRAWS, np.random.default_rng(SEED + 3))
    wide, _ = closed_at(moving, drawn.motions[some], quiet, BAND_MM)
    along, even = gaps_of(wide, rise=False, band_mm=BAND_MM), np.full(len(some), 1.0 / len(some))
    first = np.full((n, 2), -1)
    known = found.first_pair >= 0
    first[known] = np.array(found.pairs)[found.first_pair[known]]
    assert closed.evidence is not None
    holes = {t.tooth for t in closed.evidence.table.teeth if t.unknown_mm2 > 0.0}
    far, wide_far = np.full(n, band), np.full(len(some), BAND_MM)
    teeth = []
    for arch in ("upper", "lower"):
        for tooth in present(case, arch):
            stiff = bool(at_implants(case, [tooth]))
            give = np.zeros(n) if stiff else common + OWN_GIVE_SD_MM * rng.standard_normal(n)
            meets = chance(np.any(first == tooth, axis=1), w)
            holds = chance(normal.get(tooth, far) < foil_um / 1000.0 + np.maximum(give, 0.0), w)
            teeth.append(
                ToothChance(
                    tooth,
                    meets.share,
                    holds.share,
                    meets.se,
                    holds.se,
                    _spread(along.get(tooth, wide_far), even),
                    tooth in holes,
                )
            )
    return ContactChances(foil_um, Closure.LIGHT.value, tuple(teeth), n, drawn.by_foils)


def _spread(gap_mm: Array, weights: Array) -> tuple[float, float, float] | None:
    """Return median, 95 % low and high of a gap (um); None where it lies beyond the band in more than half."""
    middle, low, high = (float(quantile(gap_mm[:, None], weights, q)[0][0]) for q in (0.5, 0.025, 0.975))
    if middle >= BAND_MM:
        return None
    return 1000.0 * middle, 1000.0 * low, 1000.0 * (math.inf if high >= BAND_MM else high)


def _closing(
    ledger: Ledger, chain: CaseChain, closed: Closed, moving: Moving, drawn: Weighted, progress: Progress
) -> None:
    """Tell the closing to first contact with the doubt of the whole chain, by first order and by draws, and whose it is."""
    assert closed.first is not None
    p, normal = closed.first.point_mm, closed.first.normal
    along = float(normal @ np.array([-p[1], p[0], 0.0]))
    # closing of the mouth, which is what is shown less the motion
    row = (normal @ point_jacobian(p)) / along @ as_twist()
    u_first = math.sqrt(float(row @ moving.cov @ row))
    value_first = closed.first.closing_rad + float(row @ moving.mean)
    at = drawn.found.closing_rad - drawn.lead_rad
    if not np.all(np.isfinite(at)):
        ledger.notes.append(say("Some mountings like this one never meet: their closing is not told."))
        return
    mean = float(drawn.weights @ at)
    u = math.sqrt(max(float(drawn.weights @ (at - mean) ** 2), 0.0))
    low, high = (float(quantile(at[:, None], drawn.weights, q)[0][0]) for q in (0.025, 0.975))
    deg = 180.0 / math.pi
    ledger.quantities.append(
        Quantity(
            "whole_closing",
            say("closing from the record to first contact, with the doubt of every step"),
            mean * deg,
            term("deg"),
            u * deg,
            low * deg,
            high * deg,
            3,
            True,
            say("{count} mountings closed exactly", count=len(at)),
        )
    )
    if not drawn.by_foils:
        tolerance = numerical_tolerance(u, 1)
        apart = max(abs(value_first - 1.96 * u_first - low), abs(value_first + 1.96 * u_first - high))
        if apart > tolerance:
            ledger.notes.append(
                say(
                    "First order gives the closing ± {first:.3f} degrees, exact draws {low:.3f} to {high:.3f}: they differ, "
                    "since another place of the teeth meets first in many draws. The draws count.",
                    first=1.96 * u_first * deg,
                    low=(low - mean) * deg,
                    high=(high - mean) * deg,
                )
            )
        else:
            ledger.notes.append(
                say("First order and exact draws give the same closing to one digit of its doubt.")
            )
    shares = _shares(chain, moving, progress)
    ledger.tables.append(_share_table(chain, shares))


def _shares(chain: CaseChain, moving: Moving, progress: Progress) -> Shares:
    """Return the share of every step in the closing at first contact, before any check: every draw closed exactly."""
    network = chain.chain.network
    rows = network.pick(*ROUTES["scans"]) @ network.honest
    acting = [key for key, where in chain.chain.columns.items() if np.any(rows[:, where])]
    columns = np.concatenate([np.arange(rows.shape[1])[chain.chain.columns[key]] for key in acting])
    blocks = [
        normal_block(key, np.zeros(where.stop - where.start), network.honest_cov[where, where])
        for key in acting
        for where in (chain.chain.columns[key],)
    ]

    def closing(z: Array) -> Array:
        found, lead = closed_at(moving, z @ rows[:, columns].T, progress, 0.0)
        return found.closing_rad - lead

    return called_shares(closing, join(blocks), _SHARE_DRAWS, np.random.default_rng(SEED + 2))


def _share_table(chain: CaseChain, shares: Shares) -> Table:
    words = {t.key: t.words for t in chain.told}
    order = np.argsort(-shares.total[0], kind="stable")
    return Table(
        say("Which step makes the doubt of the first contact's closing"),
        (say("step"), say("by itself"), say("with others")),
        tuple(
            (
                words.get(shares.names[k], shares.names[k]),
                _percent(shares.first[0, k], shares.first_se[0, k]),
                _percent(shares.total[0, k], shares.total_se[0, k]),
            )
            for k in order
        ),
        say("Shares of the variance, ± their own error of drawing (95 %); before any check."),
    )


def _percent(part: float, se: float) -> str:
    return say("{percent:.0f} ± {by:.0f} %", percent=100.0 * part, by=100.0 * 1.96 * se)


def _table(case: Case, ledger: Ledger, told: ContactChances) -> None:
    """Tell the teeth whose chances are worth a line, the likeliest first."""
    worth = [t for t in told.teeth if t.first >= _FIRST_TOLD or t.holds >= _HOLDS_TOLD]
    worth.sort(key=lambda t: (-t.first, -t.holds))
    ledger.tables.append(
        Table(
            say("Chance of each tooth in CR, light closure"),
            (
                say("tooth"),
                say("meets first %"),
                say("holds foil of {um:g} um %", um=told.foil_um),
                say("gap um"),
                say("95 %"),
                "",
            ),
            tuple(
                (
                    written(case, t.tooth),
                    figure(100.0 * t.first, ".0f"),
                    figure(100.0 * t.holds, ".0f"),
                    say("beyond {um:.0f}", um=1000.0 * BAND_MM)
                    if t.gap_um is None
                    else figure(t.gap_um[0], ".0f"),
                    ""
                    if t.gap_um is None
                    else say(
                        "{low:.0f} to {high:.0f}", low=t.gap_um[1], high=min(t.gap_um[2], 1000.0 * BAND_MM)
                    ),
                    say("at a hole") if t.unknown else "",
                )
                for t in worth[:_MOST_ROWS]
            ),
            say(
                "Of {count} mountings that orderly steps could have made, each closed exactly. The gap is along closure, "
                "at first contact; in the mouth teeth give.",
                count=told.draws,
            ),
        )
    )


def _first(case: Case, ledger: Ledger, drawn: Weighted, moving: Moving) -> None:
    """Note the likeliest first pair with the doubt of every step."""
    w, found = drawn.weights, drawn.found
    share = np.bincount(np.maximum(found.first_pair, 0), weights=np.where(found.first_pair >= 0, w, 0.0))
    best = int(np.argmax(share))
    rate = chance(found.first_pair == best, w)
    names = joined(" / ", (written(case, t) if t else say("no tooth") for t in found.pairs[best]))
    ledger.quantities.append(
        Quantity.of(
            "whole_first_chance",
            say("{pair} meets first, with the doubt of every step", pair=names),
            100.0 * rate.share,
            "%",
            100.0 * rate.se,
            decimals=0,
            assumed=True,
            note=say("{count} mountings closed exactly", count=len(w)),
        )
    )
