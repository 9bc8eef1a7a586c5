"""Everything that is wrong with the entries of a case file, as far as it can be seen in one run."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from mountproof.case.checks import case_findings
from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import SCHEMA_VERSION, Case
from mountproof.case.syntax import TOO_DEEP, Parsed

#: Each round leaves out what the round before could not read; what is nested needs a few.
_ROUNDS = 8


def survey(parsed: Parsed, folder: FilePath | None) -> tuple[Case | None, list[Finding]]:
    """Return the case, None where it cannot be made, and everything wrong with its entries.

    What cannot be read is left out and the rest is read again, so that parts that do not fit together are found
    in the same run; what may only follow from something left out is not reported.
    """
    if parsed.slips and not parsed.values:
        return None, []
    try:
        case = Case.model_validate(parsed.values)
    except ValidationError as error:
        return None, _all_findings(parsed, folder, error)
    except RecursionError:
        return None, [Finding("case.syntax", (), TOO_DEEP.what, TOO_DEEP.todo)]
    found = list(case_findings(case, folder))
    return case, [one for one in found if not parsed.slips or not _may_follow(one.path, one, parsed.left_out)]


def _all_findings(parsed: Parsed, folder: FilePath | None, error: ValidationError) -> list[Finding]:
    """Return everything wrong with a document that is no case, reading again what is left of it."""
    from mountproof.case.salvage import Rest, without
    from mountproof.case.wording import findings as in_words
    from mountproof.case.wording import version_finding

    version = parsed.values.get("schema_version")
    if isinstance(version, int) and version > SCHEMA_VERSION:
        return [version_finding(version)]
    found: list[Finding] = []
    rest = Rest(parsed.values, frozenset(), {})
    out, lacking = set(parsed.left_out), set[Path]()
    for _ in range(_ROUNDS):
        for one in error.errors(include_url=False):
            path = rest.original(one["loc"])
            entry = tuple(part for part in path if part != "[key]")
            slipped = any(slip[: len(entry)] == entry for slip in parsed.left_out)
            follows = slipped or (rest.left_out and rest.touches(entry))
            if not follows:
                found += in_words({**one, "loc": path}, parsed.values)
            if one["type"] == "missing":
                lacking.add(entry)
            else:
                out.add(_standing(parsed.values, entry))
        rest = without(parsed.values, out, lacking)
        if "code" not in rest.doc:
            rest = rest._replace(doc={**rest.doc, "code": "-"})
        try:
            case = Case.model_validate(rest.doc)
        except ValidationError as next_error:
            error = next_error
            continue
        for one_more in case_findings(case, folder):
            path = rest.original(one_more.path)
            if not rest.touches(path) and not _may_follow(path, one_more, rest.left_out | parsed.left_out):
                found.append(one_more._replace(path=path))
        break
    return found


def _standing(doc: Any, path: Path) -> Path:
    """Return the part of ``path`` that stands in the document."""
    for depth, part in enumerate(path):
        inside = isinstance(doc, dict) and part in doc
        inside = inside or (isinstance(doc, list) and isinstance(part, int) and part < len(doc))
        if not inside:
            return path[:depth]
        doc = doc[part]
    return path


def _may_follow(path: Path, finding: Finding, left_out: Iterable[Path]) -> bool:
    """Tell whether a finding may only be there because something beside it, or named by it, was left out."""
    about = finding.about
    for out in left_out:
        if finding.code == "case.missing_field" and out[: len(path) - 1] == path[:-1]:
            return True
        if about and (
            out == about[: len(out)] or (out[: len(about)] == about and len(out) <= len(about) + 1)
        ):
            return True
    return False
