"""Question 7: what it would take to bring CR and MIP together."""

from __future__ import annotations

from mountproof.answers._not_yet import not_yet
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Need
from mountproof.case.model import Arch, Case, RecordKind
from mountproof.said import say


def answer(case: Case, progress: Progress) -> Answer:
    """Say which scans and relations are there and which are missing."""
    needs = [
        Need(
            say("a scan of the {arch} cast", arch=arch),
            say("depths and gaps are read tooth by tooth"),
            "scans",
        )
        for arch in Arch
        if not any(scan.arch is arch for scan in case.scans)
    ]
    if not any(r.kind is RecordKind.MIP and r.upper_from_lower for r in case.records.values()):
        needs.append(
            Need(say("the scanned relation in MIP"), say("the change leads from CR to MIP"), "records")
        )
    return not_yet(
        "change", say("It takes scans of both casts and both relations, CR and MIP."), tuple(needs)
    )
