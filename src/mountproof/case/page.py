"""The page about the case file, made from the model so that it cannot fall behind."""

from __future__ import annotations

import datetime as dt
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from mountproof.case.fields import bounds, choices, is_model, plain, range_text, unit_of
from mountproof.case.finding import CODES, figure
from mountproof.case.limits import Limits
from mountproof.case.model import Case
from mountproof.case.numbers import Measured, Readings
from mountproof.case.wording import toml_value

_HEAD = """# The case file

A case is a folder with a `case.toml` in it, and its scans beside it. `mountproof new FOLDER` makes one to fill in:
every entry explained, nothing measured yet. This page is made from the program itself; the same as a JSON Schema
is [case.schema.json](case.schema.json).

## How things are written

- **Leave out what you have not measured.** Nothing that is left out is made up: where an answer needs a usual
  value it says so and marks it as assumed.
- **Numbers**: `38.05` without quotation marks, or with a decimal comma in quotation marks: `"38,05"`. The program
  says how it read every decimal comma. What could be thousands (`"1,250"`) is refused. No units behind a number.
- **Standard uncertainty**: where the table below says so, `110`, `"110 +- 0.5"` or `{ value = 110, u = 0.5 }`.
- **Lengths** are in mm, from the middle between the two hinge points: *ahead* is forward, *above* upward (below is
  negative), *right* to the patient's right (left is negative).
- **Dates** year first, without quotation marks: `2026-03-02`. **Times** in quotation marks: `"10:02"`.
- **Remarks** stand behind `#`; the program keeps them when it writes.

### The table of readings

    [marks]
    readings_mm = \"\"\"
    pair    A       B             G        # the states, as named under [marks.states]
    UR-LR   36.10   38.05/38.00   36,55    # repeats joined by /; decimal point or comma
    UA-LA   39.10   42.60         -        # nothing read: -
    \"\"\"

The first line names the states; the word `pair` in front of them may be left out. A row is a **pair of marks**: the
name of the upper mark, a hyphen, the name of the lower mark. A name of a mark may itself hold a hyphen as long as
the pair can then be read in one way only; otherwise the file is refused and both readings are named. Names hold no
spaces. In `reseat_mm` the columns are the seatings of one record, not states: any names will do, such as 1 to 5.
Distances are more than 0 and at most 250 mm.

### Teeth

Teeth are numbered as `dentition.numbering` says, in the whole file: `iso3950` (11 to 48; deciduous 51 to 85) or
`universal` (1 to 32). The two share numbers, so nothing is inferred.

### Scans

Files stand inside the case folder; a name that leads out of it is refused. There is at most one scan an arch, and each is
placed in one way or not yet: `frame_from_scan`, `landmarks` (three or more), `hinge_distances` (three or more),
`average` (an assumption), or `with_other_arch`.

### What is kept

Reading never changes a file. When the program writes, it replaces the file in one step, keeps remarks and
layout, and keeps every earlier text as `earlier/case-0001.toml` and so on.
"""


def page() -> str:
    """Return the text of ``docs/case-file.md``."""
    parts = [_HEAD, "## Entries\n"]
    parts += [_section(path, model, many) for path, model, many in _sections(Case, "")]
    parts += [_limits(), _codes()]
    return "\n".join(parts)


def _sections(model: type[BaseModel], path: str) -> list[tuple[str, type[BaseModel], str]]:
    """Return every part with its heading, outermost first; ``many`` says whether there may be several."""
    found: list[tuple[str, type[BaseModel], str]] = [] if path else [(path, model, "")]
    for name, field in model.model_fields.items():
        here = f"{path}.{name}".lstrip(".")
        inside = plain(field.annotation)
        args = get_args(inside)
        inner = is_model(inside) or next((part for one in args if (part := is_model(one))), None)
        if inner is None or inner is Limits:
            continue
        origin = get_origin(inside)
        many = (
            "each has a name of its own"
            if origin is dict
            else "there may be several"
            if origin is tuple
            else ""
        )
        found.append((here, inner, many))
        found += _sections(inner, here)
    return found


