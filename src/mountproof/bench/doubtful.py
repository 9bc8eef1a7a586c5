"""Readings that the others contradict: each is questioned with what was expected, none is dropped.

Every reading is compared with what all the others, in all states, say it should be: the casts are rigid, so the
places of the marks and one pose a state must explain the whole table. The reading whose leaving-out explains the rest
best is questioned first, then set aside for the next look only.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from typing import NamedTuple

from mountproof.bench.pose import RECORD_SLACK, Marks, PoseTable, ReadingCheck, Slack, fit_poses
from mountproof.bench.readings import Reading, Table
from mountproof.geometry.quantile import normal_quantile
from mountproof.said import say

#: Chance that a table without any slip questions a reading; shared among all readings.
_FALSE_ALARM = 0.01

#: A reading set aside keeps this many times its u: it no longer weighs, and its place in the table stays.
_ASIDE = 1e4

#: How many of the loudest readings are tried as the culprit: one slip makes its neighbours look wrong too.
_CANDIDATES = 3

_MOST = 5


class Slip(NamedTuple):
    """One way the number may have been mistaken, and what it would have been (mm)."""

    how: str
    value_mm: float


class Question(NamedTuple):
    """A reading the others contradict: what was typed, what the others say with its u, and likely slips."""

    state: str
    pair: str
    found_mm: float
    expected_mm: float
    expected_u_mm: float
    off_by_sds: float
    slips: tuple[Slip, ...]


def questions(
    marks: Marks,
    table: Table,
    reference: str,
    *,
    slack: Slack | Mapping[str, Slack] = RECORD_SLACK,
    step_mm: float = 0.05,
    fitted: PoseTable | None = None,
) -> tuple[Question, ...]:
    """Return the readings that all others contradict, the worst first; at most five.

    Works with few pairs by the plausible motion ``slack``, then only for larger slips. ``fitted`` may be the table
    already fitted with ``slack_everywhere``. ``step_mm`` is what the caliper reads to.
    """
    fit = fitted or fit_poses(marks, table, reference, slack=slack, slack_everywhere=True)
    limit = normal_quantile(1.0 - 0.5 * _FALSE_ALARM / max(1, len(fit.checks)))
    aside: dict[tuple[str, str], ReadingCheck] = {}
    while len(aside) < _MOST:
        loud = sorted(
            (c for c in fit.checks if (c.state, c.pair) not in aside and abs(c.off_by_sds) > limit),
            key=lambda c: -abs(c.off_by_sds),
        )[:_CANDIDATES]
        if not loud:
            break
        tries = [
            fit_poses(
                marks,
                _set_aside(table, {*aside, (c.state, c.pair)}),
                reference,
                slack=slack,
                slack_everywhere=True,
            )
            for c in loud
        ]
        best = min(range(len(loud)), key=lambda i: tries[i].chi_square)
        fit = tries[best]
        chosen = (loud[best].state, loud[best].pair)
        aside[chosen] = loud[best]
    out = []
    for state, pair in aside:
        u = table[state][pair].u_mm
        # what the final fit, without any questioned reading, expects here
        check = next(c for c in fit.checks if (c.state, c.pair) == (state, pair))
        off = (check.found_mm - check.expected_mm) / math.hypot(u, check.expected_u_mm)
        if abs(off) > limit:
            out.append(
                Question(
                    state,
                    pair,
                    check.found_mm,
                    check.expected_mm,
                    check.expected_u_mm,
                    off,
                    slips(check.found_mm, check.expected_mm, math.hypot(u, check.expected_u_mm), step_mm),
                )
            )
    return tuple(sorted(out, key=lambda q: -abs(q.off_by_sds)))


def slips(found_mm: float, expected_mm: float, u_mm: float, step_mm: float = 0.05) -> tuple[Slip, ...]:
    """Return ways in which ``expected_mm`` may have become ``found_mm``: the likely ones, nearest first.

    Digits swapped, decimal point moved, whole centimetres, one digit mistyped; each only where it comes within three
    ``u_mm`` and one step of what was expected.
    """
    decimals = max(0, -math.floor(math.log10(step_mm) + 1e-9)) if step_mm > 0.0 else 2
    decimals = max(decimals, 2)
    text = f"{found_mm:.{decimals}f}"
    near = 3.0 * u_mm + step_mm
    tried: dict[str, list[float]] = {
        say("two digits swapped"): _swapped(text),
        say("decimal point moved"): [found_mm * 10.0, found_mm / 10.0, found_mm * 100.0, found_mm / 100.0],
        say("whole centimetres"): [found_mm + 10.0 * k for k in (-2, -1, 1, 2)],
        say("one digit mistyped"): _one_changed(text),
    }
    out: list[Slip] = []
    for how, values in tried.items():
        close = [
            v for v in values if abs(v - expected_mm) <= near and abs(v - found_mm) > 0.5 * 10.0**-decimals
        ]
        if close:
            nearest: float = min(close, key=lambda v: abs(v - expected_mm))
            out.append(Slip(how, round(nearest, decimals)))
    return tuple(out)


def _swapped(text: str) -> list[float]:
    places = [i for i, c in enumerate(text) if c.isdigit()]
    out = []
    for i, j in itertools.pairwise(places):
        letters = list(text)
        letters[i], letters[j] = letters[j], letters[i]
        out.append(float("".join(letters)))
    return out


def _one_changed(text: str) -> list[float]:
    out = []
    for i, c in enumerate(text):
        if c.isdigit():
            out += [float(text[:i] + d + text[i + 1 :]) for d in "0123456789" if d != c]
    return out


def _set_aside(table: Table, which: set[tuple[str, str]]) -> Table:
    return {
        state: {
            pair: (Reading(r.mean_mm, r.u_mm * _ASIDE, r.n) if (state, pair) in which else r)
            for pair, r in row.items()
        }
        for state, row in table.items()
    }
