"""Part of question 8: what every step makes of the doubt of the casts against the mouth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.doubt_chain import CaseChain, StepTold
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Budget, BudgetBar
from mountproof.answers.result import K95, Quantity, Table
from mountproof.case.model import Case
from mountproof.doubt.blocks import Joined, join, normal_block
from mountproof.doubt.chain import ROUTES, rows
from mountproof.doubt.faults import INCISORS_MM, MOLAR_MM
from mountproof.doubt.motions import at_place
from mountproof.geometry.poses import Array
from mountproof.records.repeats import sd_factors_of_dof
from mountproof.said import capital, figure, joined, say, term

#: Where the numbers are told, in the order of the rows: down, ahead and right at each.
PLACES: Final = (
    ("molar_right", say("second molar right"), MOLAR_MM),
    ("molar_left", say("second molar left"), (MOLAR_MM[0], MOLAR_MM[1], -MOLAR_MM[2])),
    ("incisors", say("incisors"), INCISORS_MM),
)
WAYS: Final = (say("down"), say("ahead"), say("to the right"))


class Wanted(NamedTuple):
    """One number whose doubt is taken apart: its key, words, a short head, and its row among the nine."""

    key: str
    words: str
    head: str
    row: int


WANTED: Final = (
    Wanted("u_molar_right", say("height at the second molar, right"), say("molar right"), 0),
    Wanted("u_molar_left", say("height at the second molar, left"), say("molar left"), 3),
    Wanted("u_incisors", say("height at the incisors"), say("incisors"), 6),
    Wanted("u_ahead", say("ahead, at the incisors"), say("ahead"), 7),
    Wanted("u_right", say("to the right, at the incisors"), say("to the right"), 8),
)


class Ground(NamedTuple):
    """The chain of a case with its steps side by side, and the nine wanted numbers (9, K) over them."""

    chain: CaseChain
    joined: Joined
    rows: Array
    route: str


def ground_of(case: Case, chain: CaseChain) -> Ground:
    """Return the chain laid out; scans that were never luted go by the shorter way."""
    route = "mounted"
    if not _mounted(case) and case.scans:
        route = "scans"
    c = chain.chain
    cov = c.network.honest_cov
    blocks = [
        normal_block(key, np.zeros(where.stop - where.start), cov[where, where], c.dofs.get(key, math.inf))
        for key, where in c.columns.items()
    ]
    places = np.stack([at_place(at) for _, _, at in PLACES])
    wanted = np.asarray(rows(c, ROUTES[route], places), dtype=np.float64).reshape(9, -1)
    return Ground(chain, join(blocks), wanted, route)


def _mounted(case: Case) -> bool:
    """Tell whether casts stand, or are to stand, on an instrument: scans alone need none."""
    return case.instrument is not None or case.marks is not None or bool(case.pours)


def dof_of(ground: Ground, key: str) -> float:
    """Return the degrees of freedom behind what a step scatters; a band that nobody measured has none to tell."""
    return ground.chain.chain.dofs.get(key, math.inf)


def told_of(ground: Ground, key: str) -> StepTold:
    """Return how a step is told; a step of another record is told as that of the mounted one."""
    return next(t for t in ground.chain.told if t.key == key)


def steps_in(ground: Ground) -> tuple[str, ...]:
    """Return the steps that move a wanted number, in the order of the chain."""
    told = {t.key for t in ground.chain.told}
    return tuple(
        key
        for key, where in ground.joined.columns.items()
        if key in told and np.any(ground.rows[:, where]) and np.any(ground.joined.cov[where, where])
    )


def shares_of(ground: Ground, cov: Array) -> dict[str, Array]:
    """Return for each step its share (9,) of the variance of every wanted number under ``cov`` (K, K), exact.

    What a step has in common with others counts half to each (``own`` and ``shared`` of ``doubt.shares.linear_shares``), so
    that all add up to one.
    """
    parts = (
        ground.rows @ cov
    ) * ground.rows  # (9, K): what each number of a step has in common with the whole
    whole = np.maximum(parts.sum(axis=1), 1e-300)
    return {key: parts[:, where].sum(axis=1) / whole for key, where in ground.joined.columns.items()}


def budgets(ground: Ground, before: Array, after: Array) -> tuple[Budget, ...]:
    """Return the budget of every wanted number as a picture: steps by their share, the largest first.

    ``before`` and ``after`` (K, K): what is known of the steps without and with the checks.
    """
    shares = shares_of(ground, after)
    low, high = _bounds(ground, after)
    made = []
    for one in WANTED:
        row = ground.rows[one.row]
        u = _u(row, after)
        bars = [
            BudgetBar(
                key,
                told_of(ground, key).words,
                float(np.clip(shares[key][one.row], 0.0, 1.0)),
                float(np.clip(low[key][one.row], 0.0, 1.0)),
                float(np.clip(high[key][one.row], 0.0, 1.0)),
                _u(row[where], after[where, where]),
                told_of(ground, key).assumed,
            )
            for key in steps_in(ground)
            for where in (ground.joined.columns[key],)
        ]
        bars.sort(key=lambda b: -b.share)
        prior = None if after is before else _u(row, before)
        made.append(Budget(one.words, term("mm"), u, tuple(bars), prior))
    return tuple(made)


def _bounds(ground: Ground, cov: Array) -> tuple[dict[str, Array], dict[str, Array]]:
    """Return the 95 % ends of every share, from steps whose scatter rests on counted repeats; the others are taken as told."""
    plain = shares_of(ground, cov)
    low, high = dict(plain), dict(plain)
    for key in steps_in(ground):
        dof = dof_of(ground, key)
        if math.isinf(dof):
            continue
        for factor in sd_factors_of_dof(int(dof)):
            scaled = cov.copy()
            where = ground.joined.columns[key]
            scaled[where] *= factor
            scaled[:, where] *= factor
            other = shares_of(ground, scaled)
            low = {k: np.minimum(v, other[k]) for k, v in low.items()}
            high = {k: np.maximum(v, other[k]) for k, v in high.items()}
    return low, high


def _u(row: Array, cov: Array) -> float:
    return math.sqrt(max(float(row @ cov @ row), 0.0))


class Largest(NamedTuple):
    """The number of the headline: its row, mean and u after the checks, the step that makes most of it, and its share."""

    row: int
    mean: float
    u: float
    step: StepTold
    share: float


def largest(ground: Ground, mean: Array, cov: Array) -> Largest:
    """Return the height at the second molar that may be off farthest, and the step that makes most of its doubt.

    ``mean`` (K,), ``cov`` (K, K) of the steps after the checks.
    """

    def reach(row: int) -> float:
        return abs(float(ground.rows[row] @ mean)) + 2.0 * _u(ground.rows[row], cov)

    row = max((0, 3), key=lambda r: round(reach(r), 9))
    shares = shares_of(ground, cov)
    key = max(steps_in(ground), key=lambda k: float(shares[k][row]))
    return Largest(
        row,
        float(ground.rows[row] @ mean),
        _u(ground.rows[row], cov),
        told_of(ground, key),
        float(shares[key][row]),
    )


def tell_budget(ground: Ground, mean: Array, cov: Array, ledger: Ledger) -> None:
    """Note the five numbers, the steps with what they scatter and whence that is, and the share of each.

    ``mean`` (K,), ``cov`` (K, K) of the steps after the checks.
    """
    for one in WANTED:
        ledger.quantities.append(
            Quantity.of(
                one.key,
                say("casts off the mouth, {what}", what=one.words),
                float(ground.rows[one.row] @ mean),
                term("mm"),
                _u(ground.rows[one.row], cov),
                assumed=any(told_of(ground, key).assumed for key in steps_in(ground)),
            )
        )
    _steps_table(ground, ledger)
    _shares_table(ground, cov, ledger)


def _steps_table(ground: Ground, ledger: Ledger) -> None:
    moving = steps_in(ground)
    rows_ = [
        (
            capital(one.words),
            joined("; ", (_number(*n) for n in one.numbers)) or "-",
            one.source,
            _how(one, moving),
        )
        for one in ground.chain.told
    ]
    ledger.tables.append(
        Table(
            say("Every step: what an orderly one scatters (1 SD), and where that comes from"),
            (say("step"), say("scatters"), say("source"), ""),
            tuple(rows_),
            say("Type your own number in place of an assumed one: see the list of assumptions."),
        )
    )


def _number(label: str, sd: float, unit: str) -> str:
    return say("{label} {sd:.2g} {unit}", label=label, sd=sd, unit=term(unit))


def _how(one: StepTold, moving: Sequence[str]) -> str:
    how = say("assumed") if one.assumed else say("own number")
    return how if one.key in moving else say("{how}; moves no cast", how=how)


def _shares_table(ground: Ground, cov: Array, ledger: Ledger) -> None:
    shares = shares_of(ground, cov)
    order = sorted(steps_in(ground), key=lambda k: -float(shares[k][0] + shares[k][3]))
    rows_ = [
        (
            capital(told_of(ground, key).words),
            *(figure(round(100.0 * float(shares[key][w.row])) + 0.0, ".0f") for w in WANTED),
        )
        for key in order
    ]
    rows_.append(
        (
            say("All, ± mm (95 %)"),
            *(figure(K95 * _u(ground.rows[w.row], cov), ".2f") for w in WANTED),
        )
    )
    ledger.tables.append(
        Table(
            say("What each step makes of the doubt, %"),
            (say("step"), *(w.head for w in WANTED)),
            tuple(rows_),
            say(
                "Exact: the steps add up, so the share that goes if one step alone were known is the share that stays "
                "if all others were."
            ),
        )
    )
