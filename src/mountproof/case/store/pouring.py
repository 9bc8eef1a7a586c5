"""Cases in which stone was poured, found without reading every case."""

from __future__ import annotations

from sqlalchemy import func, select

from mountproof.case.store import schema as t
from mountproof.case.store.records import CaseState
from mountproof.case.store.snapshot import Snapshot


def maybe_poured(snapshot: Snapshot) -> tuple[int, ...]:
    """Return the cases, last change first, whose newest text speaks of pours; none that was put away.

    A remark may speak of them, too: only reading the case tells.
    """
    h, r = t.heads.c, t.revisions.c
    query = (
        select(h.case_id)
        .join(t.revisions, r.id == h.head_id)
        .where(h.state != CaseState.PUT_AWAY.value, func.instr(r.text, "pours") > 0)
        .order_by(h.head_id.desc())
    )
    return tuple(int(one) for one in snapshot._connection.execute(query).scalars())
