"""Two tablets at one bench: ticks of different steps and pours of different casts come together, the same tick is shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from mountproof.case.files import parse_case
from mountproof.case.store import ConflictError, Store

TEXT = b'code = "HERON-1"\n\n[procedure.steps]\nfork = { met = true, by = "QP" }  # pressed in turn\n'


def test_ticks_and_pours_of_two_hands_come_together(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        with store.change("QP") as change:
            case_id = change.begin(TEXT).case_id
        with store.change("QP") as change:
            change.edit(case_id, {"procedure.steps.luted.met": True, "procedure.steps.luted.by": "QP"}, 1)
        with store.change("RS") as change:
            change.edit(case_id, {"procedure.steps.home.met": False, "procedure.steps.home.by": "RS"}, 1)
        for who, cast in (("QP", "upper"), ("RS", "lower")):
            begun = {"cast": cast, "powder_met_water": "2026-03-17T10:02:00+01:00", "by": who}
            with store.change(who) as change:
                change.edit(case_id, {f'pours."{cast} 1"': begun}, 1)
        with store.snapshot() as snapshot:
            text = snapshot.head(case_id).text.decode()
        case = parse_case(text)
        assert {name: (s.met, s.by) for name, s in case.procedure.steps.items()} == {
            "fork": (True, "QP"),
            "luted": (True, "QP"),
            "home": (False, "RS"),
        }
        assert {name: pour.by for name, pour in case.pours.items()} == {"upper 1": "QP", "lower 1": "RS"}
        assert "# pressed in turn" in text
        with store.change("QP") as change:
            change.edit(case_id, {"procedure.steps.pin_set.met": True}, 5)
        with pytest.raises(ConflictError) as caught, store.change("RS") as change:
            change.edit(case_id, {"procedure.steps.pin_set.met": False}, 5)
        (conflict,) = caught.value.conflicts
        assert (conflict.mine, conflict.theirs, conflict.who) == ("false", "true", "QP")
