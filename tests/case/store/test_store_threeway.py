"""Laws of bringing two changes together, on random cases and against a slow line merge."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from case.case_strategies import cases
from mountproof.case.dump import dump
from mountproof.case.files import parse_case
from mountproof.case.finding import dotted
from mountproof.case.marks import Marks
from mountproof.case.model import Case, Readings
from mountproof.case.store.differences import differences, same
from mountproof.case.store.lines_merge import merged_lines
from mountproof.case.store.threeway import merged, merged_files

FIELDS = [name for name in Case.model_fields if name not in ("schema_version", "code")]


@st.composite
def three(draw: st.DrawFn, overlap: bool) -> tuple[Case, Case, Case]:
    """A case and two changes of it; without ``overlap`` the two change different parts."""
    base, other, third = draw(cases()), draw(cases()), draw(cases())
    mine = draw(st.lists(st.sampled_from(FIELDS), unique=True, max_size=6))
    theirs = draw(st.lists(st.sampled_from(FIELDS), unique=True, max_size=6))
    if not overlap:
        theirs = [name for name in theirs if name not in mine]
    return (
        base,
        base.model_copy(update={name: getattr(other, name) for name in mine}),
        base.model_copy(update={name: getattr(third, name) for name in theirs}),
    )


@settings(max_examples=25)
@given(three(overlap=True))
def test_with_one_change_nothing_is_lost_or_made_up(found: tuple[Case, Case, Case]) -> None:
    base, mine, theirs = found
    assert same(merged(base, base, theirs)[0], theirs)
    assert same(merged(base, mine, base)[0], mine)
    assert same(merged(base, mine, mine)[0], mine)
    assert merged(base, mine, mine)[1] == merged(base, base, theirs)[1] == ()


@settings(max_examples=25)
@given(three(overlap=False))
def test_changes_of_different_parts_are_all_there(found: tuple[Case, Case, Case]) -> None:
    base, mine, theirs = found
    both, clashes = merged(base, mine, theirs)
    assert clashes == ()
    assert set(differences(base, both)) == set(differences(base, mine)) | set(differences(base, theirs))


@settings(max_examples=40)
@given(three(overlap=True))
def test_every_change_is_in_the_result_or_reported(found: tuple[Case, Case, Case]) -> None:
    base, mine, theirs = found
    both, clashes = merged(base, mine, theirs)
    swapped, clashes_swapped = merged(base, theirs, mine)
    assert {one.field for one in clashes} == {one.field for one in clashes_swapped}
    assert {(c.mine, c.theirs) for c in clashes} == {(c.theirs, c.mine) for c in clashes_swapped}
    told = [one.field for one in clashes]
    if not told:
        assert set(differences(both, swapped)) <= _orders(both, swapped)
    for side in (mine, theirs):
        for change in set(differences(base, side)) - set(differences(base, both)):
            covered = any(f == change.field or change.field.startswith(f + ".") for f in told)
            # An order of names, and a list of columns, is that of both: no entry is missing for it. A new row has a cell for
            # every column there is, those that the other added too.
            assert (
                covered
                or change in _orders(base, side)
                or change.field.endswith(".states")
                or _row_is_there(change.field, side, both)
            ), change


def test_a_new_row_and_a_new_column_are_both_there() -> None:
    def case(states: tuple[str, ...], **rows: tuple[tuple[float, ...], ...]) -> Case:
        return Case(code="WREN-1", marks=Marks(readings_mm=Readings(states=states, rows=rows)))

    base = case(("A",))
    both, clashes = merged(base, case(("A",), new=((),)), case(("A", "B")))
    assert clashes == ()
    assert both.marks is not None and both.marks.readings_mm == Readings(
        states=("A", "B"), rows={"new": ((), ())}
    )
    read, clashes = merged(base, case(("A",), new=((1.5,),)), case(("A", "B")))
    assert clashes == ()
    assert read.marks is not None and read.marks.readings_mm == Readings(
        states=("A", "B"), rows={"new": ((1.5,), ())}
    )
    assert _row_is_there("marks.readings_mm.new", case(("A",), new=((1.5,),)), read)
    assert not _row_is_there("marks.readings_mm.new", case(("A",), new=((2.5,),)), read)


def _row_is_there(field: str, side: Case, both: Case) -> bool:
    tables = [one.marks.readings_mm for one in (side, both) if one.marks is not None]
    return any(
        field == dotted(("marks", "readings_mm", pair))
        and pair in tables[-1].rows
        and all(
            tables[-1].get(pair, s) == tables[0].get(pair, s)
            for s in tables[0].states
            if tables[0].get(pair, s)
        )
        for pair in tables[0].rows
    )


def _orders(one: Case, other: Case) -> set[object]:
    """Changes that only say in which order names stand."""
    return {
        change
        for change in differences(one, other)
        if change.old and change.new and sorted(change.old.split(", ")) == sorted(change.new.split(", "))
    }


@settings(max_examples=25)
@given(cases(), cases())
def test_differences_are_empty_exactly_for_equal_cases(one: Case, other: Case) -> None:
    assert differences(one, one) == ()
    again = parse_case(dump(one))
    assert differences(one, again) == ()
    assert bool(differences(one, other)) == (not same(one, other))


def table(rows: dict[str, list[float | None]], states: str = "AB") -> Case:
    cells = {pair: tuple((v,) if v is not None else () for v in row) for pair, row in rows.items()}
    readings = Readings(states=tuple(states), rows=cells)
    return Case(code="T", marks=Marks.model_construct(places={}, states={}, readings_mm=readings))


def cells(case: Case) -> dict[tuple[str, str], float]:
    assert case.marks is not None
    return {(c.pair, c.state): c.values[0] for c in case.marks.readings_mm.cells()}


def test_tables_over_every_small_change() -> None:
    """All pairs of: a cell changed, filled, emptied; a row or column added, filled in, or taken out."""
    base = table({"p": [1, 2], "q": [3, None]})
    variants = [
        base,
        table({"p": [9, 2], "q": [3, None]}),
        table({"p": [1, 2], "q": [3, 8]}),
        table({"p": [1, None], "q": [3, None]}),
        table({"p": [1, 2]}),
        table({"p": [1], "q": [3]}, "A"),
        table({"p": [2], "q": [None]}, "B"),
        table({"p": [1, 2], "q": [3, None], "r": [5, 6]}),
        table({"p": [1, 2], "q": [3, None], "r": [5, 7]}),
        table({"p": [1, 2, 4], "q": [3, None, None]}, "ABC"),
        table({"p": [1, 2, None], "q": [3, None, 4]}, "ABC"),
    ]
    was = cells(base)
    for mine, theirs in product(variants, repeat=2):
        both, clashes = merged(base, mine, theirs)
        got, told = cells(both), {c.field for c in clashes}
        for key in {*was, *cells(mine), *cells(theirs)}:
            b, m, t = was.get(key), cells(mine).get(key), cells(theirs).get(key)
            if f"marks.readings_mm.{key[0]}.{key[1]}" in told:
                assert b != m or b != t or m is None or t is None
            else:
                assert got.get(key) == (t if m == b else m), (key, b, m, t)
                assert m == b or t in (b, m), "two changes of one cell must be told"


def test_files_come_together_by_name() -> None:
    base = {"a": "1", "b": "2"}
    assert merged_files(base, {"a": "1", "b": "3"}, {"b": "2", "c": "4"}) == ({"b": "3", "c": "4"}, ())
    both, clashes = merged_files(base, {"a": "5", "b": "2"}, {"b": "2"})
    assert [(c.field, c.base, c.mine, c.theirs) for c in clashes] == [("files.a", '"1"', '"5"', None)]
    assert both == {"b": "2"}


LINES = st.lists(st.sampled_from("abcd"), max_size=6)


@settings(max_examples=300)
@given(LINES, LINES, LINES)
def test_lines_come_together_or_not_at_all(base: list[str], mine: list[str], theirs: list[str]) -> None:
    one, two, three = ("".join(f"{x}\n" for x in lines) for lines in (base, mine, theirs))
    assert merged_lines(one, two, one) == two
    assert merged_lines(one, one, three) == three
    assert merged_lines(one, two, three) == merged_lines(one, three, two)


def test_lines_of_both_are_kept() -> None:
    base = "".join(f"{n}\n" for n in range(9))
    mine, theirs = base.replace("1\n", "x\ny\n"), base.replace("7\n", "")
    assert merged_lines(base, mine, theirs) == mine.replace("7\n", "")
    assert merged_lines(base, base.replace("1\n", "x\n"), base.replace("1\n", "z\n")) is None
    assert merged_lines(base, base.replace("1\n", "x\n"), base.replace("2\n", "z\n")) is None
