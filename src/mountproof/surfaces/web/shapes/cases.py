"""One revision of a case as it was entered, and the line that stands for it in the list."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Sequence
from typing import Any

from mountproof.answers.known import questioned
from mountproof.answers.result import Sheet
from mountproof.case.store import CaseState, Listed, Revision
from mountproof.case.store.texts import plain_text
from mountproof.case.tooth_numbers import system_of
from mountproof.said import say
from mountproof.surfaces.web.answering import Opened
from mountproof.surfaces.web.checks import Look
from mountproof.surfaces.web.shapes.marks import grids_out
from mountproof.surfaces.web.shapes.scans import scans_out
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import CaseOut, FileOut, ListedOut

_MINUTE, _HOUR, _DAY = 60, 3600, 86400


def case_out(
    opened: Opened,
    revision: Revision,
    state: CaseState,
    sheet: Sheet,
    language: str,
    *,
    sizes: dict[str, int],
    looks: Sequence[Look],
    text: bytes | None = None,
) -> CaseOut:
    """Return a revision of a case; ``text`` is that of edits that are only tried.

    ``sizes`` are the bytes of the files beside it, by SHA-256; ``sheet`` tells which readings are asked about, ``looks``
    what is known of the files of its scans.
    """
    case = opened.case
    entered = entered_of(revision.text if text is None else text)
    numbering = system_of(case)
    return CaseOut(
        id=opened.case_id,
        revision=opened.number,
        newest=opened.newest,
        code=case.code,
        state=state,
        who=revision.who,
        at=revision.at,
        numbering=numbering,
        entered=entered,
        marks=grids_out(case, entered, questioned(sheet.answers), language),
        files=[
            FileOut(name=name, sha256=sha, bytes=sizes.get(sha, 0)) for name, sha in revision.files.items()
        ],
        scans=scans_out(case, looks, language, numbering),
    )


def entered_of(text: bytes) -> dict[str, Any]:
    """Return the text of a case file as data in which a number with a decimal point is the text that was typed."""
    return {key: _json(value) for key, value in tomllib.loads(plain_text(text), parse_float=str).items()}


def _json(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _json(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_json(inner) for inner in value]
    if isinstance(value, dt.datetime):
        return value.isoformat()
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def listed_out(one: Listed, now: dt.datetime, language: str) -> ListedOut:
    """Return a case as a line of the list."""
    return ListedOut(
        id=one.case_id,
        code=one.code,
        lab=one.lab,
        note=one.note,
        state=one.state,
        revision=one.number,
        who=one.who,
        begun=one.begun,
        changed=one.changed,
        age=words(age_text(one.age_s(now)), language),
    )


def age_text(seconds: float) -> str:
    """Say how long ago something was, as people say it."""
    if seconds < _MINUTE:
        return say("just now")
    if seconds < _HOUR:
        count = int(seconds // _MINUTE)
        return (
            say("{count} minute ago", count=count) if count == 1 else say("{count} minutes ago", count=count)
        )
    if seconds < _DAY:
        count = int(seconds // _HOUR)
        return say("{count} hour ago", count=count) if count == 1 else say("{count} hours ago", count=count)
    count = int(seconds // _DAY)
    return say("{count} day ago", count=count) if count == 1 else say("{count} days ago", count=count)
