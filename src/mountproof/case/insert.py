"""Add an entry to a text where a person would: in the place of its example, below its neighbours, under a new heading.

What is yielded are attempts, the likeliest first; whoever asks reads each and takes the first that holds what it should.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_origin

from mountproof.case.dump import key, long_string, value
from mountproof.case.fields import is_model, plain, spot
from mountproof.case.lines import Path, Places, locate
from mountproof.case.model import Case
from mountproof.case.syntax import without_remark

#: Parts whose own parts stand on one line each.
_SHORT = (("limits",),)


def insertions(text: str, path: Path, entry: Any) -> Iterator[str]:
    """Yield texts with a new entry at ``path``, its parts included where they are not there."""
    places = locate(text)
    path, entry = _with_parts(places, path, entry)
    if isinstance(path[-1], int):
        yield from _items(text, places, path, entry)
    elif isinstance(entry, dict) and stands_alone(path):
        yield from _headed(text, places, path, entry)
    else:
        yield from _under_heading(text, places, path, entry)
        around = path[:-1]
        if around:
            yield from _headed(text, places, around, {str(path[-1]): entry})


def stands_alone(path: Path) -> bool:
    """Tell whether the part at ``path`` stands under a heading of its own rather than on a line."""
    if isinstance(path[-1], int):
        return len(path) == 2
    kind = spot(Case, path).type
    around = spot(Case, path[:-1]).type if len(path) > 1 else Case
    named = is_model(around) is not None and path[:-1] not in _SHORT
    return named and (is_model(kind) is not None or get_origin(plain(kind)) is dict)


def _with_parts(places: Places, path: Path, entry: Any) -> tuple[Path, Any]:
    """Take parts that are not there yet and stand on a line of their own into the entry."""
    while len(path) > 1 and path[:-1] not in places.lines and not stands_alone(path[:-1]):
        last = path[-1]
        if isinstance(last, int) and _is_headed_list(path[:-1], [entry]):
            break
        path, entry = path[:-1], [entry] if isinstance(last, int) else {str(last): entry}
    return path, entry


def _under_heading(text: str, places: Places, path: Path, entry: Any) -> Iterator[str]:
    around, name = path[:-1], str(path[-1])
    lines = text.split("\n")
    found = [line for line, heading in places.headings if heading == around] if around else [0]
    if not found:
        example = _example_heading(lines, around)
        if example is None:
            return
        lines[example] = lines[example][1:]
        yield from _under_heading("\n".join(lines), locate("\n".join(lines)), path, entry)
        return
    start = found[0]
    end = min((line for line, _ in places.headings if line > start), default=len(lines) + 1) - 1
    new = _line(name, entry)
    for at in range(start, end):
        line = lines[at]
        if line.startswith(f"#{key(name)} =") and not _example(line).endswith(("[", '"""')):
            remark = line[len(_example(line)) :].lstrip()
            width = len(line) - len(remark)
            yield "\n".join([*lines[:at], f"{new:<{width}}{remark}" if remark else new, *lines[at + 1 :]])
            break
    # Behind the last line that is no remark; where that is inside of something, in front of the first entry.
    last = max((at for at in range(start + 1, end + 1) if _holds_something(lines[at - 1])), default=start)
    own = [at for place, at in places.lines.items() if place[:-1] == around and start < at <= end]
    for at in dict.fromkeys([last, min(own, default=start + 1) - 1]):
        yield "\n".join([*lines[:at], new, *lines[at:]])


def _holds_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _headed(text: str, places: Places, path: Path, entry: dict[str, Any]) -> Iterator[str]:
    """Yield the text with a part under a heading of its own: in the place of its example, in its item, at the end."""
    lines = text.rstrip("\n").split("\n")
    block = _block(path, entry, f"[{_heading(path)}]")
    at = len(lines)
    items = [n for n in range(len(path)) if isinstance(path[n], int)]
    if items:
        at = _end_of(places, path[: items[-1] + 1], at)
    elif (example := _example_heading(lines, path)) is not None:
        lines[example] = lines[example][1:]
        new: str | None = "\n".join(lines) + "\n"
        for name, inside in entry.items():
            new = None if new is None else next(insertions(new, (*path, str(name)), inside), None)
        if new is not None:
            yield new
        lines[example] = f"#{lines[example]}"
    yield "\n".join([*lines[:at], *block, *_parted(lines[at:])]) + "\n"


def _items(text: str, places: Places, path: Path, entry: Any) -> Iterator[str]:
    """Yield the text with an item more in a list of headings."""
    around = path[:-1]
    if not isinstance(entry, dict) or len(path) != 2 or not isinstance(around[0], str):
        return
    lines = text.rstrip("\n").split("\n")
    block = _block(path, entry, f"[[{_heading(around)}]]")
    before = path[-1] - 1 if isinstance(path[-1], int) else 0
    example = _example_heading(lines, around, many=True)
    at = len(lines)
    if before >= 0:
        at = _end_of(places, (*around, before), at)
    elif example is not None:
        at = next((n for n in range(example, at) if not lines[n].startswith("#")), at)
    for here in dict.fromkeys([at, len(lines)]):
        yield "\n".join([*lines[:here], *block, *_parted(lines[here:])]) + "\n"


def _end_of(places: Places, item: Path, last: int) -> int:
    """Return the line behind an item of a list of headings, remarks before the next heading left to that."""
    heads = [(line, path) for line, path in places.headings]
    inside = [line for line, path in heads if path[: len(item)] == item]
    if not inside:
        return last
    after = [line for line, path in heads if line > max(inside)]
    entries = [line for path, line in places.lines.items() if path[: len(item)] == item]
    return max(entries) if after and max(entries) < min(after) else last


def _block(path: Path, entry: dict[str, Any], heading: str) -> list[str]:
    """Return the lines of a part from an empty one and its heading on."""
    own, inner = [], []
    for name, inside in entry.items():
        here = (*path, str(name))
        if isinstance(inside, dict) and stands_alone(here):
            inner += _block(here, inside, f"[{_heading(here)}]")
        elif isinstance(inside, list) and _is_headed_list(here, inside):
            for item in inside:
                inner += _block((*here, 0), item, f"[[{_heading(here)}]]")
        else:
            own += _line(str(name), inside).split("\n")
    return ["", heading, *own, *inner]


def _is_headed_list(path: Path, entry: list[Any]) -> bool:
    return len(path) == 1 and bool(entry) and all(isinstance(item, dict) for item in entry)


def _line(name: str, entry: Any) -> str:
    long = isinstance(entry, str) and "\n" in entry
    return f"{key(name)} = {long_string(entry) if long else value(entry)}"


def _heading(path: Path) -> str:
    return ".".join(key(part) for part in path if isinstance(part, str))


def _parted(lines: list[str]) -> list[str]:
    """Return the lines that follow with an empty one before them."""
    return lines if not lines or not lines[0].strip() else ["", *lines]


def _example_heading(lines: list[str], path: Path, many: bool = False) -> int | None:
    """Return the line of a heading that stands behind ``#``, counted from 0; None where there is not just one."""
    if not all(isinstance(part, str) for part in path):
        return None
    heading = f"#[[{_heading(path)}]]" if many else f"#[{_heading(path)}]"
    found = [at for at, line in enumerate(lines) if line.rstrip() == heading]
    return found[0] if len(found) == 1 else None


def _example(line: str) -> str:
    """Return an example that stands behind ``#``, without the remark behind it."""
    return line[:1] + without_remark(line[1:])
