"""All exports of the contacts of one case, into one folder."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.result import Answer
from mountproof.case.model import Case
from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say
from mountproof.surfaces.export.coloured import write_coloured
from mountproof.surfaces.export.tables import contacts_json, map_csv, pairs_csv, sites_csv
from mountproof.surfaces.outfile import check_writable, write_whole


def export_contacts(
    found: Answer, case: Case, folder: str | Path, *, decimal_comma: bool = False, version: str
) -> tuple[Path, ...]:
    """Write contact sites, closing map and both coloured arches; return the files in the order written.

    ``found`` the answer to the contacts with its evidence; ``decimal_comma`` for the CSV files. Raises
    ``FaultError`` where there is no evidence or the folder cannot be written. Each file is whole or not there.
    """
    if found.evidence is None:
        raise FaultError(
            [
                Fault(
                    "export.nothing",
                    say("there is no closing map to write for this case"),
                    say("Enter a scan of each cast"),
                )
            ]
        )
    evidence = cast(ContactEvidence, found.evidence)
    table, sited = evidence.table, evidence.sited
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FaultError(
            [
                Fault(
                    "out.not-writable",
                    say("this folder cannot be made: {why}", why=refusal(error)),
                    say("Name another place"),
                    where=str(target),
                )
            ]
        ) from error
    check_writable(target / "contacts.csv")
    texts = {
        "contacts.csv": pairs_csv(table, decimal_comma=decimal_comma),
        "sites.csv": sites_csv(table, decimal_comma=decimal_comma),
        "closing-map.csv": map_csv(sited, table.closed_rad, decimal_comma=decimal_comma),
        "contacts.json": contacts_json(
            table,
            sited.closing,
            evidence.upper_from_lower,
            code=case.code,
            digest=found.digest,
            version=version,
        ),
    }
    written = []
    for name, content in texts.items():
        write_whole(target / name, content)
        written.append(target / name)
    gaps = evidence.vertex_gaps
    for surface, gap_mm in ((sited.upper, gaps.upper_mm), (sited.lower, gaps.lower_mm)):
        path = target / f"{surface.arch}.ply"
        write_coloured(
            path,
            surface,
            gap_mm,
            table.closed_rad,
            evidence.band_edges_mm,
            code=case.code,
            version=version,
        )
        written.append(path)
    return tuple(written)
