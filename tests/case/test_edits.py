"""Entries changed as a form does it: what is read back is what was meant, and everything else stays as it was typed."""

from __future__ import annotations

import copy
import itertools
import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from case.case_strategies import WORD, cases
from mountproof.case.dump import dump
from mountproof.case.edits import edited_text
from mountproof.case.files import load_case, parse_case
from mountproof.case.finding import dotted
from mountproof.case.grid import GridError, parse_grid
from mountproof.case.model import Case
from mountproof.case.names import APPEND, parse_field, shown_field
from mountproof.case.store.texts import edited, read
from mountproof.case.table_edits import changed_table
from mountproof.case.template import template
from mountproof.case.typed import Typed, as_asked, as_typed
from mountproof.case.writing import set_values
from mountproof.faults import FaultError

BENCH = Path(__file__).with_name("bench_case.toml").read_text(encoding="utf-8")
SLOW = settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
Edit = tuple[str, Any]


# --- from any case to any other ---------------------------------------------------------------------------------


def between(old: Any, new: Any, path: tuple[str | int, ...] = ()) -> Iterator[Edit]:
    """The edits, entry by entry, that a person would make to turn one document into the other."""
    if path[:1] == ("marks",) and path[1:2] in (("readings_mm",), ("reseat_mm",)) and isinstance(new, str):
        yield from between_tables(old, new, path)
    elif isinstance(old, dict) and isinstance(new, dict):
        for name in [name for name in old if name not in new]:
            yield dotted((*path, name)), None
        for name, entry in new.items():
            if name not in old or old[name] != entry:
                yield from between(old.get(name), entry, (*path, name))
    elif path and isinstance(new, dict) and all(isinstance(one, dict) for one in new.values()) and not old:
        for name, entry in new.items():
            yield dotted((*path, name)), entry
        if not new:
            yield dotted(path), new
    elif isinstance(old, list) and isinstance(new, list) and any(isinstance(x, dict) for x in (*old, *new)):
        for at in range(len(old) - 1, len(new) - 1, -1):
            yield dotted((*path, at)), None
        for at, entry in enumerate(new[: len(old)]):
            yield from between(old[at], entry, (*path, at))
        for entry in new[len(old) :]:
            yield f"{dotted(path)}.+", entry
    elif old is None and isinstance(new, list) and new and isinstance(new[0], dict):
        for entry in new:
            yield f"{dotted(path)}.+", entry
    elif old != new or type(old) is not type(new):
        yield dotted(path), new


def between_tables(old: Any, new: str, path: tuple[str | int, ...]) -> Iterator[Edit]:
    here, (states, rows) = dotted(path), grid(new)
    olds: tuple[list[str], dict[str, Any]] = grid(old) if isinstance(old, str) else ([], {})
    kept = [state for state in olds[0] if state in states]
    if kept != states[: len(kept)] or not kept:
        yield here, new  # another order of columns: the whole table
        return
    for pair in [pair for pair in olds[1] if pair not in rows]:
        yield f"{here}.{dotted((pair,))}", None
    for state in [state for state in olds[0] if state not in states]:
        yield f"{here}.*.{dotted((state,))}", None
    for state in states[len(kept) :]:
        yield f"{here}.*.{dotted((state,))}", {}
    for pair, cells in rows.items():
        yield f"{here}.{dotted((pair,))}", {}
        for state, values in zip(states, cells, strict=True):
            yield f"{here}.{dotted((pair, state))}", list(values)


def grid(text: str) -> tuple[list[str], dict[str, Any]]:
    found = parse_grid(text)
    return list(found["states"]), dict(found["rows"])


def remarked(text: str) -> str:
    """Every line of a text that can carry one gets a remark of its own."""
    number = itertools.count(1)
    inside, lines = False, []
    for line in text.splitlines():
        quotes = line.count('"""') % 2
        plain = line and not inside and not quotes and not line.rstrip().endswith((",", "[")) and line != "]"
        lines.append(f"{line} # remark {next(number)}." if plain else line)
        inside ^= bool(quotes)
    return "\n".join(lines) + "\n"


def same_rows(case: Case) -> Any:
    """A case with the rows of its tables in one order."""
    return json.loads(json.dumps(case.model_dump(mode="json"), sort_keys=True))


