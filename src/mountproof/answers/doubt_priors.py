"""How a step of a case is told, and where its scatter comes from: the practice's own number, else a usual band."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.case.model import Case
from mountproof.doubt.chain import ChainStep
from mountproof.doubt.steps import Step
from mountproof.said import say


class StepTold(NamedTuple):
    """A step in words: ``numbers`` (label, SD, unit), ``source``, whether it is assumed, and the entry to type."""

    key: str
    words: str
    numbers: tuple[tuple[str, float, str], ...]
    source: str
    assumed: bool
    field: str


class Made(NamedTuple):
    """The columns that one kind of step has in the chain, and how it is told."""

    steps: tuple[ChainStep, ...]
    told: StepTold


class Known(NamedTuple):
    """How much a step scatters (1 SD, mm), its source, and whether nobody entered it."""

    sd: float
    source: str
    assumed: bool


def mounted(case: Case) -> bool:
    """Tell whether casts stand, or are to stand, on an instrument: scans alone need none."""
    return case.instrument is not None or case.marks is not None or bool(case.pours)


def source_of(case: Case, entry: str) -> str:
    """Return where an own number comes from, as its user said it."""
    told = case.doubt.source.get(entry, "").strip()
    return say("own number: {source}", source=told) if told else say("own number, no source given")


def own_or(case: Case, ledger: Ledger, entry: str, what: str, sd_mm: float, source: str) -> Known:
    """Return the case's own number for an entry of ``doubt`` (mm), else the usual one, noted as assumed."""
    given = getattr(case.doubt, entry)
    if given is not None:
        return Known(float(given), source_of(case, entry), False)
    ledger.assume(say("{what} (1 SD)", what=what), sd_mm, "mm", source, f"doubt.{entry}")
    return Known(sd_mm, source, True)


def number(key: str, sd_mm: float) -> Step:
    """Return a step of a single number that moves no cast."""
    return Step(key, np.ones((1, 1)), np.array([[sd_mm**2]]))
