"""Instrument profiles and paired devices, kept beside the cases; and how a server notices what others wrote."""

from __future__ import annotations

import datetime as dt
import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.case.store import CaseState, ConflictError, Store
from mountproof.faults import FaultError

PIN = {"kind": "straight", "ahead_mm": "110,5", "below_mm": 98}
POINT = {"block_mm": 2.0, "reads": 2.0}
ENTERED = {"name": "the arcon one by the window", "pin": PIN}


class Clock:
    """A clock that stands still until told."""

    def __init__(self) -> None:
        self.now = dt.datetime(2026, 3, 2, 10, tzinfo=dt.UTC)

    def __call__(self) -> dt.datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with Store(tmp_path, clock=clock) as opened:
        yield opened


def token(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def codes(error: FaultError) -> list[str]:
    return [fault.code for fault in error.faults]


def test_a_profile_is_kept_as_typed_and_every_revision_stays(store: Store) -> None:
    with store.change("QP") as change:
        first = change.keep_profile(" bench 3 ", ENTERED)
        second = change.keep_profile("bench 3", {**ENTERED, "name": "moved"}, first.number)
        change.keep_profile("Annex", {"name": "b", "pin": PIN})
    with store.snapshot() as seen:
        assert [one.name for one in seen.profiles()] == ["Annex", "bench 3"]
        assert seen.profile("bench 3") == second
        assert seen.profile("bench 3", 1) == first
        assert first.entered == ENTERED, "the decimal comma stays a text as typed"
        assert (second.number, second.who, second.at.tzinfo) == (2, "QP", dt.UTC)


def test_two_people_at_one_profile_get_a_conflict_with_both_values(store: Store) -> None:
    with store.change("QP") as change:
        change.keep_profile("bench 3", ENTERED)
    with store.change("AA") as change:
        change.keep_profile("bench 3", {**ENTERED, "name": "theirs"}, 1)
    before = [*dump(store)]
    with pytest.raises(ConflictError) as refused, store.change("BB") as change:
        change.keep_profile("bench 3", {**ENTERED, "name": "mine"}, 1)
    (one,) = refused.value.conflicts
    assert (one.field, one.mine, one.theirs, one.base) == (
        "instrument.name",
        '"mine"',
        '"theirs"',
        '"the arcon one by the window"',
    )
    assert (one.who, one.number) == ("AA", 2)
    # A name thought to be free is a conflict, too; the same once more is none.
    with pytest.raises(ConflictError), store.change("BB") as change:
        change.keep_profile("bench 3", {"name": "b", "pin": PIN})
    with store.change("BB") as change:
        assert change.keep_profile("bench 3", {**ENTERED, "name": "theirs"}).number == 2
    assert [*dump(store)] == before


def test_a_profile_taken_out_can_be_begun_again_and_numbers_go_on(store: Store) -> None:
    with store.change("QP") as change:
        change.keep_profile("bench 3", ENTERED)
        with pytest.raises(ConflictError):
            change.take_out_profile("bench 3", 0)
        change.take_out_profile("bench 3", 1)
        assert change.profiles() == ()
        for ask in (lambda: change.profile("bench 3"), lambda: change.take_out_profile("bench 3", 2)):
            with pytest.raises(FaultError) as refused:
                ask()
            assert codes(refused.value) == ["store.missing"]
        assert change.profile("bench 3", 1).entered == ENTERED
        assert change.keep_profile("bench 3", ENTERED).number == 3


@pytest.mark.parametrize(
    ("name", "entered", "code", "field"),
    [
        ("", ENTERED, "store.profile", ""),
        ("x" * 65, ENTERED, "store.profile", ""),
        ("a\nb", ENTERED, "store.profile", ""),
        (
            "a",
            {"name": "b", "pin": {**PIN, "ahead_mm": "110 mm"}},
            "case.wrong_type",
            "instrument.pin.ahead_mm",
        ),
        ("a", {"name": "b", "colour": "red", "pin": PIN}, "case.unknown_field", "instrument.colour"),
        ("a", {"name": "b", "pin": {**PIN, "calibration": [POINT] * 10_000}}, "store.profile", ""),
    ],
)
def test_what_cannot_be_kept_says_why(
    store: Store, name: str, entered: dict[str, Any], code: str, field: str
) -> None:
    with pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.keep_profile(name, entered)
    assert (code, field) in [(fault.code, fault.field) for fault in refused.value.faults]
    assert all(fault.what and fault.todo for fault in refused.value.faults)
    with store.snapshot() as seen:
        assert seen.profiles() == ()


def test_a_profile_with_a_base_that_is_none_is_refused(store: Store) -> None:
    with pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.keep_profile("bench 3", ENTERED, 4)
    assert codes(refused.value) == ["store.missing"]


def test_devices_come_and_go(store: Store, clock: Clock) -> None:
    with store.change("QP") as change:
        one = change.add_device("tablet at the sink", token("a"))
        two = change.add_device("tablet at the window", token("b"))
    with store.snapshot() as seen:
        assert seen.devices() == (one, two)
        assert seen.device_with(token("a")) == one
        assert seen.device_with(token("c")) is None
        assert (one.seen, one.revoked, one.revoked_by) == (None, None, "")
    clock.now += dt.timedelta(hours=1)
    with store.change("AA") as change:
        change.seen_device(one.id)
        gone = change.revoke_device(two.id)
        assert change.revoke_device(two.id) == gone, "revoked once"
        change.seen_device(two.id)
    with store.snapshot() as seen:
        assert (gone.revoked, gone.revoked_by) == (clock.now, "AA")
        assert seen.device_with(token("b")) is None
        assert [one.seen for one in seen.devices()] == [clock.now, None]


def test_a_device_is_not_noted_at_every_call(store: Store, clock: Clock) -> None:
    with store.change("QP") as change:
        device = change.add_device("tablet", token("a"))
    begun, times = clock.now, []
    for minutes in (0.0, 0.5, 0.9, 1.1, 1.5, 60.0, 30.0):  # the last: the clock was set back
        clock.now = begun + dt.timedelta(minutes=minutes)
        with store.change("tablet") as change:
            change.seen_device(device.id)
            times.append(change.devices()[0].seen)
    noted = [begun + dt.timedelta(minutes=m) for m in (0.0, 0.0, 0.0, 1.1, 1.1, 60.0, 30.0)]
    assert times == noted


@pytest.mark.parametrize(("name", "sha"), [("", token("a")), ("x" * 65, token("a")), ("tablet", "secret")])
def test_a_device_that_cannot_be_paired(store: Store, name: str, sha: str) -> None:
    with pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.add_device(name, sha)
    assert codes(refused.value) == ["store.device"]


def test_a_token_is_never_paired_twice_not_even_after_it_was_revoked(store: Store) -> None:
    with store.change("QP") as change:
        change.revoke_device(change.add_device("tablet", token("a")).id)
    with pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.add_device("tablet", token("a"))
    assert codes(refused.value) == ["store.device"]
    with pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.revoke_device("no such")
    assert codes(refused.value) == ["store.missing"]


def test_the_database_itself_refuses_to_change_a_profile_or_a_device(store: Store) -> None:
    with store.change("QP") as change:
        change.keep_profile("bench 3", ENTERED)
        change.revoke_device(change.add_device("tablet", token("a")).id)
    with closing(sqlite3.connect(store.place.database)) as raw:
        for table in ("profiles", "devices", "devices_revoked"):
            for statement in (f"UPDATE {table} SET who = 'x'", f"DELETE FROM {table}"):
                with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
                    raw.execute(statement)


@settings(max_examples=30)
@given(st.lists(st.sampled_from(["case", "edit", "state", "accept", "profile", "device", "nothing"])))
def test_every_kept_change_is_noticed(tmp_path_factory: pytest.TempPathFactory, done: list[str]) -> None:
    """Each kind of change makes the polled number another one; one that is not kept leaves it."""
    with Store(tmp_path_factory.mktemp("s")) as store, Store(store.place.folder) as other:
        with other.change("QP") as change:
            change.begin(b'code = "A"')
        revisions = 1
        for n, kind in enumerate(done):
            with store.snapshot() as seen:
                before, latest = seen.writes(), seen.latest_id()
            assert latest == revisions
            with other.change("QP") as change:
                if kind == "case":
                    change.begin(b'code = "B"')
                elif kind == "edit":
                    change.edit(1, {"note": f"{n}"}, change.head(1).number)
                elif kind == "state":
                    change.set_state(
                        1, CaseState.DONE if change.state(1) is CaseState.OPEN else CaseState.OPEN
                    )
                elif kind == "accept":
                    change.accept(1, "pin", "0" * 64, ("note",))
                elif kind == "profile":
                    change.keep_profile(f"{n}", {"name": "b", "pin": PIN})
                elif kind == "device":
                    change.add_device(f"{n}", token(f"{n}"))
            with pytest.raises(ZeroDivisionError), other.change("QP") as change:
                change.begin(str(1 // 0).encode())
            revisions += kind in ("case", "edit")
            with store.snapshot() as seen:
                assert (seen.writes() != before) is (kind != "nothing")
                new = seen.changed_since(latest)
                assert [one.id for one in new] == list(range(latest + 1, revisions + 1))
                for one in new:
                    found = seen.revision(one.case_id, one.number)
                    assert (found.id, found.who, found.at) == (one.id, one.who, one.at)
        with store.snapshot() as seen:
            assert seen.changed_since(0) == seen.changed_since(0, 3) + seen.changed_since(
                (seen.changed_since(0, 3) or seen.changed_since(0))[-1].id
            )


def dump(store: Store) -> Iterator[str]:
    with closing(sqlite3.connect(store.place.database)) as raw:
        yield from raw.iterdump()