@SLOW
@given(old=cases() | st.builds(Case, code=st.just("X")), new=cases())
def test_edits_from_one_case_to_another_make_that_other(old: Case, new: Case) -> None:
    text = remarked(dump(old))
    edits = list(between(tomllib.loads(text), tomllib.loads(dump(new))))
    assert same_rows(parse_case(edited_text(text, edits))) == same_rows(new)


@SLOW
@given(new=cases())
def test_a_case_entered_from_nothing_in_a_page_is_that_case(new: Case) -> None:
    edits = [edit for edit in between({}, tomllib.loads(dump(new))) if edit[0] != "code"]
    assert same_rows(parse_case(edited_text(f"code = {json.dumps(new.code)}\n", edits))) == same_rows(new)


@SLOW
@given(old=cases(), new=cases(), data=st.data())
def test_remarks_of_everything_that_was_not_taken_out_stay(old: Case, new: Case, data: st.DataObject) -> None:
    """A file is never written anew from its values: each remark is lost only with the entry it stands at."""
    text = remarked(dump(old))
    every = list(between(tomllib.loads(text), tomllib.loads(dump(new))))
    edits = [one for one in every if one[1] is not None and not isinstance(one[1], dict | list)]
    chosen = (
        data.draw(st.lists(st.sampled_from(edits), max_size=5, unique_by=lambda e: e[0])) if edits else []
    )
    after = edited_text(text, chosen)
    for number in range(1, text.count("# remark") + 1):
        assert f"# remark {number}." in after, chosen


@settings(max_examples=60)
@given(data=st.data())
def test_one_entry_of_a_file_typed_by_hand_changes_one_line(data: st.DataObject) -> None:
    text = remarked(BENCH)
    leaves = [
        path
        for path in paths((), tomllib.loads(BENCH))
        if not (path[0] == "marks" and path[1] in ("readings_mm", "reseat_mm"))
    ]
    path = data.draw(st.sampled_from(leaves))
    before, after = text.splitlines(), edited_text(text, {dotted(path): "something else"}).splitlines()
    assert len(before) == len(after)
    ((old, new),) = [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]]
    assert old.rpartition("#")[2] == new.rpartition("#")[2]
    assert "something else" in new


def paths(path: tuple[str | int, ...], entry: Any) -> Iterator[tuple[str | int, ...]]:
    if isinstance(entry, dict):
        for name, inner in entry.items():
            yield from paths((*path, name), inner)
    elif isinstance(entry, list) and entry and isinstance(entry[0], dict):
        for at, inner in enumerate(entry):
            yield from paths((*path, at), inner)
    else:
        yield path


def test_a_new_case_from_the_template_keeps_every_remark() -> None:
    """Entered one by one where nothing is: each goes to the place of its example."""
    text = template("X")
    after = edited_text(
        text,
        [
            ("instrument.name", "no. 2"),
            ("instrument.pin.kind", "straight"),
            ("instrument.pin.ahead_mm", "110 +- 0,5"),
            ("instrument.pin.below_mm", "62.50"),
            ("pin_readings.+", {"state": "D", "reads": "0,5"}),
            (
                "foils.+",
                {"where": "mounting", "relation": "MIP", "thickness_um": "8", "closure": "light"},
            ),
            ("bench.powder_g", "116"),
            ("date", "2026-03-02"),
            ("marks.reseat_mm.UR-LR.1", "38,05"),
        ],
    )
    for said in ("name", "kind", "ahead_mm", "below_mm", "powder_g", "date"):
        example = next(line for line in text.splitlines() if line.startswith(f"#{said} ="))
        (line,) = [line for line in after.splitlines() if line.startswith(f"{said} = ")]
        assert line.rpartition("#")[2] == example.rpartition("#")[2]
    lost = set(text.splitlines()) - set(after.splitlines())
    assert all(line.startswith("#") for line in lost)
    assert len(lost) == 6 + 3, "six examples and three headings were put to use"
    assert "below_mm = 62.50 " in after and '"110 +- 0,5"' in after and "\ndate = 2026-03-02 " in after
    assert "UR-LR  38,05\n" in after


