"""What the commands do: load, answer, hand over. Imported late, so that help is quick."""

from __future__ import annotations

import json
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from mountproof.answers.progress import within
from mountproof.answers.result import Sheet, worst
from mountproof.answers.sheet import answer as answer_case
from mountproof.answers.words import BY_KEY
from mountproof.case.files import load_case
from mountproof.case.model import Case
from mountproof.faults import Fault, FaultError
from mountproof.said import joined, render, say
from mountproof.said.catalogue import ENGLISH
from mountproof.surfaces.cli.progress import on_stderr
from mountproof.surfaces.wording import EXIT_STATUS, FAULTY_INPUT
from mountproof.version import VERSION

if TYPE_CHECKING:  # the database is a fifth of a second of import: only where a case of the store is meant
    from mountproof.case.store.records import Listed


def _asked(questions: list[str] | None) -> list[str] | None:
    unknown = [q for q in questions or [] if q not in BY_KEY]
    if unknown:
        raise FaultError(
            [
                Fault(
                    "question.unknown",
                    say("{name!r} is no question", name=q),
                    say("Ask for one of: {questions}", questions=", ".join(BY_KEY)),
                )
                for q in unknown
            ]
        )
    return questions or None


def print_json(value: object) -> None:
    """Print a value for another program."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def _status(sheet: Sheet) -> int:
    """Exit status: a faulty input, else the verdict that decides among the questions this version answers."""
    if sheet.faults:
        return FAULTY_INPUT
    verdicts = tuple(
        a.verdict for a in sheet.answers.values() if all(r.why != "not-answered-yet" for r in a.reasons)
    )
    return EXIT_STATUS[worst(verdicts)]


def new(folder: Path, as_json: bool) -> None:
    """Make the folder of a new case and say how to go on."""
    from mountproof.case.template import write_template

    made = write_template(folder)
    if as_json:
        print_json({"case": str(made)})
        return
    sys.stdout.write(
        f"Made {made}\n"
        "Open it in a text editor and fill in what you have measured; what you have not, leave out. Then:\n"
        f"  mountproof answer {shlex.quote(str(folder))}\n"
    )


def load(name: str, store: Path | None) -> tuple[Case, Listed | None]:
    """Return the case that a command means; without the database where a case folder is meant."""
    if store is None and Path(name).exists():
        return load_case(name), None
    from mountproof.case.store.find import meant

    return meant(name, store)


def answer(
    name: str, store: Path | None, questions: list[str] | None, as_json: bool, language: str = ENGLISH
) -> int:
    """Print the answers of a case; return the exit status."""
    keys = _asked(questions)
    case, listed = load(name, store)
    with on_stderr(language) as progress:
        sheet = answer_case(case, keys, progress=progress)
    if as_json:
        from mountproof.surfaces.export.as_json import sheet_as_dict

        print_json(sheet_as_dict(sheet))
    else:
        from mountproof.surfaces.cli.screen import show_faults, show_sheet

        show_sheet(sheet, full=keys is not None, where=where_of(listed), language=language)
        show_faults(sheet.faults, as_json=False, language=language)
    return _status(sheet)


def _report(case: Case, sheet: Sheet, target: Path, language: str = ENGLISH) -> Path:
    from mountproof.surfaces.report import render_pdf, write_report

    write_report(target, render_pdf(sheet, case, version=VERSION, language=language))
    return target


def where_of(listed: Listed | None) -> str:
    """Say where a case of the store stands; nothing for a case folder."""
    if listed is None:
        return ""
    return say(
        "case {id}, revision {number} by {who}", id=listed.case_id, number=listed.number, who=listed.who
    )


def report(name: str, store: Path | None, out: Path | None, as_json: bool, language: str = ENGLISH) -> int:
    """Write the one-page sheet; return the exit status."""
    from mountproof.surfaces.report import check_writable

    case, listed = load(name, store)
    folder = (case.folder or Path()) if listed is None else Path()
    target = out if out is not None else folder / f"{file_name(case.code)}.pdf"
    check_writable(target)
    with on_stderr(language) as progress:
        sheet = answer_case(case, progress=progress)
        _report(case, sheet, target, language)
    if as_json:
        print_json({"report": str(target), "status": _status(sheet)})
    else:
        sys.stdout.write(render(say("The sheet is in {file}", file=str(target)), language) + "\n")
    return _status(sheet)


def message(name: str, store: Path | None, to: str, as_json: bool, language: str = ENGLISH) -> int:
    """Print the message to lab or dentist; return the exit status 0."""
    from mountproof.answers.message import message as make

    if to not in ("lab", "dentist"):
        raise FaultError(
            [
                Fault(
                    "message.whom",
                    say("{to!r} is nobody a message can go to", to=to),
                    say("Say --to lab or --to dentist"),
                )
            ]
        )
    case, _ = load(name, store)
    with on_stderr(language) as progress:
        sheet = answer_case(case, ["record", "mounting"], progress=progress)
    made = make(case, sheet, "lab" if to == "lab" else "dentist")
    if as_json:
        print_json({"subject": made.subject, "lines": list(made.lines)})
    else:
        sys.stdout.write(render(made.text(), language) + "\n")
    return 0


def file_name(code: str) -> str:
    """Return a case code as the name of a file."""
    kept = "".join(c if c.isalnum() or c in "-_." else "-" for c in code).strip(".-")
    return kept or "case"


def export(name: str, store: Path | None, folder: Path, decimal_comma: bool, as_json: bool) -> int:
    """Write contact sites, closing map and coloured casts; return the exit status."""
    from mountproof.surfaces.export import export_contacts

    case, _ = load(name, store)
    with on_stderr() as progress:
        sheet = answer_case(case, ["contacts"], progress=progress)
    found = sheet["contacts"]
    if sheet.faults:
        raise FaultError(sheet.faults)
    if found.evidence is None:
        needs = joined("; ", (need.reading for need in found.needs))
        raise FaultError(
            [
                Fault(
                    "export.nothing",
                    say("there is no closing map to write for this case"),
                    say("It needs: {needs}", needs=needs),
                )
            ]
        )
    files = export_contacts(found, case, folder, decimal_comma=decimal_comma, version=VERSION)
    if as_json:
        print_json({"files": [str(f) for f in files], "status": _status(sheet)})
    else:
        sys.stdout.write("".join(f"{f}\n" for f in files))
    return _status(sheet)


def demo(folder: Path, as_json: bool) -> int:
    """Make the demo case, answer it, write its sheet. The exit status is 0 when all of that worked."""
    from mountproof.surfaces.demo_case import make_demo

    with on_stderr() as progress:
        make_demo(folder, within(progress, 0.0, 0.5))
        case = load_case(folder)
        sheet = answer_case(case, progress=within(progress, 0.5, 0.4))
        progress(0.9, say("writing the sheet"))
        target = _report(case, sheet, folder / f"{file_name(case.code)}.pdf")
    if as_json:
        from mountproof.surfaces.export.as_json import sheet_as_dict

        print_json({"case": str(folder), "report": str(target), "sheet": sheet_as_dict(sheet)})
    else:
        from mountproof.surfaces.cli.screen import show_sheet

        show_sheet(sheet, full=False)
        sys.stdout.write(
            f"\nThe case is in       {folder / 'case.toml'}\nThe printed sheet is {target}\n"
            f"One question in full: mountproof answer {shlex.quote(str(folder))} pin\n"
        )
    return 0
