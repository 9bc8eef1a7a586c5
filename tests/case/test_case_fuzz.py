"""Whatever stands in a case file: a case or faults, in bounded time, and the file is as it was."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from case.case_strategies import cases
from case.test_template import USED
from mountproof.case.dump import dump
from mountproof.case.fields import dotted
from mountproof.case.files import load_case, parse_case
from mountproof.case.finding import CODES
from mountproof.case.lines import DEEPEST, locate
from mountproof.case.model import Case
from mountproof.case.schema import as_json, json_schema
from mountproof.faults import FaultError

BENCH = Path(__file__).with_name("bench_case.toml").read_text()
VALIDATOR = jsonschema.Draft202012Validator(json_schema())
#: Words of the checking library and of the language that no person at a bench should meet.
JARGON = re.compile(
    r"pydantic|validat|Input should|\bdict\b|\btuple\b|\bNone\b|value_error|_type\b|\bfloat\b|\bint\b|\bstr\b|"
    r"\bbool\b|datetime|Traceback|Error\b|\bparse|\bload\b|\bsafe\b|\bcorrect\b|\bforce\b|\bTOML\b",
)


def fuzz(examples: int) -> settings:
    quiet = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
    return settings(max_examples=examples, suppress_health_check=quiet)


#: Pieces that mean something to a TOML reader or to a person.
PIECES = st.sampled_from(
    ["", " ", "\n", "=", '"', "'", '"""', "'''", "[", "]", "[[", "]]", "{", "}", ",", ".", "#", "\\", "-", "/", "±",
     "0", "-1", "1e400", "nan", "inf", "38,05", "38.05", "1,250", "true", "12:60", "2026-02-30", "\t", "\r", "\x00",
     "\x07", "\ufeff", "ä", "漢", "\U0001f9b7", "a = 1\n", "[marks]\n", "[[scans]]\n", "marks", "UR", "record 1",
     "upper", '"../x"', "999999999999999999999", "0x1F", "1_000", "null", "[]", "{}", "[[], {}]", "code"]
)  # fmt: skip


@st.composite
def damaged(draw: st.DrawFn) -> str:
    """A whole case with a few cuts, swaps, doublings and strange pieces in it."""
    text = draw(st.sampled_from([BENCH, USED]))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        to = min(len(text), at + draw(st.sampled_from([0, 1, 2, 5, 20, 200])))
        way = draw(st.integers(0, 4))
        if way == 0:
            text = text[:at] + text[to:]
        elif way == 1:
            text = text[:at] + draw(PIECES) + text[to:]
        elif way == 2:
            text = text[:to] + text[at:to] + text[to:]
        elif way == 3:
            lines = text.split("\n")
            one, two = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
            lines[one], lines[two] = lines[two], lines[one]
            text = "\n".join(lines)
        else:
            text = text[:at] + text[at:to].swapcase() + text[to:]
    return text


def looked_at(text: str) -> Case | None:
    """Read a text; a case, or faults that a person can act on."""
    try:
        return parse_case(text)
    except FaultError as error:
        assert 1 <= len(error.faults) <= 100
        last = text.count("\n") + 1
        for fault in error.faults:
            assert fault.code in CODES, fault
            assert fault.what and fault.todo, fault
            assert fault.line is None or 1 <= fault.line <= last, fault
            own_words = " ".join((fault.what, fault.todo, fault.allowed))
            quoted = re.sub(r"'[^']*'|\"[^\"]*\"|“.*”|\[[^\]]*\]", "", own_words)
            assert not JARGON.search(quoted), fault
            assert len(str(fault)) < 1500 and "\n" not in str(fault), fault
        return None


@fuzz(220)
@given(damaged())
def test_damaged_cases(text: str) -> None:
    case = looked_at(text)
    if case is not None:
        assert parse_case(dump(case)) == case
        assert list(VALIDATOR.iter_errors(as_json(tomllib.loads(text.replace("\r\n", "\n"))))) == []


@fuzz(300)
@given(st.text(max_size=200) | st.lists(PIECES, max_size=30).map("".join))
@example('code = "x"\nrecords = {}\nscans = [[]]')
@example("code = 'x'\nmarks = { readings_mm = '' }")
@example("code = 'x'\n[marks]\nreadings_mm = {states = ['A'], rows = {'U-L' = [[1], [2]]}}")
@example("code = 'x'\n[limits]\naxis_cost = 3")
@example("schema_version = 1.0\ncode = 'x'")
@example("schema_version = 999999999999999999999\ncode = 'x'")
@example("code = 'x'\nx = " + "[" * 400 + "]" * 400)
def test_random_texts(text: str) -> None:
    looked_at(text)


