"""What an answer is: the one shape that every surface renders."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from mountproof.faults import Fault

#: Two-sided 95 % coverage of a normal distribution (JCGM 100:2008, table G.1).
K95 = 1.959963984540054
#: A 95 % interval is so many standard uncertainties wide.
WIDTH_95 = 2.0 * K95


class Verdict(StrEnum):
    """The four words a verdict may use. ``cannot tell`` is a full answer, never an error."""

    AGREES = "agrees"
    DOUBTFUL = "doubtful"
    DISAGREES = "does not agree"
    CANNOT_TELL = "cannot tell"


class Why(StrEnum):
    """Why a verdict came out as it did. One code, one meaning, on every surface."""

    INSIDE = "inside"
    BETWEEN = "between"
    OUTSIDE = "outside"
    GUARD_BAND = "guard-band"
    MISSING = "missing-reading"
    NOT_CARRIED = "not-carried"
    QUESTIONED = "questioned-reading"
    UNKNOWN_SURFACE = "unknown-surface"
    NOT_SETTLED = "not-settled"
    NOT_BUILT = "not-answered-yet"
    FAULTY = "faulty-input"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, its standard uncertainty ``u`` and its 95 % interval.

    ``u`` is None only for exact counts. ``assumed`` is true where the number itself, or what carries most
    of it, was not measured. ``decimals`` is how many decimals are worth showing.
    """

    key: str
    label: str
    value: float
    unit: str
    u: float | None = None
    low: float | None = None
    high: float | None = None
    decimals: int = 2
    assumed: bool = False
    note: str = ""

    @staticmethod
    def of(
        key: str,
        label: str,
        value: float,
        unit: str,
        u: float | None,
        *,
        decimals: int = 2,
        assumed: bool = False,
        note: str = "",
        coverage: float = K95,
    ) -> Quantity:
        """Make a quantity whose 95 % interval is ``value +- coverage * u``."""
        low = high = None
        if u is not None and math.isfinite(u):
            low, high = value - coverage * u, value + coverage * u
        return Quantity(key, label, value, unit, u, low, high, decimals, assumed, note)


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a verdict, with the numbers it was judged on.

    ``field`` is the entry it is about, where it is about one; ``suggestion`` what that may have been meant to be, as it
    would be typed.
    """

    why: Why
    text: str
    value: float | None = None
    u: float | None = None
    limit: float | None = None
    unit: str = ""
    field: str = ""
    suggestion: str = ""


@dataclass(frozen=True, slots=True)
class Need:
    """The next measurement that would settle an answer, or shrink its uncertainty most."""

    reading: str
    why: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that nobody measured. Always shown as assumed, with where it comes from."""

    what: str
    value: str
    source: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A small table. ``columns`` carry their units; cells are text, numbers already rounded for reading."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One question answered. Surfaces show it; they add nothing and compute nothing."""

    key: str
    question: str
    headline: str
    verdict: Verdict
    reasons: tuple[Reason, ...] = ()
    quantities: tuple[Quantity, ...] = ()
    needs: tuple[Need, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    digest: str = ""
    #: Arrays behind the pictures and the exports (never rendered as text, never part of the JSON).
    evidence: Any = field(default=None, repr=False, compare=False)

    def __getitem__(self, key: str) -> Quantity:
        """Return the quantity called ``key``; KeyError lists what there is."""
        for quantity in self.quantities:
            if quantity.key == key:
                return quantity
        raise KeyError(f"{key!r}; this answer has {', '.join(q.key for q in self.quantities) or 'none'}")


@dataclass(frozen=True, slots=True)
class Gate:
    """A gate of the procedure that is not met: the step's words, why it stays open, and its entry in the case."""

    key: str
    words: str
    why: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The answers to the eight questions of one case, in order.

    ``questions``: readings that want a second look; ``echoes``: how entries that can be read two ways were read;
    ``faults``: what kept a question from being answered at all (a scan that cannot be read); ``gates``: steps of the
    procedure that were not met, passed over, left out, or ticked against what the case says.
    """

    code: str
    answers: Mapping[str, Answer]
    questions: tuple[str, ...] = ()
    echoes: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    gates: tuple[Gate, ...] = ()

    def __getitem__(self, key: str) -> Answer:
        """Return the answer to one question; KeyError lists the questions."""
        if key not in self.answers:
            raise KeyError(f"{key!r}; the questions are {', '.join(self.answers)}")
        return self.answers[key]


#: The order in which verdicts weigh when several are summed up: the first that occurs decides.
_WEIGHT = (Verdict.DISAGREES, Verdict.DOUBTFUL, Verdict.CANNOT_TELL, Verdict.AGREES)


def worst(verdicts: tuple[Verdict, ...]) -> Verdict:
    """Return the verdict that decides when several are joined; ``cannot tell`` when there is none."""
    for verdict in _WEIGHT:
        if verdict in verdicts:
            return verdict
    return Verdict.CANNOT_TELL