def test_a_case_from_nothing_reads_as_one_that_a_person_would_write() -> None:
    after = edited_text(
        'code = "X"\n',
        [
            ("marks.places.UR.arch", "upper"),
            ("marks.places.LR", {"arch": "lower"}),
            ("marks.states.A.kind", "MIP by hand"),
            ("marks.readings_mm.UR-LR.A", "38,05/38,1"),
            ("marks.readings_mm.UR-LR.B", "39.5"),
            ("marks.states.B", {"kind": "record in", "record": "record 1"}),
            ('records."record 1".kind', "CR"),
            ("foils.+", {"where": "mounting", "relation": "MIP", "thickness_um": 8, "closure": "light"}),
            ("foils.1.held", "16, 17"),
            ("by", "QP"),
        ],
    )
    assert after.splitlines() == [
        'code = "X"',
        'by = "QP"',
        "",
        "[marks.places]",
        'UR = { arch = "upper" }',
        'LR = { arch = "lower" }',
        "",
        "[marks.states]",
        'A = { kind = "MIP by hand" }',
        'B = { kind = "record in", record = "record 1" }',
        "",
        "[marks]",
        'readings_mm = """',
        "pair  A            B",
        "UR-LR  38,05/38,1  39.5",
        '"""',
        "",
        "[records]",
        '"record 1" = { kind = "CR" }',
        "",
        "[[foils]]",
        'where = "mounting"',
        'relation = "MIP"',
        "thickness_um = 8",
        'closure = "light"',
        "held = [16, 17]",
    ]


# --- tables of readings -----------------------------------------------------------------------------------------

NAMES = st.sampled_from(["U-L", "UR-LR", "UA-LA", "a.b-c"]) | WORD
STATES = st.sampled_from(["A", "B", "C", "1", "22"]) | WORD
PIECE = st.integers(1, 25000).map(lambda i: i / 100) | st.sampled_from(["38,05", "38.1", "7", "36,10"])


@settings(max_examples=200)
@given(
    st.lists(
        st.tuples(st.just("cell"), NAMES, STATES, st.lists(PIECE, max_size=3))
        | st.tuples(st.just("row"), NAMES, st.just(""), st.none())
        | st.tuples(st.just("column"), st.just(""), STATES, st.none())
        | st.tuples(st.just("clear"), NAMES, STATES, st.none())
        | st.tuples(st.just("new row"), NAMES, st.just(""), st.none())
        | st.tuples(st.just("new column"), st.just(""), STATES, st.none()),
        max_size=12,
    )
)
def test_a_table_is_what_a_plain_table_of_dicts_would_be(done: list[tuple[str, str, str, Any]]) -> None:
    raw: Any = None
    columns: list[str] = []
    rows: dict[str, dict[str, list[float]]] = {}
    for what, pair, state, pieces in done:
        path, value = ("marks", "readings_mm", pair, state), pieces
        if what in ("row", "new row"):
            path, value = path[:3], None if what == "row" else {}
            rows.pop(pair, None) if what == "row" else rows.setdefault(pair, {})
        elif what in ("column", "new column"):
            path = ("marks", "readings_mm", parse_field("*")[0], state)
            value = None if what == "column" else ""
            if what == "column":
                columns = [one for one in columns if one != state]
                rows = {p: {s: v for s, v in cells.items() if s != state} for p, cells in rows.items()}
            elif state not in columns:
                columns.append(state)
        elif what == "clear":
            value = None
            if pair in rows:
                rows[pair].pop(state, None)
        else:
            columns += [state] * (state not in columns)
            rows.setdefault(pair, {})[state] = [float(str(one).replace(",", ".")) for one in pieces]
        if what == "new row" and not columns:
            del rows[pair]  # a row without any column is no row
        if not columns:
            rows = {}
        raw = changed_table(raw, path, value)
        if not columns:
            assert raw is None
            continue
        assert isinstance(raw, str)
        found = parse_grid(raw)
        assert list(found["states"]) == columns
        assert {pair: list(cells) for pair, cells in found["rows"].items()} == {
            pair: [tuple(cells.get(state, [])) for state in columns] for pair, cells in rows.items()
        }
        if what == "cell":
            assert all(piece in raw for piece in pieces if isinstance(piece, str)), "kept as typed"


TABLE = """# above
pair    A        B       # by hand, then record 1
U-L     36,10    38,05
# between
U-M     36,1/36,2   -    # slipped once
# below
"""