def _section(path: str, model: type[BaseModel], many: str) -> str:
    title = f"### `[{path}]`" if path else "### At the top of the file"
    about = (model.__doc__ or "").split("\n")[0] if path else "Above the first [heading]."
    lines = [title, "", f"{about} {many.capitalize()}." if many else about, ""]
    rows = [_row(name, field) for name, field in model.model_fields.items() if not _is_part(field)]
    if rows:
        lines += ["| entry | what it is | unit | allowed | example |", "|---|---|---|---|---|", *rows, ""]
    return "\n".join(lines)


def _is_part(field: FieldInfo) -> bool:
    inside = plain(field.annotation)
    return any(is_model(one) for one in (inside, *get_args(inside)))


def _row(name: str, field: FieldInfo) -> str:
    needed = " (needed)" if field.is_required() else ""
    example = f"`{_example(name, field)}`" if field.examples else ""
    cells = [f"`{name}`{needed}", field.description or "", unit_of((name,)), _allowed(field), example]
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _example(name: str, field: FieldInfo) -> str:
    value = (field.examples or [""])[0]
    inside = plain(field.annotation)
    text = str(value) if inside in (dt.date, dt.datetime) else toml_value(value)
    return f"{name} = {text}"


def _allowed(field: FieldInfo) -> str:
    """Say what may stand there."""
    inside = plain(field.annotation)
    words = choices(inside)
    if words:
        default = "" if field.is_required() or field.default is None else f"; not given: `{field.default}`"
        return ", ".join(f"`{word}`" for word in words) + default
    if inside is float or inside is Measured:
        extra = "may carry a standard uncertainty" if inside is Measured else ""
        return "; ".join(part for part in (range_text(bounds(field), ""), extra) if part) or "a number"
    if inside is Readings:
        return "a table, see above"
    limits = bounds(field)
    if inside is int and limits and limits["ge"] != limits["le"]:
        return f"a whole number, {range_text(limits, '')}"
    return _kind(inside)


def _kind(inside: Any) -> str:
    if get_origin(inside) is tuple:
        item = plain(get_args(inside)[0])
        if get_args(inside)[-1] is Ellipsis:
            return "a list of tooth numbers" if item is int else "a list"
        return "3 numbers" if item is float else "4 rows of 4 numbers, the last row 0, 0, 0, 1"
    return {
        bool: "`true` or `false`",
        dt.datetime: "day, time and offset from UTC",
        dt.date: "a date",
        dt.time: "a time of day",
        int: "1",
    }.get(inside, "text")


def _limits() -> str:
    lines = [
        "## Acceptance limits: `[limits]`",
        "",
        "All can be changed, such as `reseat_sd = { decent = 0.05, redo = 0.08 }`; a limit keeps its unit. At or below",
        "*decent* a result agrees, above *redo* it does not, between them it is doubtful; a guard band of two standard",
        "uncertainties stands on both sides. Limits that are not changed are shown with where they come from.",
        "",
        "| entry | what it is about | decent | redo | unit | where it comes from |",
        "|---|---|---|---|---|---|",
    ]
    for name, field in Limits.model_fields.items():
        limit = field.default
        cells = [
            f"`{name}`",
            field.description or "",
            figure(limit.decent),
            figure(limit.redo),
            limit.unit,
            limit.source,
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _codes() -> str:
    lines = [
        "## Faults",
        "",
        "All faults of a file are reported at once, each with its line, the entry, what was got, what is allowed and what",
        "to do next. An entry is named by its headings and its name, items of a list counted from 1: `foils.2.held`,",
        "a cell of the table as `marks.readings_mm.UR-LR.B`.",
        "",
        "| code | meaning |",
        "|---|---|",
        *(f"| `{code}` | {meaning} |" for code, meaning in CODES.items()),
    ]
    return "\n".join(lines) + "\n"
