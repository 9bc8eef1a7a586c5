"""The scans of a case as they travel."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.answers.scan_checks import Found, PlacedSo, Residual, placed_so
from mountproof.case.model import Case, ScanEntry
from mountproof.surfaces.web.checks import Look
from mountproof.surfaces.web.shapes.basics import finite
from mountproof.surfaces.web.tongue import System, words
from mountproof.surfaces.web.wire import FindingOut, ResidualOut, ScanOut


def scans_out(case: Case, looks: Sequence[Look], language: str, numbering: System) -> list[ScanOut]:
    """Return the scans of a case: how each is placed, and what the checks of its file found so far (``looks``)."""
    return [
        _scan(place, entry, so, look, language, numbering)
        for place, (entry, so, look) in enumerate(
            zip(case.scans, placed_so(case), looks, strict=True), start=1
        )
    ]


def _scan(
    place: int, entry: ScanEntry, so: PlacedSo, look: Look, language: str, numbering: System
) -> ScanOut:
    found = look.found
    return ScanOut(
        arch=entry.arch.value,
        place=place,
        file=entry.file,
        triangles=None if found is None else found.triangles,
        checked=found is not None,
        work=look.work,
        placed=words(so.how, language, numbering),
        findings=[
            _finding(one, language, numbering)
            for one in (*so.findings, *(() if found is None else found.findings))
        ],
        residuals=[_residual(one, language, numbering) for one in so.residuals],
    )


def _finding(one: Found, language: str, numbering: System) -> FindingOut:
    return FindingOut(
        code=one.code,
        words=words(one.what, language, numbering),
        weight=one.weight,
        todo=words(one.todo, language, numbering),
    )


def _residual(one: Residual, language: str, numbering: System) -> ResidualOut:
    return ResidualOut(
        name=one.name,
        shown=words(one.shown, language, numbering),
        value_mm=finite(one.miss_mm),
        asked=words(one.asked, language, numbering),
    )
