"""The papers of a case by name, and which questions each is made from."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from mountproof.answers.paper import Paper
from mountproof.answers.paper_before_cutting import before_cutting
from mountproof.answers.paper_patient import patient_page
from mountproof.answers.paper_prescription import prescription
from mountproof.answers.result import Sheet
from mountproof.case.model import Case


class Made(NamedTuple):
    """How a paper is made, and the questions that are to be answered first (None: all)."""

    make: Callable[[Case, Sheet], Paper]
    asks: tuple[str, ...] | None


PAPERS: Final[dict[str, Made]] = {
    "prescription": Made(prescription, ("pin", "guidance")),
    "patient": Made(patient_page, ("record", "mounting", "contacts")),
    "before-cutting": Made(before_cutting, None),
}
