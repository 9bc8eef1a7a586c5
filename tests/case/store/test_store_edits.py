"""Forms of several windows at one case: new rows, new items and new entries of everybody come together."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mountproof.case.store import ConflictError, Store
from mountproof.faults import FaultError

TABLE = b"""code = "WREN-3"   # typed by hand
[marks.places]
U = { arch = "upper" }
V = { arch = "upper" }
L = { arch = "lower" }
[marks.states]
A = { kind = "MIP by hand" }
[marks]
readings_mm = \"\"\"
pair   A       # by hand
U-L    36,10   # twice
\"\"\"
"""
FOIL = {"where": "mounting", "relation": "MIP", "thickness_um": "8", "closure": "light"}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path) as opened:
        yield opened
        assert opened.check() == ()


def begun(store: Store, text: bytes = b'code = "WREN-3"  # mine\n') -> int:
    with store.change("QP") as change:
        return change.begin(text).case_id


def edit(store: Store, who: str, edits: Any, based_on: int = 1) -> bytes:
    with store.change(who) as change:
        return change.edit(1, edits, based_on).text


def test_a_case_with_nothing_but_a_code_is_valid_and_goes_on(store: Store) -> None:
    begun(store, b'code = "X"')
    edit(store, "AA", {"bench.powder_g": "116,5"})
    with store.snapshot() as seen:
        case = seen.case(1)
        assert case.bench is not None and case.bench.powder_g == 116.5
        assert seen.head(1).text == b'code = "X"\n\n[bench]\npowder_g = "116,5"\n'


def test_items_that_several_windows_add_to_a_list_are_all_kept(store: Store) -> None:
    begun(store)
    for n, who in enumerate(("AA", "BB", "CC"), start=1):
        text = edit(store, who, [("foils.+", {**FOIL, "thickness_um": f"{n}0"}), ("foils.+", FOIL)])
    with store.snapshot() as seen:
        assert [foil.thickness_um for foil in seen.case(1).foils] == [10, 8, 20, 8, 30, 8]
        changes = [one.field for one in seen.history(1)[2].changes]
    assert changes[0].startswith("foils.3.") or changes[0] == "foils.3"
    assert b"# mine" in text


def test_an_entry_of_an_item_that_comes_with_it(store: Store) -> None:
    """Where nobody else added one it is simply taken; else it is a conflict, for the number may mean another one."""
    begun(store)
    edits = [("foils.+", FOIL), ("foils.1.thickness_um", "12")]
    edit(store, "AA", {"note": "meanwhile"})
    edit(store, "BB", edits)
    with store.snapshot() as seen:
        assert [foil.thickness_um for foil in seen.case(1).foils] == [12]
    with pytest.raises(ConflictError):
        edit(store, "CC", [("foils.+", FOIL), ("foils.1.thickness_um", "14")])


def test_rows_and_columns_that_two_windows_add_are_both_kept_as_typed(store: Store) -> None:
    begun(store, TABLE)
    edit(store, "AA", {"marks.readings_mm.V-L.A": "37,05/37"})
    text = edit(
        store,
        "BB",
        [("marks.readings_mm.U-L.B", "38,5"), ("marks.states.B", {"kind": "record out, first contact"})],
    ).decode()
    with store.snapshot() as seen:
        marks = seen.case(1).marks
    assert marks is not None
    assert (marks.readings_mm.get("V-L", "A"), marks.readings_mm.get("U-L", "B")) == ((37.05, 37.0), (38.5,))
    assert marks.readings_mm.get("V-L", "B") == ()
    for typed in ("# typed by hand", "# by hand", "# twice", "36,10"):
        assert typed in text, text


def test_two_windows_that_type_into_the_same_new_cell_get_a_conflict(store: Store) -> None:
    begun(store, TABLE)
    edit(store, "AA", {"marks.readings_mm.V-L.A": "37,05"})
    with pytest.raises(ConflictError) as refused:
        edit(store, "BB", {"marks.readings_mm.V-L.A": "38"})
    ((field, _, mine, theirs, who, *_),) = refused.value.conflicts
    assert (field, mine, theirs, who) == ("marks.readings_mm.V-L.A", "38.00", "37.05", "AA")


def test_one_takes_a_row_out_and_the_other_types_into_it(store: Store) -> None:
    begun(store, TABLE)
    edit(store, "AA", {"marks.readings_mm.U-L": None})
    with pytest.raises(ConflictError) as refused:
        edit(store, "BB", {"marks.readings_mm.U-L.A": "38"})
    assert [one.field for one in refused.value.conflicts] == ["marks.readings_mm.U-L.A"]


def test_edits_are_all_kept_or_none(store: Store) -> None:
    begun(store)
    with pytest.raises(FaultError) as refused:
        edit(store, "AA", [("note", "kept?"), ("bench.powder_g", "-1"), ("mounted_on", "nothing")])
    assert sorted(fault.field for fault in refused.value.faults) == ["bench.powder_g", "mounted_on"]
    with store.snapshot() as seen:
        assert len(seen.history(1)) == 1
