"""Long work, and what happened meanwhile."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import FaultOut, Wire


class WorkOut(Wire):
    """Long work: how far it is (0 to 1) and with what; cancel it by DELETE."""

    name: str
    case_id: int | None
    what: str
    done: float
    state: Literal["going on", "done", "cancelled", "failed"]
    faults: list[FaultOut]


class EventOut(Wire):
    """One server-sent event: ``kind`` tells which of the others is there."""

    kind: Literal["work", "revision", "answer", "scans", "state", "pours", "profiles", "devices", "anew"] = (
        Field(
            description="work: how far it is; revision: the case was changed; answer: an answer is there now, ask for the"
            " sheet; scans: its scans were checked, ask for the case; state: its state or what was"
            " accepted; anew: events were missed, ask for everything again"
        )
    )
    case_id: int | None = None
    revision: int | None = None
    who: str = ""
    question: str = ""
    work: WorkOut | None = None
