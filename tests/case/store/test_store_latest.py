"""What is new in a store since somebody looked last, whoever wrote it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from mountproof.case.model import Case
from mountproof.case.store import CaseState, Store
from mountproof.case.store.latest import Latest, News, latest, news
from mountproof.case.store.pouring import maybe_poured
from mountproof.case.store.trial import opened_case, tried_case, tried_text

POUR = {"cast": "lower", "powder_met_water": "2026-03-02T10:02:00+01:00"}


@pytest.fixture()
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as store:
        yield store


def seen(store: Store) -> Latest:
    with store.snapshot() as snapshot:
        return latest(snapshot)


def since(store: Store, known: Latest) -> tuple[News, ...]:
    with store.snapshot() as snapshot:
        return news(snapshot, known)


def begin(store: Store, code: str = "A", who: str = "QP") -> int:
    with store.change(who) as change:
        return change.begin(Case(code=code)).case_id


def test_nothing_is_new_where_nothing_was_written(store: Store) -> None:
    begin(store)
    known = seen(store)
    assert since(store, known) == () and seen(store) == known


def test_everything_that_was_written_is_told_in_order(store: Store) -> None:
    known = seen(store)
    first, second = begin(store, "A"), begin(store, "B", "RS")
    with store.change("TU") as change:
        change.edit(first, {"pours.one": POUR}, 1)
        change.set_state(second, CaseState.WAITING)
        change.accept(first, "pin", "0" * 64, ("marks",))
        change.add_device("tablet", "1" * 64)
    assert since(store, known) == (
        News("revision", first, 1, "QP"),
        News("revision", second, 1, "RS"),
        News("revision", first, 2, "TU"),
        News("pours", first, 2, "TU"),
        News("state", second, None, "TU"),
        News("state", first, None, "TU", "pin"),
        News("devices"),
    )


def test_a_backup_put_back_or_very_much_is_told_as_one_thing(store: Store, tmp_path: Path) -> None:
    case_id = begin(store)
    backup = store.backup(tmp_path / "backup")
    known = seen(store)
    for at in range(3):
        with store.change("QP") as change:
            change.edit(case_id, {"note": f"note {at}"}, at + 1)
    later = seen(store)
    store.restore(backup, "QP")
    assert since(store, later) == (News("anew"),)
    assert since(store, known) == (News("anew"),), "even where what is there now was there then"
    with store.change("QP") as change:
        change.edit(case_id, {"note": "on top"}, 1)
    assert since(store, later) == (News("anew"),), "numbers go on above those that were given"
    known = seen(store)
    with store.change("QP") as change:
        for at in range(250):
            change.edit(case_id, {"note": f"note {at}"}, change.head(case_id).number)
    assert since(store, known) == (News("anew"),)


def test_cases_with_pours_are_found(store: Store) -> None:
    plain, poured, away = begin(store, "A"), begin(store, "B"), begin(store, "C")
    with store.change("QP") as change:
        for case_id in (poured, away):
            change.edit(case_id, {"pours.one": POUR}, 1)
        change.set_state(away, CaseState.PUT_AWAY)
    with store.snapshot() as snapshot:
        assert maybe_poured(snapshot) == (poured,)
    with store.change("QP") as change:
        change.edit(poured, {"pours.one": None}, 2)
    with store.snapshot() as snapshot:
        assert plain not in maybe_poured(snapshot)


def test_what_is_tried_is_what_would_be_saved(store: Store) -> None:
    case_id = begin(store)
    edits = {"note": "tried", "bench.powder_g": "120,5"}
    with store.snapshot() as snapshot:
        base = snapshot.head(case_id)
        text, case = tried_text(base, edits), tried_case(snapshot, base, edits)
        assert snapshot.head(case_id).number == 1
    with store.change("QP") as change:
        assert change.edit(case_id, edits, 1).text == text
    with store.snapshot() as snapshot:
        assert snapshot.case(case_id) == case
        assert opened_case(snapshot, snapshot.head(case_id)) == (case, ())
