"""What the command ``paper`` does: answer what the paper is made from, and write it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from mountproof.answers.message import message
from mountproof.answers.papers import PAPERS
from mountproof.answers.result import Sheet, Verdict
from mountproof.answers.sheet import answer as answer_case
from mountproof.case.model import Case
from mountproof.faults import Fault, FaultError
from mountproof.said import render, say
from mountproof.surfaces.cli.progress import on_stderr
from mountproof.surfaces.cli.work import file_name, load, print_json
from mountproof.surfaces.wording import EXIT_STATUS
from mountproof.version import VERSION

#: Every paper by name, with the questions that it asks (None: all).
_ASKS: Final[dict[str, tuple[str, ...] | None]] = {
    **{name: made.asks for name, made in PAPERS.items()},
    "message": ("record", "mounting"),
}


def paper(name: str, store: Path | None, which: str, out: Path | None, as_json: bool, language: str) -> int:
    """Write one paper; return the exit status: that of ``cannot tell`` for a prescription with blank fields, else 0."""
    from mountproof.surfaces.report import check_writable, write_report

    if which not in _ASKS:
        what = say("{name!r} is no paper", name=which)
        raise FaultError(
            [Fault("paper.unknown", what, say("Ask for one of: {papers}", papers=", ".join(_ASKS)))]
        )
    case, listed = load(name, store)
    folder = (case.folder or Path()) if listed is None else Path()
    target = out if out is not None else folder / f"{file_name(case.code)}-{which}.pdf"
    check_writable(target)
    asks = _ASKS[which]
    with on_stderr(language) as progress:
        sheet = answer_case(case, None if asks is None else list(asks), progress=progress)
        data, blank = _made(which, case, sheet, language)
        write_report(target, data)
    if as_json:
        print_json({"paper": str(target), "ready": not blank, "blank": list(blank)})
    else:
        lines = [
            say("The paper is in {file}", file=str(target)),
            *(say("Left blank: {field}", field=b) for b in blank),
        ]
        sys.stdout.write("".join(render(line, language) + "\n" for line in lines))
    return EXIT_STATUS[Verdict.CANNOT_TELL] if blank else 0


def _made(which: str, case: Case, sheet: Sheet, language: str) -> tuple[bytes, tuple[str, ...]]:
    """Return the bytes of a paper, and the blank fields that keep it from being sent."""
    from mountproof.surfaces.report import message_paper, paper_pdf

    made = message_paper(message(case, sheet)) if which == "message" else PAPERS[which].make(case, sheet)
    blank = tuple(line.words for line in made.missing) if which == "prescription" else ()
    return paper_pdf(made, case, version=VERSION, language=language), blank