@fuzz(100)
@given(data=st.binary(max_size=300) | damaged().map(str.encode))
def test_random_bytes_leave_the_file_alone(data: bytes, tmp_path: Path) -> None:
    file = tmp_path / "case.toml"
    file.write_bytes(data)
    before = file.stat().st_mtime_ns
    try:
        load_case(tmp_path)
    except FaultError as error:
        assert all(fault.where for fault in error.faults)
    assert file.read_bytes() == data and file.stat().st_mtime_ns == before
    assert [path.name for path in tmp_path.iterdir()] == ["case.toml"]


#: A value of every kind that TOML knows, and some that are nearly right.
WRONG_TEXTS = ['"x"', '""', '"1,250"', "-1", "0", "1" + "0" * 30, "1e300", "true", "[]", "[1]", "{}", "{ x = 1 }",
               '[[1, 2], "x"]', "2026-03-02", "10:02:00", "nan", "2026-03-02T10:02:00Z"]  # fmt: skip


def entries(doc: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place of a document that holds a value."""
    if isinstance(doc, dict):
        return [p for key, inner in doc.items() for p in [(*path, key), *entries(inner, (*path, key))]]
    if isinstance(doc, list):
        return [p for i, inner in enumerate(doc) for p in [(*path, i), *entries(inner, (*path, i))]]
    return []


def toml(value: Any, wrong_at: tuple[str | int, ...] | None, wrong: str) -> str:
    """Write a document on as few lines as TOML allows, with one value replaced."""

    def inline(inner: Any, path: tuple[str | int, ...]) -> str:
        if path == wrong_at:
            return wrong
        if isinstance(inner, dict):
            return "{ " + ", ".join(f'"{k}" = {inline(v, (*path, k))}' for k, v in inner.items()) + " }"
        if isinstance(inner, list):
            return "[" + ", ".join(inline(v, (*path, i)) for i, v in enumerate(inner)) + "]"
        if isinstance(inner, bool):
            return str(inner).lower()
        return f'"{inner}"'.replace("\n", "\\n") if isinstance(inner, str) else str(inner)

    return "\n".join(f'"{key}" = {inline(inner, (key,))}' for key, inner in value.items()) + "\n"


def test_every_entry_with_wrong_kinds_of_value_is_said_in_plain_words() -> None:
    """Each fault names the entry that was spoilt or something inside it, on its own line."""
    doc = tomllib.loads(USED)
    assert isinstance(doc, dict)
    text_lines = list(doc)
    spoilt = 0
    for turn, path in enumerate(entries(doc)):
        for wrong in WRONG_TEXTS[turn % 7 :: 7]:
            text = toml(doc, path, wrong)
            try:
                parse_case(text)
            except FaultError as error:
                spoilt += 1
                near = [f for f in error.faults if f.line == text_lines.index(str(path[0])) + 1]
                # What others refer to is told where it is referred to: settings stand inside what the articulator takes.
                assert near or path[0] in ("marks", "records", "dentition", "code", "instrument"), (
                    path,
                    wrong,
                    error.faults,
                )
                looked_at(text)
    assert spoilt > 500


@fuzz(60)
@given(cases())
def test_lines_of_entries_agree_with_the_reader(case: Case) -> None:
    """The places found without reading are those of the values a TOML reader finds, and on the right line."""
    text = dump(case)
    places = locate(text)
    doc = tomllib.loads(text)
    found = set(entries(doc))
    assert found <= set(places.lines)
    assert {path for path in places.lines if path not in found} == set()
    lines = text.split("\n")
    for path in found:
        last = path[-1]
        if isinstance(last, str) and last.isascii() and last.isalpha():
            assert last in lines[places.lines[path] - 1], path
    for path, line in places.texts.items():
        value: Any = doc
        for part in path:
            value = value[part]
        assert lines[line - 1] == value.split("\n")[0]


@fuzz(200)
@given(st.lists(PIECES, max_size=60).map("".join) | st.text(max_size=300))
def test_places_are_found_in_any_text_without_fail(text: str) -> None:
    places = locate(text)
    last = text.count("\n") + 1
    assert all(1 <= line <= last for line in places.lines.values())
    assert places.deepest <= DEEPEST + 1
    try:
        doc = tomllib.loads(text)
    except (ValueError, RecursionError):
        return
    assert set(entries(doc)) <= set(places.lines), text


@fuzz(100)
@given(st.lists(st.text(alphabet='ab ."\\-_ä1', max_size=5), min_size=1, max_size=4))
def test_names_of_entries_can_be_read_back(parts: list[str]) -> None:
    from mountproof.case.names import parse_field

    assert parse_field(dotted(tuple(parts))) == tuple(parts)
