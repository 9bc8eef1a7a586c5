"""How entries that can be read two ways were read: decimal commas, repeats."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from mountproof.case.decimals import decimal
from mountproof.case.grid import NOTHING, Word, header, words
from mountproof.case.lines import Path, Places
from mountproof.case.numbers import Measured, Readings
from mountproof.case.units import unit_of
from mountproof.said import figure, joined, say, term

#: A table with more commas than this gets one line for all of them.
_FEW = 2


def echoes(doc: dict[str, Any], case: BaseModel, places: Places) -> tuple[str, ...]:
    """Return one line for every entry of ``doc`` that can be read two ways, in the order of the file."""
    found = sorted(_walk(doc, case, (), places), key=lambda item: item[0])
    return tuple(text for _line, text in found)


def needs_echo(text: str) -> bool:
    """Tell at a glance whether a file may hold anything to echo."""
    return "," in text or "/" in text


def _walk(raw: Any, value: Any, path: Path, places: Places) -> Iterator[tuple[int, str]]:
    if isinstance(raw, str):
        yield from _text(raw, value, path, places)
    elif isinstance(raw, dict):
        for key, inner in raw.items():
            if isinstance(value, BaseModel):
                yield from _walk(inner, getattr(value, key, None), (*path, key), places)
            elif isinstance(value, dict):
                yield from _walk(inner, value.get(key.strip()), (*path, key), places)
    elif isinstance(raw, list) and isinstance(value, tuple):
        for index, (inner, read) in enumerate(zip(raw, value, strict=False)):
            yield from _walk(inner, read, (*path, index), places)


def _text(raw: str, value: Any, path: Path, places: Places) -> Iterator[tuple[int, str]]:
    line = places.line(path) or 0
    unit = unit_of(path)
    if isinstance(value, float) and "," in raw:
        yield (
            line,
            say('line {line}: "{text}" read as {read}', line=line, text=raw, read=_with(value, unit)),
        )
    elif isinstance(value, Measured) and "," in raw:
        read = _with(value.value, unit)
        if value.u is not None:
            read = say("{read} with a standard uncertainty of {u}", read=read, u=_with(value.u, unit))
        yield line, say('line {line}: "{text}" read as {read}', line=line, text=raw, read=read)
    elif isinstance(value, Readings):
        yield from _table(raw, places.texts.get(path, line), path in places.texts)


def _as_read(text: str) -> str:
    """Write a number with the decimals that it was typed with."""
    decimals = len(text.strip().replace(",", ".").partition(".")[2])
    return figure(decimal(text), f".{decimals}f" if "e" not in text.lower() else ".12g")


def _with(value: float, unit: str) -> str:
    return say("{value:.12g} {unit}", value=value, unit=term(unit)) if unit else figure(value)


def _table(raw: str, first: int, long: bool) -> Iterator[tuple[int, str]]:
    """Echo the cells of a table: few commas each by itself, many in one line; repeats in one line."""
    rows = list(words(raw))
    cells = [word for row in rows[1:] for word in row[1:] if word.text not in NOTHING]
    commas = [word for word in cells if "," in word.text]

    def line_of(word: Word) -> int:
        return first + (word.line - 1 if long else 0)

    def one(word: Word) -> str:
        numbers = (_as_read(part) for part in word.text.split("/"))
        return say('"{text}" read as {read} mm', text=word.text, read=joined(say(" and "), numbers))

    if len(commas) > _FEW:
        span = say("lines {first} to {last}", first=line_of(commas[0]), last=line_of(commas[-1]))
        yield (
            line_of(commas[0]),
            say(
                "{lines}: {count} of {all} cells read with a decimal comma, such as {example}",
                lines=span,
                count=len(commas),
                all=len(cells),
                example=one(commas[0]),
            ),
        )
    else:
        yield from (
            (line_of(word), say("line {line}: {what}", line=line_of(word), what=one(word))) for word in commas
        )
    repeats = [word for word in cells if "/" in word.text]
    if repeats:
        example = repeats[0]
        count = example.text.count("/") + 1
        said = say(
            'line {line}: "{text}" read as {count} repeats',
            line=line_of(example),
            text=example.text,
            count=count,
        )
        if len(repeats) > 1:
            said = say("{example}; repeats in {count} cells", example=said, count=len(repeats))
        yield line_of(example), said


def row_of(raw: str, parts: Path) -> int | None:
    """Return the line inside a table (from 1) of a pair, of a pair's cell, or of the line of states."""
    rows = list(words(raw))
    if not rows or not parts:
        return None
    for row in rows[1:]:
        if row[0].text == parts[0]:
            return row[0].line
    return rows[0][0].line if parts[0] in [word.text for word in header(rows[0])] else None
