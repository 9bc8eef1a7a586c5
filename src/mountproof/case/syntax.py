"""Reading the text of a case file: what a slip of typing means, in words, and every slip at once.

A line that is no TOML is put right where only one meaning is possible (``ahead_mm = 110,5``), or else left out,
and reading goes on, so that one run finds all slips. Nothing that was put right is ever used for an answer: a
file with any slip is refused.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any, NamedTuple

from mountproof.case.lines import DEEPEST, Path, locate
from mountproof.said import say

_MOST_SLIPS = 60
#: Beyond these a text is gone through for its depth before it is read: reading takes the square of the depth.
_SUSPICIOUS_TEXT, _SUSPICIOUS_LINE = 64_000, 1_000
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_ENTRY = re.compile(
    r"""(?P<key>\s*(?:[\w-]+|"[^"\n]*"|'[^'\n]*')(?:[ \t]*\.[ \t]*(?:[\w-]+|"[^"\n]*"|'[^'\n]*'))*)"""
    r"""(?P<equals>[ \t]*=[ \t]*)(?P<value>[^\n]*)"""
)
_INNER_COMMA = re.compile(r"(=[ \t]*)([+-]?\d+,\d+)(?=[ \t]*[,}])")
_FANCY = "“”„‟«»‘’‚"


class Slip(NamedTuple):
    """One slip: its line, what it is, the next step, what stood there, and the line put right or left out."""

    line: int | None
    what: str
    todo: str
    got: str = ""
    instead: str | None = None


class Parsed(NamedTuple):
    """What could be read of a text: its values, the slips, and the entries that were left out."""

    values: dict[str, Any]
    slips: tuple[Slip, ...]
    left_out: frozenset[Path]


def _quoted(what: str) -> Callable[[re.Match[str]], tuple[str, str, str]]:
    return lambda m: (what, say('Put it in quotation marks: "{text}"', text=m.group()), f'"{m.group()}"')


#: What a value that is no TOML most likely is: pattern, then (what, next step, value put right or empty).
_VALUES: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], tuple[str, str, str]]], ...] = (
    (
        re.compile(r"[+-]?\d+,\d+"),
        _quoted(say("a number with a decimal comma stands without quotation marks")),
    ),
    (
        re.compile(r"[+-]?[\d.,]+\s*(?:\+-|\+/-|±)\s*[\d.,]+"),
        _quoted(say("a number with its uncertainty stands without quotation marks")),
    ),
    (
        re.compile(r"\d{1,2}:\d{2}(?::\d{2})?"),
        _quoted(say("a time stands without quotation marks")),
    ),
    (
        re.compile(r"\d{1,2}[./]\d{1,2}[./]\d{2,4}"),
        lambda m: (
            say("this is not how a date is written here"),
            say("Write the year first, such as 2026-03-02"),
            "",
        ),
    ),
    (
        re.compile(r"\d{4}-\d{1,2}-\d{1,2}"),
        lambda m: (
            say("there is no such date"),
            say("Write year, month and day with two digits each, such as 2026-03-02"),
            "",
        ),
    ),
    (
        re.compile(r"(?i:true|false|yes|no|on|off)"),
        lambda m: (
            say("yes or no is written true or false here"),
            say("Write true or false, in small letters, without quotation marks"),
            m.group().lower() if m.group().lower() in ("true", "false") else "",
        ),
    ),
    (
        re.compile(r"([+-]?\d+(?:\.\d+)?)\s*[^\W\d]+\S*"),
        lambda m: (
            say("the number carries a unit"),
            say("Write only {number}", number=m.group(1)),
            m.group(1),
        ),
    ),
    (
        re.compile(r"[+-]?0\d+(?:\.\d+)?"),
        lambda m: (say("the number begins with 0"), say("Write it without the 0 in front"), ""),
    ),
    (
        re.compile(r"[+-]?\.\d+|[+-]?\d+\."),
        lambda m: (
            say("a digit is missing beside the decimal point"),
            say("Write 0.5 or 5.0, not .5 or 5."),
            "",
        ),
    ),
    (
        re.compile(r"[^\W\d][^\"'\[\]{}=]*"),
        _quoted(say("text stands without quotation marks")),
    ),
)


def without_remark(value: str) -> str:
    """Return the value without a remark behind it; a ``#`` inside quotation marks stays."""
    quote = ""
    for at, mark in enumerate(value):
        if quote:
            quote = "" if mark == quote else quote
        elif mark in "\"'":
            quote = mark
        elif mark == "#":
            return value[:at].rstrip()
    return value.rstrip()


