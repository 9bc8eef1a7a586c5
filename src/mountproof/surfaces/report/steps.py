"""Procedure and pours as entered, in few words for small print; and the gates that are not met, for the page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from mountproof.answers.result import Gate
from mountproof.case.model import Pour, Procedure, StepEntry
from mountproof.surfaces.report import figures


def gate_lines(gates: Iterable[Gate]) -> list[dict[str, str]]:
    """Return the gates that are not met, those with the same reason together."""
    by_why: dict[str, list[str]] = {}
    for gate in gates:
        by_why.setdefault(gate.why, []).append(gate.words)
    return [{"words": "; ".join(words), "why": why} for why, words in by_why.items()]


def procedure_text(procedure: Procedure) -> str:
    """Return everything that was entered of the procedure; ticks of one day by one hand share both."""
    found: dict[str, list[str]] = {}
    for name, entry in procedure.steps.items():
        found.setdefault(_head(entry), []).append(_step(name, entry))
    parts = [f"{head}: {', '.join(steps)}" if head else ", ".join(steps) for head, steps in found.items()]
    if procedure.order:
        parts.append(f"order: {', '.join(procedure.order)}")
    return "; ".join(parts)


def _head(entry: StepEntry) -> str:
    said = {True: "met", False: "not met", None: ""}[entry.met]
    day = "" if entry.at is None else f"{entry.at:%Y-%m-%d} {_offset(entry.at)}"
    by = f"by {entry.by}" if entry.by else ""
    return " ".join(part for part in (said, day, by) if part)


def _step(name: str, entry: StepEntry) -> str:
    more = [
        f"“{entry.words}”" if entry.words else "",
        entry.stage.value if entry.stage is not None else "",
        {True: "a gate", False: "no gate", None: ""}[entry.gate],
        "left out" if entry.left_out else "",
        entry.note,
    ]
    tail = ", ".join(part for part in more if part)
    clock = "" if entry.at is None else f" {_clock(entry.at)}"
    return f"{name.replace('_', ' ')}{clock}" + (f" ({tail})" if tail else "")


def pours_text(pours: Mapping[str, Pour]) -> str:
    """Return everything that was entered of the pours."""
    return "; ".join(f"{name}: {_pour(pour)}" for name, pour in pours.items())


def _pour(pour: Pour) -> str:
    begun = pour.powder_met_water
    parts = [
        f"{pour.cast.value} cast, pour {pour.number}, powder met water {begun:%Y-%m-%d} {_offset(begun)} {_clock(begun)}"
    ]
    for words, at in (("hands off", pour.hands_off), ("released", pour.released)):
        if at is not None:
            same = at.date() == begun.date() and at.utcoffset() == begun.utcoffset()
            parts.append(f"{words} {'' if same else f'{at:%Y-%m-%d} {_offset(at)} '}{_clock(at)}")
    for words, value, unit in (
        ("mix", pour.mix_s, "s"),
        ("work", pour.work_min, "min"),
        ("set", pour.set_min, "min"),
        ("release", pour.release_min, "min"),
    ):
        if value is not None:
            parts.append(f"{words} {figures.plain(value)} {unit}")
    parts += [part for part in (f"by {pour.by}" if pour.by else "", pour.note) if part]
    return ", ".join(parts)


def _offset(at: dt.datetime) -> str:
    return at.strftime("%z")


def _clock(at: dt.datetime) -> str:
    return at.strftime("%H:%M:%S" if at.second else "%H:%M")
