"""Question 4, the causes: every cause with its chance, what speaks for and against it, what to do; and which one is named."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Cause
from mountproof.answers.proof_model import Model
from mountproof.answers.proof_scans import ScansWeighed
from mountproof.answers.proof_words import CAUSES, WORTH_TELLING, CauseWords
from mountproof.answers.result import Table
from mountproof.doubt.hypotheses import NOTHING, likeliest
from mountproof.doubt.weighing import Checks, Weighed, speaks
from mountproof.said import capital, figure, joined, say

#: A cause that is named as likely has at least this chance; between this and the next it may be.
_LIKELY: Final = 0.5
_MAYBE: Final = 0.25
#: Two faults at once are told from this chance on.
_BOTH: Final = 0.05
#: Hypotheses that the words for and against a cause go by.
_FEW: Final = 250
#: A check speaks for or against a cause where it alone changes its odds by more than a factor of 1.5.
TELLS: Final = 0.4
#: The cause that is no matter of the mounting.
SCANS: Final = "scans"


class Weighing(NamedTuple):
    """The model, the checks, and the hypotheses weighed with them."""

    model: Model
    checks: Checks
    weighed: Weighed


class CauseRow(NamedTuple):
    """One cause as it is told: its key, words, chance, and what speaks for and against it."""

    key: str
    cause: CauseWords
    chance: float
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


def ranked(weighed: Weighed) -> list[tuple[str, float]]:
    """Return causes of the mounting with their chances, likeliest first."""
    return sorted(weighed.chances().items(), key=lambda item: -item[1])


def cause_rows(found: Weighing | None, scans: ScansWeighed | None) -> list[CauseRow]:
    """Return every cause worth telling, likeliest first, scans that are not what is said of them among them.

    Scans and mounting are weighed apart, for no check reads both: a chance of the one is left alone by the other, but
    for ``nothing``, which wants both in order.
    """
    rows = [] if found is None else _of_mounting(found, _scans_fine(scans))
    if scans is not None:
        rows.append(CauseRow(SCANS, scans.cause, scans.chance, scans.speaks_for, scans.speaks_against))
    return sorted((r for r in rows if r.chance >= WORTH_TELLING), key=lambda r: -r.chance)


def _scans_fine(scans: ScansWeighed | None) -> float:
    return 1.0 if scans is None else 1.0 - scans.chance


def _of_mounting(found: Weighing, scans_fine: float) -> list[CauseRow]:
    few = likeliest(found.model.hypotheses, _FEW)
    single = speaks(found.model.network.honest_cov, few, found.checks)
    rank = ranked(found.weighed)
    best = next(key for key, _ in rank if key != NOTHING)
    rows = []
    for key, chance in rank:
        against = key == NOTHING
        weighed_by = [(words, f[best] if against else f[key]) for words, f in single]
        rows.append(
            CauseRow(
                key,
                CAUSES[key],
                chance * scans_fine if against else chance,
                _told(words for words, f in weighed_by if (f < -TELLS if against else f > TELLS)),
                _told(words for words, f in weighed_by if (f > TELLS if against else f < -TELLS)),
            )
        )
    return rows


def _told(words: Iterable[str]) -> tuple[str, ...]:
    """Return what is told of checks, each once: other cases of an instrument say the same."""
    return tuple(dict.fromkeys(words))


def causes_table(rows: list[CauseRow], ledger: Ledger) -> None:
    """Note the causes as a table and as a picture; nothing where there are none."""
    if not rows:
        return
    ledger.pictures += [
        Cause(r.key, r.cause.words, r.chance, r.speaks_for, r.cause.action, r.cause.minutes) for r in rows
    ]
    ledger.tables.append(
        Table(
            say("Causes, the likeliest first"),
            (
                say("cause"),
                say("chance"),
                say("for it"),
                say("against it"),
                say("what to do"),
                say("minutes"),
            ),
            tuple(
                (
                    capital(r.cause.words),
                    say("{percent:.0f} %", percent=100 * r.chance),
                    joined("; ", r.speaks_for) or "-",
                    joined("; ", r.speaks_against) or "-",
                    r.cause.action,
                    figure(r.cause.minutes, ".0f"),
                )
                for r in rows
            ),
            say(
                "Two causes may act at once, so chances may add up to more than 100 %. Chances before the checks and "
                "minutes are this program's own stated choices."
            ),
        )
    )


def tell_cause(found: Weighing, scans: ScansWeighed | None, ledger: Ledger) -> list[str]:
    """Say which cause of the mounting is the likeliest, if one is; note two that act at once."""
    for first, second, chance in found.weighed.pairs(_BOTH)[:1]:
        ledger.notes.append(
            say(
                "Both at once: {first}, and {second}: {percent:.0f} %. One may hide the other.",
                first=CAUSES[first].words,
                second=CAUSES[second].words,
                percent=100 * chance,
            )
        )
    key, chance = ranked(found.weighed)[0]
    scans_told = 1.0 - _scans_fine(scans) >= _MAYBE
    if key == NOTHING and not scans_told:
        chance *= _scans_fine(scans)  # as the table has it: both in order
    percent = say("{percent:.0f} %", percent=100 * chance)
    if key == NOTHING and scans_told:
        return [say("no check on the bench points at a fault of the mounting ({percent})", percent=percent)]
    if key == NOTHING:
        return [say("no check points at a fault (nothing wrong: {percent})", percent=percent)]
    if key.startswith("other_"):
        return [_other(found, percent)]
    if chance >= _LIKELY:
        return [say("most likely {cause} ({percent})", cause=CAUSES[key].words, percent=percent)]
    if chance >= _MAYBE:
        return [say("perhaps {cause} ({percent})", cause=CAUSES[key].words, percent=percent)]
    return [say("the checks point at no single cause")]


def _other(found: Weighing, percent: str) -> str:
    """Say which of the other records stands out, where the mounting itself need not be done again."""
    modes = found.weighed.prepared.hypotheses.modes
    by_record: dict[int, float] = {}
    for acting, weight in zip(found.weighed.prepared.hypotheses.acting, found.weighed.weights, strict=True):
        for i in acting:
            if modes[i].beside:
                k = int(modes[i].key.rpartition("/")[2])
                by_record[k] = by_record.get(k, 0.0) + float(weight)
    odd = found.model.network.records[max(by_record, key=lambda k: by_record[k])]
    return say("nothing to remount: it is {record} that stands out ({percent})", record=odd, percent=percent)