def _closed(line: str) -> bool:
    """Tell whether leaving out this line leaves nothing open: no long text, no open list or table."""
    bare = re.sub(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'", "", without_remark(line))
    pairs = bare.count("[") == bare.count("]") and bare.count("{") == bare.count("}")
    return pairs and '"""' not in line and "'''" not in line


def _slip_in_entry(number: int, line: str, entry: re.Match[str], reason: str) -> Slip | None:
    """Say what is wrong with ``name = value``; None when it cannot be seen from this line."""
    value = without_remark(entry["value"])
    start = entry["key"] + entry["equals"]
    if not value:
        return Slip(
            number,
            say("nothing stands behind the ="),
            say("Write the value, or take the line out"),
            line.strip(),
            "",
        )
    if value.startswith(('"""', "'''")):
        return None
    if value.startswith("{") and "}" not in value:
        return Slip(
            number, say("a {{ has no }} on the same line"), say("Write all of {{ ... }} on one line"), value
        )
    if any(mark in value for mark in _FANCY):
        plain = value.translate({ord(mark): '"' for mark in _FANCY})
        return Slip(
            number,
            say("these are not the quotation marks of a plain text file"),
            say('Use straight quotation marks: "text"'),
            value,
            start + plain,
        )
    for pattern, seen in _VALUES:
        match = pattern.fullmatch(value)
        if match:
            what, todo, right = seen(match)
            return Slip(number, what, todo, value, start + right if right else "")
    comma = _INNER_COMMA.search(value)
    if comma:
        right = _INNER_COMMA.sub(lambda m: f'{m.group(1)}"{m.group(2)}"', value)
        return Slip(
            number,
            say("a number with a decimal comma stands without quotation marks"),
            say('Put it in quotation marks: "{text}"', text=comma.group(2)),
            comma.group(2),
            start + right,
        )
    if re.match(r"\[.*\d,0\d", value):
        what = say("in this list a comma stands where a decimal point is needed")
        return Slip(
            number, what, say('Write 38.05, or put each number in quotation marks: "38,05"'), value, ""
        )
    if value.count('"') % 2:
        return Slip(
            number,
            say("a quotation mark is missing"),
            say('Put one " before and one " behind the text'),
            value,
            "",
        )
    return None


#: How the reader's own reasons are said; the first whose beginning fits.
_REASONS: tuple[tuple[str, str, str], ...] = (
    ("Cannot overwrite", say("this entry stands twice"), say("Keep one of the two lines")),
    ("Cannot mutate immutable", say("this entry stands twice"), say("Keep one of the two")),
    (
        "Duplicate inline table key",
        say("an entry stands twice between the same {{ and }}"),
        say("Keep one of the two"),
    ),
    (
        "Cannot declare",
        say("this [heading] stands twice"),
        say("Put the entries of both under one heading"),
    ),
    (
        "Cannot redefine",
        say("this [heading] stands twice"),
        say("Put the entries of both under one heading"),
    ),
    ("Unclosed array", say("a list is not closed"), say("Put a ] behind its last item")),
    (
        "Unclosed inline table",
        say("a {{ has no }}"),
        say("Put a }} behind the last entry, on the same line"),
    ),
    (
        "Expected ']",
        say("the heading is not closed"),
        say("Write it as [heading], or [[heading]] for one of several"),
    ),
    (
        "Unterminated string",
        say("a text has no closing quotation mark"),
        say('Close it with the same quotation mark, or """'),
    ),
    (
        "Illegal character '\\n'",
        say("a text has no closing quotation mark"),
        say("Close the text on the same line"),
    ),
    ("Unescaped '\\'", say("a \\ stands in a text"), say("Write \\\\ or put the text between ' and '")),
    ("Illegal character", say("an invisible character stands here"), say("Type the line again")),
    ("Found invalid character", say("an invisible character stands here"), say("Type the line again")),
    (
        "Invalid date",
        say("there is no such date or time"),
        say("Write the year first, such as 2026-03-02"),
    ),
    ("Invalid hex", say("a \\ stands in a text"), say("Write \\\\ or put the text between ' and '")),
    (
        "Escaped character",
        say("a \\ stands in a text"),
        say("Write \\\\ or put the text between ' and '"),
    ),
)


def _slip(text: str, lines: list[str], number: int | None, reason: str) -> Slip:
    """Say in words what stopped the reader on line ``number``."""
    if number is None:
        number = len(lines)
        if reason.startswith(("Unterminated", "Expected '\"'", "Unclosed")):
            number = _opening_line(lines, reason)
    line = lines[number - 1] if number <= len(lines) else ""
    entry = _ENTRY.fullmatch(line)
    if entry and not reason.startswith(("Cannot", "Duplicate")):
        seen = _slip_in_entry(number, line, entry, reason)
        if seen:
            return seen
    shown = line.strip()
    for beginning, what, todo in _REASONS:
        if reason.startswith(beginning):
            if beginning == "Unclosed array":
                opening = _opening_line(lines[:number], reason)
                return Slip(opening, what, todo, lines[opening - 1].strip())
            if beginning == "Cannot overwrite" and entry:
                return Slip(number, what, _twin(text, number, todo), entry["key"].strip(), "")
            return Slip(number, what, todo, shown)
    colon = re.fullmatch(r"(\s*[\w.-]+)\s*:\s*(.*)", line)
    if colon:
        return Slip(
            number,
            say("a : stands where = is needed"),
            say("Write name = value"),
            shown,
            f"{colon[1]} = {colon[2]}",
        )
    return Slip(
        number,
        say("this line is neither a [heading] nor name = value"),
        say("Put it right, or put # in front to make it a remark"),
        shown,
        "",
    )


def _opening_line(lines: list[str], reason: str) -> int:
    """Return the line on which what was never closed most likely begins."""
    opens = re.compile(r"=\s*\[" if "array" in reason else r"\"\"\"|'''|=\s*\{")
    for number in range(len(lines), 0, -1):
        if opens.search(lines[number - 1]):
            return number
    return len(lines)


def _twin(text: str, number: int, todo: str) -> str:
    """Add to ``todo`` on which other line the entry of line ``number`` stands; not in a text too long to search again."""
    if len(text) > _SUSPICIOUS_TEXT:
        return todo
    shadow = "\n".join(line if i != number else "" for i, line in enumerate(text.split("\n"), start=1))
    places, whole = locate(shadow), _paths_of_line(text, number)
    others = sorted({places.lines[path] for path in whole if path in places.lines})
    return say("{todo} (the other is line {line})", todo=todo, line=others[-1]) if others else todo


def _paths_of_line(text: str, number: int) -> set[Path]:
    """Return the entries that stand on line ``number`` when everything before is read as it stands."""
    lines = text.split("\n")
    heads = "\n".join(lines[:number])
    before = locate("\n".join(lines[: number - 1])).lines
    found = {path for path, line in locate(heads).lines.items() if line == number}
    if found:
        return found
    # A twin is remembered under its first line; look at the line alone, under its heading.
    table = next((line for line in reversed(lines[: number - 1]) if line.lstrip().startswith("[")), "")
    alone = {path for path in locate(f"{table}\n{lines[number - 1]}").lines if path in before}
    return {path for path in alone if not any(other[: len(path)] == path for other in alone if other != path)}


def parse(text: str) -> Parsed:
    """Read a TOML text as far as it can be read, with every slip in it.

    Raises RecursionError never: what stands too deep is a slip.
    """
    longest = max((len(line) for line in text.split("\n")), default=0)
    if (len(text) > _SUSPICIOUS_TEXT or longest > _SUSPICIOUS_LINE) and locate(text).deepest > DEEPEST:
        return Parsed({}, (TOO_DEEP,), frozenset())
    slips: list[Slip] = []
    left_out: set[Path] = set()
    lines = text.split("\n")
    mended: dict[int, int] = {}
    for _ in range(max(1, min(_MOST_SLIPS, _MOST_SLIPS * _SUSPICIOUS_TEXT // (len(text) + 1)))):
        try:
            return Parsed(tomllib.loads("\n".join(lines)), tuple(slips), frozenset(left_out))
        except tomllib.TOMLDecodeError as error:
            message = str(error)
        except RecursionError:
            return Parsed({}, (*slips, TOO_DEEP), frozenset(left_out))
        except ValueError:
            return Parsed({}, (*slips, _too_long(lines)), frozenset(left_out))
        place = _PLACE.search(message)
        number = int(place.group(1)) if place and place.group(1) else None
        slip = _slip("\n".join(lines), lines, number, message)
        at = slip.line or 1
        mended[at] = mended.get(at, 0) + 1
        if mended[at] == 1:
            slips.append(slip)
        if slip.instead is None or mended[at] > 2 or not _closed(lines[at - 1]):
            return Parsed({}, tuple(slips), frozenset(left_out))
        instead = slip.instead if mended[at] == 1 else ""
        if not instead:
            left_out |= _paths_of_line("\n".join(lines), at)
        lines[at - 1] = instead
    return Parsed({}, tuple(slips), frozenset(left_out))


TOO_DEEP = Slip(
    None, say("lists or tables stand too deep inside each other"), say("A case file needs no more than a few")
)


def _too_long(lines: list[str]) -> Slip:
    """Say which line holds a number that is too long, or a date that does not exist."""
    for number, line in enumerate(lines, start=1):
        if re.search(r"[\d_]{4000}", line):
            return Slip(number, say("a number is too long to be a reading"), say("Put the line right"))
    return Slip(
        None, say("a number or date in this file cannot exist"), say("Look for a date such as 0000-01-01")
    )