@pytest.mark.parametrize(
    ("field", "value", "gone", "come"),
    [
        ("U-L.B", "38.1/38,2", ["U-L     36,10    38,05"], ["U-L     36,10    38.1/38,2"]),
        ("U-L.B", "38,2 / 38,3", ["U-L     36,10    38,05"], ["U-L     36,10    38,2/38,3"]),
        ("U-L.B", "-", ["U-L     36,10    38,05"], ["U-L     36,10    -"]),
        ("U-L.B", 38, ["U-L     36,10    38,05"], ["U-L     36,10    38,00"]),
        ("V-L.B", 38, [], ["V-L     -        38,00"]),
        ("V-L", {"A": 1, "B": None}, [], ["V-L     1,00     -"]),
        ("U-M", None, ["U-M     36,1/36,2   -    # slipped once"], []),
        ("U-L", {}, [], []),
        (
            "*.A",
            None,
            TABLE.splitlines()[1:3] + TABLE.splitlines()[4:5],
            ["pair    B       # by hand, then record 1", "U-L     38,05", "U-M     -    # slipped once"],
        ),
        (
            "*.B",
            None,
            TABLE.splitlines()[1:3] + TABLE.splitlines()[4:5],
            [
                "pair    A       # by hand, then record 1",
                "U-L     36,10",
                "U-M     36,1/36,2    # slipped once",
            ],
        ),
        (
            "*.C",
            {"U-L": "1.5"},
            TABLE.splitlines()[1:3] + TABLE.splitlines()[4:5],
            [
                "pair    A        B     C  # by hand, then record 1",
                "U-L     36,10    38,05  1.5",
                "U-M     36,1/36,2   -  -  # slipped once",
            ],
        ),
    ],
)
def test_rows_columns_and_cells_of_a_table_typed_by_hand(
    field: str, value: Any, gone: list[str], come: list[str]
) -> None:
    text = f'code = "x" # mine\n[marks]\nreadings_mm = """\n{TABLE}"""   # behind\n'
    before, after = text.splitlines(), edited_text(text, {f"marks.readings_mm.{field}": value}).splitlines()
    assert [line for line in before if line not in after] == gone
    assert [" ".join(line.split()) for line in after if line not in before] == [
        " ".join(line.split()) for line in come
    ]
    assert "# behind" in after[-1]


def test_names_that_cannot_stand_in_text_make_a_table_of_lists() -> None:
    after = edited_text(
        'code = "x"\n',
        [('marks.readings_mm."U L"."A 1"', "38,05/7"), ('marks.readings_mm."U L".B', 3)],
    )
    raw = tomllib.loads(after)["marks"]["readings_mm"]
    assert raw == {"states": ["A 1", "B"], "rows": {"U L": [["38,05", "7"], [3.0]]}}
    again = edited_text(after, {'marks.readings_mm.*."A 1"': None, 'marks.readings_mm."U L".B': "4,5"})
    assert tomllib.loads(again)["marks"]["readings_mm"] in (
        {"states": ["B"], "rows": {"U L": [["4,5"]]}},
        "pair  B\nU L  4,5\n",
    )


# --- checked together, and only then ----------------------------------------------------------------------------


def test_a_state_and_its_first_reading_come_together() -> None:
    before = read(BENCH.encode())
    both = [
        ("marks.readings_mm.UR-LR.K", "38,05"),
        ("marks.states.K", {"kind": "record in", "record": "record 9"}),
        ('records."record 9"', {"kind": "CR"}),
    ]
    for order in itertools.permutations(both):
        case = edited(before, order).case
        assert case.marks is not None and case.marks.readings_mm.get("UR-LR", "K") == (38.05,)
    for alone in both[:2]:
        with pytest.raises(FaultError) as refused:
            edited(before, [alone])
        assert [fault.code for fault in refused.value.faults] == ["case.reference"]


def test_a_first_row_may_come_with_its_columns() -> None:
    text = edited_text(
        'code = "x"\n',
        {
            "marks.places.U": {"arch": "upper"},
            "marks.places.L": {"arch": "lower"},
            "marks.states.A": {"kind": "MIP by hand"},
            "marks.states.B": {"kind": "record in"},
            "marks.readings_mm.U-L": {"A": "-", "B": "38,05"},
        },
    )
    marks = parse_case(text).marks
    assert marks is not None
    assert marks.readings_mm.states == ("A", "B")
    assert marks.readings_mm.rows == {"U-L": ((), (38.05,))}


