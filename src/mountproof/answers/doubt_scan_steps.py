"""The steps that only scans have: their own errors where the arches meet, and how a scanned record holds them together."""

from __future__ import annotations

from typing import Final, NamedTuple

from mountproof.answers.doubt_priors import Made, StepTold, own_or, source_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.scanned_records import (
    MATRIX_LEVER_MM,
    MATRIX_SD_MM,
    ScannedRelation,
    placed_arches,
    scanned_relations,
)
from mountproof.case.model import Arch, Case, RecordKind
from mountproof.doubt.chain import ChainStep
from mountproof.doubt.faults import MOLAR_MM
from mountproof.doubt.step_kinds import hinge_of_placement, motion_step, sd_at
from mountproof.doubt.steps import free_step
from mountproof.faults import FaultError
from mountproof.geometry.poses import Array
from mountproof.said import say

#: Middle of 20 to 42 um.
_SCAN_MM: Final = 0.03


def scan_steps(case: Case, ledger: Ledger, names: tuple[str, ...]) -> list[Made]:
    """Return the steps of scans; none where there are no scans, no registration where no record was scanned.

    ``names``: the records of the case, the one that counts first.
    """
    if not case.scans:
        return []
    known = own_or(
        case,
        ledger,
        "scan_mm",
        say("what the errors of two scans make where they meet"),
        _SCAN_MM,
        say("20 to 42 um in good conditions, J Oral Sci 2024;66:111-115"),
    )
    told = StepTold(
        "scans",
        say("the scans themselves"),
        ((say("at the last teeth"), known.sd, "mm"),),
        known.source,
        known.assumed,
        "doubt.scan_mm",
    )
    scans = Made((ChainStep("scans", "cast", free_step("scans", known.sd)),), told)
    laid = _registration(case, ledger, names)
    return [scans] if laid is None else [scans, laid]


def _registration(case: Case, ledger: Ledger, names: tuple[str, ...]) -> Made | None:
    """Return how well a record's scan, or its numbers, hold the arches together; None where no record has either."""
    records = [r for r in case.records.values() if r.kind is RecordKind.CR]
    if not any(r.scan is not None or r.upper_from_lower is not None for r in records):
        return None
    key, words = "registration", say("how a scanned record holds the scans together")
    own = case.doubt.registration_mm
    if own is not None:
        told = StepTold(
            key,
            words,
            ((say("at the last teeth"), own, "mm"),),
            source_of(case, "registration_mm"),
            False,
            "doubt.registration_mm",
        )
        return Made((ChainStep(key, "cast", free_step(key, own)),), told)
    found = _relation(case, names)
    if found is None:
        return None
    step = motion_step(key, found.cov6)
    down, ahead, right = (float(s) for s in sd_at(step, MOLAR_MM))
    source = say("what is left between the surfaces of the scans in this case")
    if found.source == "matrix":
        source = say("numbers of a scanner, no doubt given with them; common practice, no source")
        ledger.assume(
            say(
                "doubt of a relation that came as numbers (1 SD, and as a turn at {mm:g} mm)",
                mm=MATRIX_LEVER_MM,
            ),
            MATRIX_SD_MM,
            "mm",
            source,
            "doubt.registration_mm",
        )
    numbers = (
        (say("height at a second molar"), down, "mm"),
        (say("fore-aft at a second molar"), ahead, "mm"),
        (say("to the side at a second molar"), right, "mm"),
    )
    told = StepTold(key, words, numbers, source, found.source == "matrix", "doubt.registration_mm")
    return Made((ChainStep(key, "cast", step),), told)


def _relation(case: Case, names: tuple[str, ...]) -> ScannedRelation | None:
    """Return the relation of the record that counts, else of the first that was scanned; None where none can be used."""
    try:
        found = scanned_relations(case, Ledger("doubt"))
    except FaultError:  # the question about contacts says what to do
        return None
    return next((f for f in found if f.record == names[0]), found[0] if found else None)


class HingeOfScans(NamedTuple):
    """How well the hinge is known in scans that were placed: ``cov`` (4, 4) of ``hinge_covariance``, how, and if assumed."""

    cov: Array
    how: str
    assumed: bool


def hinge_of_scans(case: Case, half_mm: float) -> HingeOfScans | None:
    """Return how well both hinge points are known in the scans, from their placement; None where it does not say."""
    if not case.scans:
        return None
    try:
        placed = placed_arches(case, Ledger("doubt"))
    except FaultError:  # the question about contacts says what to do
        return None
    upper = None if placed is None else placed[Arch.UPPER]
    if upper is None or upper.cov6 is None:
        return None
    return HingeOfScans(hinge_of_placement(upper.cov6, half_mm), upper.how, upper.assumed)
