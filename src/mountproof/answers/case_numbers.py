"""The numbers of one case that many cases are watched by: small, from the parts of its answers that the bench alone gives.

The same functions that answer questions 2 to 4 make them, so a number here is the number on the sheet of that case. No
surface is looked at: records that were scanned enter by their relation where it is written as numbers.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.asked import asked
from mountproof.answers.foils import compare_foils, first_foil, iso
from mountproof.answers.followup_counts import followup_values
from mountproof.answers.ledger import Ledger
from mountproof.answers.mounting import by_marks
from mountproof.answers.progress import Progress
from mountproof.answers.record_all import gathered_records
from mountproof.answers.record_visits import visits_of
from mountproof.answers.result import WIDTH_95, worst
from mountproof.case.model import Case, Relation, Where
from mountproof.geometry.quantile import binomial_interval
from mountproof.records.spread_within import Squares, squares_of

#: Quantities of the mounting that are watched over many cases, by their keys there.
_OF_MOUNTING = ("found_minus_predicted", "lift", "set_pitch", "set_roll", "found", "predicted")


class CaseNumbers(NamedTuple):
    """One case among many. Texts are as entered, empty where nobody said; ``date`` as 2026-03-02.

    ``material`` is the stone's, ``record_material`` that of the record it was mounted on. ``values``: key, value, standard
    uncertainty (None for counts and SDs), keys as those of the answers' quantities; a number that was not measured is not
    there. ``verdicts``: of questions 2 and 3 (``stone``, ``record``) and of the mounting's checks by marks, pin and foils
    together (``checks``), where one was made; ``mounting`` only where it was asked for. ``held_mouth`` and ``held_mounting``:
    teeth (ISO 3950) that held the thinnest foil in CR.
    """

    code: str
    date: str | None
    lab: str
    by: str
    instrument: str
    material: str
    record_material: str
    course: str
    values: tuple[tuple[str, float, float | None], ...]
    verdicts: tuple[tuple[str, str], ...]
    held_mouth: tuple[int, ...] = ()
    held_mounting: tuple[int, ...] = ()

    def value(self, key: str) -> float | None:
        """Return the value called ``key``; None where this case has none."""
        return next((v for k, v, _ in self.values if k == key), None)

    def verdict(self, key: str) -> str | None:
        """Return the verdict on ``key``; None where this case has none."""
        return next((v for k, v in self.verdicts if k == key), None)


def case_numbers(case: Case, progress: Progress, *, whole: bool = False) -> CaseNumbers:
    """Return the numbers of a case that many cases are watched by.

    ``whole`` asks question 4 in full for its verdict as well, which weighs every cause and takes a hundred times as long.
    FaultError as the questions raise it; Cancelled where ``progress`` raises it.
    """
    case = without_surfaces(case)
    ledger = Ledger("mounting")
    by_marks(case, ledger, tell_slide=False)
    values: list[tuple[str, float, float | None]] = [
        (q.key, q.value, q.u) for q in ledger.quantities if q.key in _OF_MOUNTING
    ]
    values += _foils(case, ledger)
    values += _records(case, progress)
    stone = asked(case, "stone", progress)
    values += [(q.key, q.value, q.u) for q in stone.quantities if q.key == "deviation"]
    record = asked(case, "record", progress)
    values += [(q.key, q.value, q.u) for q in record.quantities if q.key == "reseat_sd"]
    if case.proof.attempts:
        values.append(("attempts", float(len(case.proof.attempts)), None))
    values += followup_values(case)
    verdicts = [("stone", stone.verdict.value), ("record", record.verdict.value)]
    if ledger.verdicts:
        verdicts.append(("checks", worst(tuple(ledger.verdicts)).value))
    if whole:
        verdicts.append(("mounting", asked(case, "mounting", progress).verdict.value))
    mounted = case.records.get(case.mounted_on) if case.mounted_on else None
    return CaseNumbers(
        case.code,
        case.date.isoformat() if case.date else None,
        case.lab,
        case.by,
        case.instrument.name if case.instrument else "",
        case.bench.sheet.material if case.bench else "",
        mounted.material if mounted else "",
        case.course,
        tuple(values),
        tuple(verdicts),
        _held(case, Where.MOUTH),
        _held(case, Where.MOUNTING),
    )


def without_surfaces(case: Case) -> Case:
    """Return the case without scans, so that nothing below opens a file; relations written as numbers stay."""
    casts = case.casts.model_copy(update={"other_scans": ()})
    records = {name: one.model_copy(update={"scan": None}) for name, one in case.records.items()}
    return case.model_copy(update={"scans": (), "casts": casts, "records": records})


def _foils(case: Case, ledger: Ledger) -> list[tuple[str, float, float | None]]:
    """Return the share of posterior teeth that hold the foil on the mounting as in the mouth (%), as question 4 has it."""
    page = Ledger("mounting")
    compare_foils(case, page)
    ledger.verdicts += page.verdicts
    if not page.reasons or page.reasons[0].value is None or not page.tables:
        return []
    # The row of a tooth that was read in both has a word in both columns.
    both = sum(1 for row in page.tables[0].rows if "-" not in (row[2], row[3]))
    agree = 100.0 - page.reasons[0].value
    low, high = binomial_interval(round(agree * both / 100.0), both)
    return [("foil_agreement", agree, 100.0 * (high - low) / WIDTH_95)]


def _records(case: Case, progress: Progress) -> list[tuple[str, float, float | None]]:
    """Return how far records of CR of one visit scatter at a condyle, and what visits add, with the sums to pool them by."""
    found = gathered_records(case, progress)
    if found is None:
        return []
    squares = squares_of(
        found.features.values, found.features.covs, found.features.repeat, visits_of(case, found)
    )
    return _of_squares(squares)


def _of_squares(squares: Squares) -> list[tuple[str, float, float | None]]:
    values: list[tuple[str, float, float | None]] = []
    if squares.dof_within:
        variance = squares.within / squares.dof_within
        values += [
            ("record_spread", float(np.sqrt(max(0.0, variance))), None),
            ("record_variance", variance, None),
            ("record_dof", float(squares.dof_within), None),
        ]
    if squares.dof_between:
        values += [
            ("visit_mean_square", squares.between / squares.dof_between, None),
            ("visit_dof", float(squares.dof_between), None),
            ("visit_size", squares.size, None),
        ]
    return values


def _held(case: Case, where: Where) -> tuple[int, ...]:
    first = first_foil(case, where, Relation.CR)
    return tuple(sorted(iso(case, t) for t in first.held)) if first else ()
