"""Part of question 8: what the checks that were made leave of the doubt, and whether they fit an orderly mounting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.doubt_budget import PLACES, WANTED, WAYS, Ground
from mountproof.answers.ledger import Ledger
from mountproof.answers.proof_checks import choice_of
from mountproof.answers.result import K95, Table
from mountproof.case.model import Case, Seats
from mountproof.doubt.causes import Look
from mountproof.doubt.network import Network
from mountproof.doubt.normal import below
from mountproof.doubt.outcomes import Choice, Condition
from mountproof.doubt.outcomes import rows as numbers_of
from mountproof.doubt.posterior import adapted, condition, summary
from mountproof.geometry.poses import Array
from mountproof.said import figure, joined, say

_SEED: Final = 20260318
#: Draws that are weighted by what a hand felt.
_DRAWS: Final = 4096
#: Below this chance what was read is told as surprising.
_SURPRISING: Final = 0.05


class Felt(NamedTuple):
    """What weighting by seatings gave: effective number of draws, whether they suffice, and how many were made."""

    ess: float
    enough: bool
    draws: int


class Checked(NamedTuple):
    """What is known of all honest numbers after the checks: ``mean`` (K,), ``cov`` (K, K), and how they fit.

    ``surprise``: chance of readings at least as far out in an orderly mounting; ``alone`` the same for each check, by its
    words. ``felt`` is None where no seating was tried. ``set_aside``: records that are left out as standing out.
    """

    mean: Array
    cov: Array
    surprise: float
    alone: tuple[tuple[str, float], ...]
    felt: Felt | None
    set_aside: tuple[str, ...]
    any: bool


def choices_of(case: Case, network: Network, leave: Sequence[str] = ()) -> tuple[Choice, ...]:
    """Return records tried on the mounting that seated or stood off, as choices over the honest numbers."""
    return tuple(
        choice_of(s, network)
        for s in case.proof.seatings
        if s.record in network.records and s.found is not Seats.ROCKS and s.record not in leave
    )


def without_records(looks: Sequence[Look], network: Network, leave: Sequence[str]) -> tuple[Look, ...]:
    """Return the checks without the rows that read one of these records: a record that stands out is no orderly one."""
    out = np.zeros(network.honest.shape[1], dtype=bool)
    for name in leave:
        if name in network.records[1:]:
            k = network.records.index(name)
            own = [network.blocks[f"record/{k}"], network.blocks[f"seat/{k}"]]
            elsewhere = network.honest != 0.0
            for block in own:
                elsewhere[block] = False
            # what it shares with the others (the visit, the material) is theirs as well
            out |= np.any(network.honest != 0.0, axis=0) & ~np.any(elsewhere, axis=0)
    if not np.any(out):
        return tuple(looks)
    kept = []
    for look in looks:
        rows = ~np.any(look.honest[:, out] != 0.0, axis=1)
        if np.any(rows):
            kept.append(
                look._replace(
                    honest=look.honest[rows],
                    faults=look.faults[rows],
                    values=look.values[rows],
                    cov=look.cov[np.ix_(rows, rows)],
                )
            )
    return tuple(kept)


def checked(
    ground: Ground, looks: Sequence[Look], choices: Sequence[Choice] = (), set_aside: Sequence[str] = ()
) -> Checked:
    """Return what the checks leave, exactly for readings, by weighted draws for what a hand felt.

    Without a check the steps come back as they were, bit for bit.
    """
    prior = ground.joined
    plain = [
        one._replace(key=f"{i}/{one.key}", faults=np.zeros((one.values.shape[0], 0)))
        for i, one in enumerate(looks)
    ]
    plain = [one for one in plain if np.any(one.honest) and np.all(np.isfinite(one.values))]
    left = condition(prior.centre, prior.cov, plain)
    alone = tuple((one.words, left.alone[one.key]) for one in plain)
    mean, cov, felt = left.mean, left.cov, None
    if choices:
        mean, cov, felt = _felt(left.mean, left.cov, choices)
    return Checked(mean, cov, left.surprise, alone, felt, tuple(set_aside), bool(plain or choices))


def _felt(mean: Array, cov: Array, choices: Sequence[Choice]) -> tuple[Array, Array, Felt]:
    """Weight draws of the numbers that a hand feels by what it felt, and carry their moments to all honest numbers.

    Given the felt numbers all others are as before, so only these few are drawn: ``x`` moves by the regression on them.
    """
    conditions, about = numbers_of(choices)
    w = about.honest  # (c, K)
    among = w @ cov @ w.T
    drawn = adapted(
        lambda x: log_likelihood(choices, conditions, x),
        w @ mean,
        among,
        np.random.default_rng(_SEED),
        n=_DRAWS,
    )
    found = summary(drawn.draws, drawn.weights.weights)
    gain = cov @ w.T @ np.linalg.pinv(among, rcond=1e-10, hermitian=True)
    after = cov + gain @ (found.cov - among) @ gain.T
    felt = Felt(drawn.weights.ess, drawn.enough.enough, drawn.draws.shape[0])
    return mean + gain @ (found.mean - w @ mean), 0.5 * (after + after.T), felt


def log_likelihood(choices: Sequence[Choice], conditions: Sequence[Condition], x: Array) -> Array:
    """Return (n,): logarithm of the chance of what hands felt, given the numbers they felt, ``x`` (n, conditions).

    A hand's thresholds scatter independently; the outcome without conditions is what none of the others is.
    """
    at = {(c.honest.tobytes(), c.faults.tobytes()): i for i, c in enumerate(conditions)}

    def chance(outcome: Sequence[Condition]) -> Array:
        p = np.ones(x.shape[0])
        for c in outcome:
            v = x[:, at[c.honest.tobytes(), c.faults.tobytes()]]
            high = below((c.high - v) / c.sd) if math.isfinite(c.high) else 1.0
            low = below((c.low - v) / c.sd) if math.isfinite(c.low) else 0.0
            p = p * np.maximum(high - low, 0.0)
        return p

    log = np.zeros(x.shape[0])
    for choice in choices:
        outcome = choice.outcomes[choice.found]
        p = chance(outcome)
        if not outcome:
            p = np.maximum(1.0 - sum(chance(o) for o in choice.outcomes if o), 0.0)
        with np.errstate(divide="ignore"):
            log = log + np.log(p)
    return log


def tell_checked(ground: Ground, found: Checked, ledger: Ledger) -> None:
    """Note what the casts may stand off the mouth, before and after the checks, and how well these fit."""
    before = ground.rows @ ground.joined.cov @ ground.rows.T
    after = ground.rows @ found.cov @ ground.rows.T
    mean = ground.rows @ found.mean
    _where_table(mean, after, found.any, ledger)
    if not found.any:
        ledger.notes.append(say("No check of this mounting was entered: the doubt is that of orderly steps."))
        return
    ledger.tables.append(
        Table(
            say("What the checks left of the doubt, mm (95 %)"),
            ("", say("before the checks"), say("with the checks")),
            tuple(
                (
                    w.words,
                    say("± {mm:.2f}", mm=K95 * _sd(before, w.row)),
                    say("{mean:+.2f} ± {mm:.2f}", mean=_shown(mean[w.row]), mm=K95 * _sd(after, w.row)),
                )
                for w in WANTED
            ),
            _way(found),
        )
    )
    _fit(found, ledger)


def _where_table(mean: Array, cov: Array, any_check: bool, ledger: Ledger) -> None:
    def cell(row: int) -> str:
        if any_check:
            return say("{mean:+.2f} ± {mm:.2f}", mean=_shown(mean[row]), mm=K95 * _sd(cov, row))
        return say("± {mm:.2f}", mm=K95 * _sd(cov, row))

    ledger.tables.append(
        Table(
            say("What the casts may stand off the mouth, mm (95 %)"),
            ("", *WAYS),
            tuple((words, *(cell(3 * i + k) for k in range(3))) for i, (_, words, _) in enumerate(PLACES)),
        )
    )


def _shown(mm: float) -> float:
    """Return a number as two decimals show it, without the sign of a zero."""
    return round(float(mm), 2) + 0.0


def _sd(cov: Array, row: int) -> float:
    return math.sqrt(max(float(cov[row, row]), 0.0))


def _way(found: Checked) -> str:
    if found.felt is None:
        return say("Exact: readings and steps are joined in closed form.")
    if found.felt.enough:
        return say(
            "What a hand felt is weighed by {n} draws, worth {ess:.0f} independent ones.",
            n=found.felt.draws,
            ess=found.felt.ess,
        )
    return say(
        "What a hand felt is weighed by {n} draws that are worth only {ess:.0f}: take these figures as rough.",
        n=found.felt.draws,
        ess=found.felt.ess,
    )


def _fit(found: Checked, ledger: Ledger) -> None:
    if found.set_aside:
        ledger.notes.append(
            say(
                "Left out here, because it stands out from the others: {records}.",
                records=joined(", ", found.set_aside),
            )
        )
    if not found.alone:
        return
    if found.surprise >= _SURPRISING:
        text = say(
            "The checks fit orderly steps: {percent:.0f} of 100 orderly mountings would read at least as far out.",
            percent=100.0 * found.surprise,
        )
    else:
        odd = min(found.alone, key=lambda one: one[1])
        text = say(
            "The checks hardly fit orderly steps ({percent} of 100 orderly mountings would read as far out); furthest out: "
            "{check}. See the causes of question 4.",
            percent=figure(100.0 * found.surprise, ".2g"),
            check=odd[0],
        )
    ledger.notes.append(text)
