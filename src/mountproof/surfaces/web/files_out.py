"""Files that are made of a case on request."""

from __future__ import annotations

import io
import zipfile

from mountproof.answers.message import message
from mountproof.answers.papers import PAPERS
from mountproof.answers.progress import quiet
from mountproof.faults import Fault, FaultError
from mountproof.said import joined, say
from mountproof.surfaces.web.access_folders import passing_folder
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.version import VERSION

_WHEN = (2000, 1, 1, 0, 0, 0)


def printed_sheet(bench: Bench, case_id: int, number: int | None, language: str) -> tuple[str, bytes]:
    """Return a name and the bytes of the printed sheet in a language. FaultError where there is no such revision."""
    from mountproof.surfaces.report import render_pdf

    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    sheet = bench.answering.whole(found, quiet)
    return file_name(found.case.code), render_pdf(sheet, found.case, version=VERSION, language=language)


def printed_paper(
    bench: Bench, case_id: int, number: int | None, which: str, language: str
) -> tuple[str, bytes]:
    """Return a name and the bytes of one paper (``PAPERS`` or ``message``) in a language.

    FaultError ``paper.unknown`` for a paper that is none, and where there is no such revision.
    """
    from mountproof.surfaces.report import message_paper, paper_pdf

    if which not in (*PAPERS, "message"):
        todo = say("Ask for one of: {papers}", papers=", ".join((*PAPERS, "message")))
        raise FaultError([Fault("paper.unknown", say("this is no paper"), todo, got=which[:40])])
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    sheet = bench.answering.whole(found, quiet)
    made = (
        message_paper(message(found.case, sheet))
        if which == "message"
        else PAPERS[which].make(found.case, sheet)
    )
    return f"{file_name(found.case.code)}-{which}", paper_pdf(
        made, found.case, version=VERSION, language=language
    )


def contacts_zip(bench: Bench, case_id: int, number: int | None, *, decimal_comma: bool) -> tuple[str, bytes]:
    """Return a name and the bytes of a zip with contacts, closing map and coloured casts.

    FaultError ``export.nothing`` where the case has no closing map.
    """
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    sheet = bench.answering.whole(found, quiet)
    contacts = sheet["contacts"]
    if contacts.evidence is None:
        if sheet.faults:
            raise FaultError(sheet.faults)
        needs = joined("; ", [need.reading for need in contacts.needs])
        what = say("there is no closing map to write for this case")
        raise FaultError([Fault("export.nothing", what, say("It needs: {needs}", needs=needs))])
    from mountproof.surfaces.export import export_contacts

    sink = io.BytesIO()
    with passing_folder(bench.store) as folder:
        files = export_contacts(contacts, found.case, folder, decimal_comma=decimal_comma, version=VERSION)
        with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in files:
                info = zipfile.ZipInfo(file.name, _WHEN)
                info.compress_type = zipfile.ZIP_DEFLATED
                archive.writestr(info, file.read_bytes())
    return file_name(found.case.code), sink.getvalue()


def file_name(code: str) -> str:
    """Return a case code as the name of a file that every system takes."""
    kept = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in code).strip(".-")
    return kept[:80] or "case"