def test_a_case_has_nothing_but_a_code_and_entries_come_and_go() -> None:
    before = read(b'code = "X"\n')
    assert before.case == Case(code="X")
    with_one = edited(before, {"bench.powder_g": "116"})
    assert with_one.case.bench is not None and with_one.case.bench.powder_g == 116
    assert edited(with_one, {"bench": None}).case == Case(code="X")
    assert (
        edited(with_one, {"note": None, "marks": None, "foils": None, "marks.readings_mm.a.b": None})
        == with_one
    )


def test_several_entries_of_a_folder_are_changed_in_one_step(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text('code = "x"\n# mine\n', encoding="utf-8")
    new_item = (
        "foils.+",
        {"where": "mounting", "relation": "MIP", "thickness_um": "8", "closure": "light"},
    )
    set_values(tmp_path, [new_item, new_item, ("foils.2.thickness_um", "12,5")])
    assert [foil.thickness_um for foil in load_case(tmp_path).foils] == [8, 12.5]
    assert len(list((tmp_path / "earlier").iterdir())) == 1
    assert "# mine" in (tmp_path / "case.toml").read_text(encoding="utf-8")


# --- values as typed --------------------------------------------------------------------------------------------


@given(st.decimals(-999, 999, allow_nan=False, places=2) | st.integers(-999, 999))
def test_a_plain_number_keeps_its_digits_without_quotation_marks(number: Any) -> None:
    text = str(number)
    typed = as_typed(("bench", "room_c"), text)
    after = edited_text('code = "x"\n', {"bench.room_c": text})
    assert f"room_c = {text}\n" in after
    assert tomllib.loads(after)["bench"]["room_c"] == float(number) == typed
    assert copy.deepcopy(typed) == typed and repr(copy.deepcopy(typed)) == text


@pytest.mark.parametrize(
    ("field", "value", "kept"),
    [
        ("bench.powder_g", "38,05", '"38,05"'),
        ("bench.powder_g", " 38.50 ", "38.50"),
        ("bench.powder_g", "1,250", '"1,250"'),
        ("bench.powder_g", "007", '"007"'),
        ("bench.powder_met_water", "10:02", '"10:02"'),
        ("instrument.pin.ahead_mm", "110 +- 0,5", '"110 +- 0,5"'),
        ("instrument.pin.ahead_mm", {"value": "110,0", "u": "0.50"}, '{ value = "110,0", u = 0.50 }'),
        ("code", "0417", '"0417"'),
        ("note", "12", '"12"'),
        ("dentition.missing", "18 28,38; 48", "[18, 28, 38, 48]"),
        ("dentition.missing", ["18", 28], "[18, 28]"),
        ("date", "2026-03-02", "2026-03-02"),
        ("date", "2.3.2026", '"2.3.2026"'),
        ("foils.+", {"held": ["16"], "thickness_um": "8.0"}, "held = [16]\nthickness_um = 8.0"),
        ("pours.a.powder_met_water", "2026-03-02T10:02:00+01:00", "2026-03-02T10:02:00+01:00"),
        ("pours.a.powder_met_water", "2026-03-02T10:02:00.250Z", "2026-03-02T10:02:00+00:00"),
        ("foils.+", {"others_free": "true"}, "others_free = true"),
        ("unknown.thing", "38.5", '"38.5"'),
    ],
)
def test_what_is_typed_stands_in_the_file_as_a_person_would_write_it(
    field: str, value: Any, kept: str
) -> None:
    assert kept in edited_text('code = "x"\n', {field: value})


@pytest.mark.parametrize(
    ("field", "words", "value"),
    [
        ("dentition.missing", ["18", "28"], [18, 28]),
        ("dentition.missing", ["18"], [18]),
        ("dentition.missing", ["[18, 28]"], [18, 28]),
        ("dentition.missing", ["18, 28"], [18, 28]),
        ("dentition.missing", ["none"], ["none"]),
        ("bench.powder_g", ["116"], 116),
        ("bench.powder_g", ["116", "117"], ["116", "117"]),
        ("note", ["{ no brackets"], "{ no brackets"),
        ('records."record 1"', ['{ kind = "CR" }'], {"kind": "CR"}),
        ("bench.gaps", ["{ ahead_mm = 1 }", "{ ahead_mm = 2 }"], [{"ahead_mm": 1}, {"ahead_mm": 2}]),
    ],
)
def test_words_of_a_command_are_read_as_the_entry_needs_them(
    field: str, words: list[str], value: Any
) -> None:
    assert as_asked(parse_field(field), words) == value


def test_a_number_as_typed_is_a_number() -> None:
    assert Typed("38.50") == 38.5 and repr(Typed("38.50")) == "38.50"
    with pytest.raises(ValueError, match="convert"):
        Typed("38,5")


# --- what cannot be done says so --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("foils.+", None, "case.wrong_type"),
        ("bench.+", 1, "case.unknown_field"),
        ("+", 1, "case.unknown_field"),
        ("foils.+.held", 1, "case.unknown_field"),
        ("foils.1.held", [11], "case.reference"),
        ("foils.1", None, "case.reference"),
        ("code.x", 1, "case.unknown_field"),
        ("bench.*.x", 1, "case.unknown_field"),
        ("marks.readings_mm.*", None, "case.wrong_type"),
        ("marks.readings_mm.U-L.A", "38 mm", "case.wrong_type"),
        ("marks.readings_mm.U-L.A", "38,05 39", "case.wrong_type"),
        ("marks.readings_mm.U-L.A", True, "case.wrong_type"),
        ("marks.readings_mm.U-L.A", {"a": 1}, "case.wrong_type"),
        ("marks.readings_mm.U-L.A", [None], "case.wrong_type"),
        ("marks.readings_mm.U-L.A", 10**400, "case.wrong_type"),
        ("marks.readings_mm.U-L", 3, "case.wrong_type"),
        ("note", "\ud800", "case.wrong_type"),
        ("a*b", 1, "case.unknown_field"),
    ],
)
def test_what_cannot_be_entered_says_why(field: str, value: Any, code: str) -> None:
    with pytest.raises(FaultError) as refused:
        edited_text('code = "x"\n', {field: value})
    (fault,) = refused.value.faults
    assert (fault.code, bool(fault.what), bool(fault.todo)) == (code, True, True)
    assert "\ue000" not in str(refused.value)


