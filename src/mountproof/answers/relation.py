"""How the two scans stand to each other with a record in, and the coordinates that this was written in."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed
from mountproof.answers.result import Assumption, Verdict, Why
from mountproof.case.model import Case, RelationIn
from mountproof.geometry.poses import Array, inverse
from mountproof.said import say

_QUESTION = say("whether the scanned relation is written in the frame or in the scans' own coordinates")


class Relation(NamedTuple):
    """A scanned relation: ``matrix`` (4, 4) rigid, mm; ``in_scans`` true where it moves points as they were scanned."""

    matrix: Array
    in_scans: bool


def told(
    case: Case, ledger: Ledger, matrix: Array, written_in: RelationIn | None, entry: str
) -> Relation | None:
    """Return the relation ``matrix`` (4, 4) with its coordinates; None, with the question noted, where they must be asked for.

    A scanner writes a relation in its own coordinates. Where the scans were put into the frame by landmarks, lengths or
    averages the two readings of one matrix differ, and nothing in the numbers tells them apart.
    """
    if written_in is not None:
        return Relation(matrix, written_in is RelationIn.SCANS)
    ways = [entry.placement for entry in case.scans]
    together = any(way.with_other_arch for way in ways)
    if together and np.allclose(matrix, np.eye(4), atol=1e-9):
        return Relation(matrix, False)  # both readings say that the scans lie as the record holds them
    if all(way.with_other_arch or way.frame_from_scan is not None for way in ways):
        ledger.assumptions.append(
            Assumption(
                say("coordinates of the scanned relation"),
                say("the frame, as the matrices that place the scans"),
                say("not said in the case"),
                entry,
            )
        )
        return Relation(matrix, False)
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.MISSING,
        say("the scanned relation can be read in two ways, tooth by tooth different"),
    )
    ledger.need(
        _QUESTION,
        say("a matrix read in other coordinates moves every tooth, and nothing would show it"),
        entry,
    )
    return None


def pose_in_frame(relation: Relation, upper: Placed, lower: Placed) -> Array:
    """Return the pose (4, 4) that takes the lower, as placed in the frame, to where the record holds it.

    With ``U`` and ``L`` the placements and ``M`` the relation in scan coordinates, a point ``p`` of the lower scan stands
    at ``U M p``, so the pose is ``U M L^-1``: the placement of the lower cancels.
    """
    if not relation.in_scans:
        return relation.matrix
    return upper.frame_from_scan @ relation.matrix @ inverse(lower.frame_from_scan)


def hold_together(relation: Relation, upper: Placed, lower: Placed) -> bool:
    """Tell whether a doubt in the placement moves both casts together, their relation kept."""
    return relation.in_scans or lower.frame_from_scan is upper.frame_from_scan
