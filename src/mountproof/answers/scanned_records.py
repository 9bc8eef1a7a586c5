"""How each record holds the lower against the upper, from its own scan or from the numbers of a scanner."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed, placements
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.relation import pose_in_frame, told
from mountproof.answers.result import Assumption
from mountproof.answers.scan_units import unit_mm
from mountproof.case.model import Arch, Case, Record, RecordKind
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import Array, moved_cov, translation, why_not_rigid
from mountproof.said import say

#: What a relation is taken to be known to where only its numbers are there: shifts and, at a tooth's lever, turns.
MATRIX_SD_MM, MATRIX_LEVER_MM = 0.05, 25.0
#: The middle of the teeth in the frame of the upper jaw, about which that is meant.
_MIDDLE_MM = (70.0, -40.0, 0.0)


class ScannedRelation(NamedTuple):
    """One record: ``upper_from_lower`` (4, 4), frame of the upper jaw, moves the lower as placed.

    ``cov6`` (6, 6), rotation first, of a small motion in front of that pose, about the frame's origin. ``source``: from
    a scan of the record, or from a matrix that somebody entered (its doubt is then assumed).
    """

    record: str
    upper_from_lower: Array
    cov6: Array
    source: Literal["matrix", "scan"]


def scanned_relations(
    case: Case, ledger: Ledger, progress: Progress = quiet, kind: RecordKind = RecordKind.CR
) -> tuple[ScannedRelation, ...]:
    """Return the relation of every record of one kind that was scanned, in the order of the case.

    A scan of the record goes before numbers that were entered for it. What is assumed, and what is still needed, goes to
    the ledger, once however many ask. Raises FaultError for numbers that are no rigid motion.
    """
    own = Ledger(ledger.key)
    out = []
    for name, record in case.records.items():
        if record.kind is kind:
            found = _scanned(case, own, name, record, progress) or _entered(case, own, name, record)
            if found is not None:
                out.append(found)
    _merge(own, ledger)
    return tuple(out)


def _scanned(
    case: Case, ledger: Ledger, name: str, record: Record, progress: Progress
) -> ScannedRelation | None:
    """Return the relation that the scan of a record shows, or None."""
    if record.scan is None or case.folder is None:
        return None
    placed = placed_arches(case, ledger)
    if placed is None:
        return None
    # Surfaces need compiled kernels, which are slow to import: a case without such scans must not wait for them.
    from mountproof.answers.laid_records import lay_record

    laid = lay_record(case, ledger, name, record, placed, progress)
    return None if laid is None else ScannedRelation(name, laid.on.upper_from_lower, laid.on.cov6, "scan")


def _entered(case: Case, ledger: Ledger, name: str, record: Record) -> ScannedRelation | None:
    """Return the relation that was entered as numbers, or None."""
    if record.upper_from_lower is None:
        return None
    pose = np.array(record.upper_from_lower)
    refuse_not_rigid(pose, name)
    relation = told(case, ledger, pose, record.relation_in, f"records.{name}.relation_in")
    if relation is None:
        return None
    if relation.in_scans:
        placed = placed_arches(case, ledger)
        if placed is None:
            return None
        pose = pose_in_frame(relation, placed[Arch.UPPER], placed[Arch.LOWER])
    ledger.assumptions.append(
        Assumption(
            say(
                "doubt of a relation that came as numbers (1 SD, and as a turn at {mm:g} mm)",
                mm=MATRIX_LEVER_MM,
            ),
            say("{mm:g} mm", mm=MATRIX_SD_MM),
            say("common practice, no source"),
            f"records.{name}.upper_from_lower",
        )
    )
    return ScannedRelation(name, pose, assumed_cov6(), "matrix")


def assumed_cov6() -> Array:
    """Return (6, 6) the assumed doubt of numbers from a scanner, about the frame's origin."""
    turn = MATRIX_SD_MM / MATRIX_LEVER_MM
    local = np.diag(np.square([turn] * 3 + [MATRIX_SD_MM] * 3))
    return moved_cov(local, translation(_MIDDLE_MM))


def refuse_not_rigid(pose: Array, name: str) -> None:
    """Raise FaultError where the relation (4, 4) entered for a record is no rigid motion."""
    reasons = why_not_rigid(pose)
    if reasons:
        raise FaultError(
            [
                Fault(
                    f"scan.transform_{reason.code}",
                    say("the relation of {name} is no rigid motion: {why}", name=name, why=reason.text),
                    say("Export it again as a rotation and a shift; a mirrored or scaled one moves teeth"),
                    where="case.toml",
                    field=f"records.{name}.upper_from_lower",
                )
                for reason in reasons
            ]
        )


def placed_arches(case: Case, ledger: Ledger) -> dict[Arch, Placed] | None:
    """Return where both casts stand; None, with what is needed, where one is not scanned or not placed yet."""
    entries = {e.arch: e for e in case.scans}
    for arch in Arch:
        if arch not in entries:
            ledger.need(
                say("a scan of the {arch} cast", arch=arch),
                say("scanned records lie on the surfaces of both"),
                "scans",
            )
            return None
    try:
        return placements(case, ledger, {arch: unit_mm(e) for arch, e in entries.items()})
    except FaultError as error:
        if any(f.code != "placement.missing" for f in error.faults):
            raise
        for fault in error.faults:
            ledger.need(fault.todo, fault.what, "scans.placement")
        return None


def _merge(own: Ledger, into: Ledger) -> None:
    """Put on a ledger what is not there yet."""
    into.assumptions += [a for a in own.assumptions if a not in into.assumptions]
    into.notes += [n for n in own.notes if n not in into.notes]
    for need in own.needs:
        if need not in into.needs:
            into.needs.append(need)
    for verdict, reason in zip(own.verdicts, own.reasons, strict=True):
        if reason not in into.reasons:
            into.verdicts.append(verdict)
            into.reasons.append(reason)