def test_a_table_that_cannot_be_read_is_named() -> None:
    with pytest.raises(FaultError) as refused:
        edited_text(
            'code = "x"\n[marks]\nreadings_mm = """\nA B\nU-L 1\n"""\n', {"marks.readings_mm.U-L.A": 3}
        )
    assert [(fault.code, fault.field) for fault in refused.value.faults] == [
        ("case.wrong_type", "marks.readings_mm")
    ]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.just("1,5"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
FIELD = st.lists(
    st.sampled_from(
        [
            "marks",
            "readings_mm",
            "states",
            "foils",
            "+",
            "*",
            "1",
            "9",
            "bench",
            "gaps",
            "instrument",
            "pin",
            "A",
            "x",
        ]
    )
    | st.text(max_size=4).map(json.dumps),
    min_size=1,
    max_size=5,
).map(".".join)


@settings(max_examples=300)
@given(st.sampled_from([BENCH, 'code = "x"\n']), st.lists(st.tuples(FIELD, JSON), max_size=3))
def test_whatever_is_sent_is_read_or_refused_with_words(text: str, edits: list[Edit]) -> None:
    try:
        after = edited_text(text, edits)
        read(after.encode())
    except FaultError as error:
        assert error.faults


@given(st.lists(st.text(min_size=1, max_size=5) | st.just(APPEND), min_size=1, max_size=4))
def test_names_of_entries_are_read_as_they_are_shown(path: list[str]) -> None:
    try:
        found = parse_field(shown_field(tuple(path)))
    except FaultError:
        assert any(c in "".join(path) for c in "\x00\x7f\n\r\t") or not "".join(path).isprintable()
    else:
        assert found == tuple(path)


def test_a_grid_that_is_no_grid_raises_what_it_says() -> None:
    with pytest.raises(GridError):
        parse_grid("A B\nU-L 1\n")
