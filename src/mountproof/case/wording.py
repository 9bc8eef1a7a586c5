"""What is wrong with an entry, in the words of a bench: no word of the checking library reaches a person."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from mountproof.case.fields import (
    Spot,
    bounds,
    choices,
    dotted,
    is_model,
    plain,
    range_text,
    shown,
    spot,
    unit_of,
)
from mountproof.case.finding import Finding
from mountproof.case.grid import GridError
from mountproof.case.lines import Path
from mountproof.case.model import SCHEMA_VERSION, Case
from mountproof.case.numbers import Measured, Readings
from mountproof.case.unreadable import Unreadable
from mountproof.said import capital, figure, joined, say, term

_BOUNDS = {
    "greater_than": say("too small"),
    "greater_than_equal": say("too small"),
    "less_than": say("too large"),
    "less_than_equal": say("too large"),
    "between": say("too small or too large"),
}
_NEEDS_TABLE = {"model_type", "model_attributes_type", "dict_type", "dict_attributes_type", "mapping_type"}
_NEEDS_LIST = {"tuple_type", "list_type", "iterable_type"}
_NEEDS_NUMBER = {"float_type", "float_parsing", "int_type", "int_parsing", "int_from_float", "finite_number"}


def findings(error: Mapping[str, Any], doc: Any) -> Iterator[Finding]:
    """Say one error of the checking library in words. ``doc`` is what was read, to see what stands around it."""
    kind = str(error["type"])
    path: Path = tuple(part for part in error["loc"] if part != "[key]")
    here = spot(Case, path)
    got = error.get("input")
    cause = (error.get("ctx") or {}).get("error")
    if path == ("schema_version",):
        yield version_finding(got)
    elif isinstance(cause, GridError):
        for row, text in cause.faults:
            yield Finding("case.wrong_type", path, text, say("Put the table right on this line"), row=row)
    elif "[key]" in error["loc"]:
        yield Finding(
            "case.wrong_type",
            path,
            say("this name cannot be used"),
            say("Write 1 to 64 characters, without line breaks"),
        )
    elif kind == "extra_forbidden":
        yield _unknown(path, doc, got)
    elif kind == "missing":
        yield _missing(path, here)
    elif kind in _BOUNDS:
        yield _out_of_range(kind, path, here, error)
    elif kind == "enum":
        yield _wrong_word(path, here, got)
    else:
        yield _wrong_type(kind, path, here, got, cause, doc)


def version_finding(got: Any) -> Finding:
    """Say that the version of a file cannot be read."""
    newer = isinstance(got, int) and got > SCHEMA_VERSION
    return Finding(
        "case.version",
        ("schema_version",),
        say("this file is of a newer version than this program can read")
        if newer
        else say("there is no such version"),
        say("Use a newer version of this program")
        if newer
        else say("Write schema_version = {version}", version=SCHEMA_VERSION),
        shown(got),
        say("1 to {version}", version=SCHEMA_VERSION),
    )


def _unknown(path: Path, doc: Any, got: Any) -> Finding:
    """An entry of a name that is not known: what was likely meant, or where it belongs."""
    name, around = str(path[-1]), path[:-1]
    holder = is_model(spot(Case, around).type) or plain(spot(Case, around).type)
    fields = list(holder.model_fields) if isinstance(holder, type) and issubclass(holder, BaseModel) else []
    there = _at(doc, around)
    free = [field for field in fields if not (isinstance(there, dict) and field in there)]
    close = difflib.get_close_matches(name.lower(), free or fields, n=1, cutoff=0.6)
    homes = _homes(Case, name)
    heading = _under(around)
    if homes and (not close or close[0] != name):
        home = joined(
            say(" or "),
            (f"[{dotted(h)}]" if h else say("the top of the file, above the first [heading]") for h in homes),
        )
        todo = say("Move it to {home}", home=home)
    elif close:
        todo = say("Did you mean {name}?", name=close[0])
    else:
        todo = say("Take it out, or put # in front to make it a remark")
    allowed = ", ".join(fields) if len(fields) <= 12 else ""
    return Finding(
        "case.unknown_field",
        path,
        say("{name!r} is not known {heading}", name=name, heading=heading),
        todo,
        shown(got),
        allowed,
    )


def _homes(model: type[BaseModel], name: str, around: Path = ()) -> list[Path]:
    """Return the headings under which ``name`` is known, lists and named parts left aside."""
    found = [around] if name in model.model_fields else []
    for field, info in model.model_fields.items():
        inner = is_model(info.annotation)
        if inner is not None and len(around) < 3:
            found += _homes(inner, name, (*around, field))
    return found[:2]


def _under(around: Path) -> str:
    return say("under [{heading}]", heading=dotted(around)) if around else say("at the top of the file")


def _missing(path: Path, here: Spot) -> Finding:
    name, around = str(path[-1]), path[:-1]
    inner = is_model(here.type)
    if isinstance(path[-1], int):
        todo = say("Write {count} or more, with commas between", count=path[-1] + 1)
        return Finding("case.wrong_type", around, say("the list has too few items"), todo)
    what = here.field.description if here.field else None
    if inner is not None:
        needed = [field for field, info in inner.model_fields.items() if info.is_required()]
        return Finding(
            "case.missing_field",
            path,
            say("the part [{path}] is missing", path=dotted(path)),
            say("Add it, with {names}", names=joined(", ", needed)) if needed else say("Add it"),
        )
    examples = here.field.examples if here.field else None
    add = say("Add it {where}", where=_under(around))
    if examples:
        add = say(
            "Add it {where}, such as {example}",
            where=_under(around),
            example=f"{name} = {toml_value(examples[0])}",
        )
    return Finding(
        "case.missing_field",
        path,
        say("{name} is missing ({what})", name=name, what=term(what))
        if what
        else say("{name} is missing", name=name),
        add,
        allowed=_allowed(path, here),
    )


def _out_of_range(kind: str, path: Path, here: Spot, error: Mapping[str, Any]) -> Finding:
    unit = unit_of(path)
    ctx = error.get("ctx") or {}
    limits = bounds(here.field) if here.field and path[-1] not in ("value", "u") else {}
    limits = limits or {name: ctx[name] for name in ("gt", "ge", "lt", "le") if name in ctx}
    got = error.get("input")
    what = _BOUNDS[kind]
    todo = say("Measure again, or put the number right")
    if kind == "between" and "value" in ctx:
        what = say("too small") if ctx["value"] < ctx["ge"] else say("too large")
    if path[-1] == "water_ml_per_100g" and isinstance(got, int | float) and 0 < got < 1:
        todo = say(
            "This looks like a ratio: {ratio} is {ml} mL for 100 g",
            ratio=figure(got),
            ml=figure(got * 100),
        )
    return Finding("case.out_of_range", path, what, todo, shown(got, unit), range_text(limits, unit))


def _wrong_word(path: Path, here: Spot, got: Any) -> Finding:
    words = choices(here.type)
    lower = {word.lower(): word for word in words}
    close = difflib.get_close_matches(str(got).lower(), list(lower), n=1, cutoff=0.55)
    todo = (
        say('Did you mean "{word}"?', word=lower[close[0]])
        if close
        else say("Write one of the words allowed")
    )
    return Finding(
        "case.out_of_range",
        path,
        say("this word is not known here"),
        todo,
        shown(got),
        ", ".join(f'"{word}"' for word in words),
    )


def _wrong_type(kind: str, path: Path, here: Spot, got: Any, cause: Any, doc: Any) -> Finding:
    """Everything else: a wrong kind of value, a list of a wrong length, a reading that is none."""
    unit = unit_of(path)
    allowed = _allowed(path, here)
    code = "case.wrong_type"
    if kind == "value_error" and cause is not None:
        what = cause.what if isinstance(cause, Unreadable) else str(cause)
        todo = say("Put it right")
        if isinstance(cause, Unreadable) and cause.todo:
            todo = capital(cause.todo)
        return Finding(code, path, what, todo, "" if isinstance(got, dict) else shown(got, unit), allowed)
    if kind in _NEEDS_TABLE or kind == "model_type":
        return _needs_table(path, here, got)
    if kind in _NEEDS_LIST:
        return Finding(
            code,
            path,
            say("a list is needed here"),
            say("Put it in square brackets: [{list}]", list="..." if isinstance(got, dict) else shown(got)),
            shown(got, unit),
            allowed,
        )
    if kind == "string_type":
        todo = (
            say('Put it in quotation marks: "{text}"', text=shown(got))
            if isinstance(got, int | float)
            else say("Write one text")
        )
        return Finding(code, path, say("text is needed here"), todo, shown(got), allowed)
    if kind in _NEEDS_NUMBER:
        return Finding(
            code,
            path,
            say("a number is needed here"),
            say("Write it without quotation marks"),
            shown(got, unit),
            allowed,
        )
    return _wrong_length(kind, path, got, allowed)


def _wrong_length(kind: str, path: Path, got: Any, allowed: str) -> Finding:
    code = "case.wrong_type"
    if kind in ("too_long", "too_short"):
        count = (
            say("Count them (a decimal comma needs quotation marks)")
            if isinstance(got, list | tuple)
            else say("Count them")
        )
        return Finding(
            code,
            path,
            say("the list has a wrong number of items"),
            count,
            shown(got),
            allowed,
        )
    if kind == "string_too_short":
        return Finding(
            code, path, say("this text is empty"), say("Write something, or take the line out"), shown(got)
        )
    if kind == "string_too_long":
        return Finding(
            code,
            path,
            say("this text is too long"),
            say("Shorten it"),
            shown(got),
            say("64 characters for a name"),
        )
    if kind == "string_pattern_mismatch":
        return Finding(
            code, path, say("this name holds a line break or tab"), say("Write it on one line"), shown(got)
        )
    if kind == "string_unicode":
        return Finding(code, path, say("this text holds characters that are none"), say("Type it again"))
    return Finding(
        code, path, say("this cannot be read here"), say("Put it right, or take it out"), shown(got), allowed
    )


def _needs_table(path: Path, here: Spot, got: Any) -> Finding:
    name = str(path[-1]) if path else ""
    if name in Case.model_fields and path != (name,):
        todo = say("Move it to the top of the file, above the first [heading]")
        return Finding(
            "case.unknown_field",
            path,
            say("{name!r} stands under a wrong heading", name=name),
            todo,
            shown(got),
        )
    inner = is_model(here.type)
    inside = list(inner.model_fields)[:3] if inner else []
    example = " = { " + ", ".join(f"{field} = ..." for field in inside) + " }" if inside else ""
    todo = (
        say("Write {entry}", entry=dotted(path[-1:]) + example)
        if example
        else say("Put its entries under a heading [{heading}]", heading=dotted(path))
    )
    return Finding("case.wrong_type", path, say("several named entries are needed here"), todo, shown(got))


def _allowed(path: Path, here: Spot) -> str:
    """Say what may stand at this place."""
    inside = plain(here.type)
    words = choices(inside)
    if words:
        return ", ".join(f'"{word}"' for word in words)
    unit = unit_of(path)
    if inside is float or inside is Measured:
        limits = range_text(bounds(here.field), unit) if here.field else ""
        number = say("a number")
        if limits:
            number = say("a number, {limits}", limits=limits)
        elif unit:
            number = say("a number in {unit}", unit=term(unit))
        if inside is Measured:
            return say('{number}, or with its standard uncertainty "110 +- 0.5"', number=number)
        return number
    if inside is Readings:
        return say('a table as text between """ and """')
    return ""


def _at(doc: Any, path: Path) -> Any:
    for part in path:
        try:
            doc = doc[part]
        except (KeyError, IndexError, TypeError):
            return None
    return doc


def toml_value(value: Any) -> str:
    """Write an example as it stands in a case file."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml_value(item)}" for key, item in value.items()) + " }"
    return format(value, ".12g") if isinstance(value, float) else str(value)
