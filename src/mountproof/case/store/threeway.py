"""Bring two changes of one case together: what each changed alone is taken, what both changed is reported.

Entries are those of ``differences``. An entry that both changed to the same is no conflict. Items may be added to a
list by one and changed in it by the other; where one took items out, the whole list is one entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from mountproof.case.finding import dotted
from mountproof.case.lines import Path
from mountproof.case.model import Case, Readings
from mountproof.case.store.differences import MISSING, absent, cells_of, is_items, is_part, same, text_of


class Clash(NamedTuple):
    """One entry that both changed, as text: before, in ``mine``, in ``theirs``; None where it is not there."""

    field: str
    base: str | None
    mine: str | None
    theirs: str | None


def merged(base: Case, mine: Case, theirs: Case) -> tuple[Case, tuple[Clash, ...]]:
    """Return the case with both changes in it, and every entry that both changed.

    The case is not checked as a whole: two changes that are fine alone may not fit together. Where there are
    clashes it holds ``theirs`` for them.
    """
    clashes: list[Clash] = []
    found = _three((), base, mine, theirs, clashes)
    return found, tuple(clashes)


def merged_files(
    base: Mapping[str, str], mine: Mapping[str, str], theirs: Mapping[str, str]
) -> tuple[dict[str, str], tuple[Clash, ...]]:
    """The same for the files of a case: name to SHA-256."""
    clashes: list[Clash] = []
    found = _names(("files",), dict(base), dict(mine), dict(theirs), clashes)
    return found, tuple(clashes)


def _three(path: Path, base: Any, mine: Any, theirs: Any, clashes: list[Clash]) -> Any:
    if same(mine, base) or same(mine, theirs):
        return theirs
    if same(theirs, base):
        return mine
    if is_part(mine) and type(mine) is type(theirs) and (base in (None, MISSING) or type(base) is type(mine)):
        chosen = {}
        for name in type(mine).model_fields:
            before = getattr(base, name) if is_part(base) else absent(type(mine), name)
            chosen[name] = _three((*path, name), before, getattr(mine, name), getattr(theirs, name), clashes)
        return mine.model_copy(update=chosen)
    if isinstance(mine, Readings) and isinstance(theirs, Readings):
        return _tables(path, base, mine, theirs, clashes)
    if isinstance(mine, dict) and isinstance(theirs, dict):
        return _names(path, base if isinstance(base, dict) else {}, mine, theirs, clashes)
    if is_items(base, mine, theirs):
        return _items(path, base, mine, theirs, clashes)
    clashes.append(Clash(dotted(path), text_of(base), text_of(mine), text_of(theirs)))
    return theirs


def _names(
    path: Path, base: dict[str, Any], mine: dict[str, Any], theirs: dict[str, Any], clashes: list[Clash]
) -> dict[str, Any]:
    found = {}
    for name in _ordered(list(base), list(mine), list(theirs)):
        was, ours, other = (one.get(name, MISSING) for one in (base, mine, theirs))
        entry = _three((*path, name), was, ours, other, clashes)
        if entry is not MISSING:
            found[name] = entry
    return found


def _ordered(base: list[str], mine: list[str], theirs: list[str]) -> list[str]:
    """Return every name once; in the order of whoever changed it, theirs where both did."""
    moved = [n for n in theirs if n in base] != [n for n in base if n in theirs]
    first, second = (theirs, mine) if moved or len(theirs) > len(base) else (mine, theirs)
    return list(dict.fromkeys([*first, *second, *base]))


def _items(
    path: Path, base: tuple[Any, ...], mine: tuple[Any, ...], theirs: tuple[Any, ...], clashes: list[Clash]
) -> tuple[Any, ...]:
    if min(len(mine), len(theirs)) < len(base):
        clashes.append(Clash(dotted(path), text_of(base), text_of(mine), text_of(theirs)))
        return theirs
    found = []
    for at in range(max(len(mine), len(theirs))):
        was, ours, other = (one[at] if at < len(one) else MISSING for one in (base, mine, theirs))
        found.append(_item((*path, at), was, ours, other, clashes))
    return tuple(found)


def _item(path: Path, base: Any, mine: Any, theirs: Any, clashes: list[Clash]) -> Any:
    """Two new items at one place are two items, not one with fields of both."""
    if base is MISSING and mine is not MISSING and theirs is not MISSING and not same(mine, theirs):
        clashes.append(Clash(dotted(path), None, text_of(mine), text_of(theirs)))
        return theirs
    return _three(path, base, mine, theirs, clashes)


def _tables(path: Path, base: Any, mine: Readings, theirs: Readings, clashes: list[Clash]) -> Readings:
    """Bring two tables together cell by cell; rows and columns may be added or taken out by either."""
    tables = [cells_of(one) for one in (base, mine, theirs)]
    columns = [list(one.states) if isinstance(one, Readings) else [] for one in (base, mine, theirs)]
    states, pairs = _still(*columns), _still(*(list(one) for one in tables))
    rows: dict[str, list[Any]] = {pair: [] for pair in pairs}
    for pair in _ordered(*(list(one) for one in tables)):
        for state in _ordered(*columns):
            was, ours, other = (one.get(pair, {}).get(state, MISSING) for one in tables)
            cell = _three((*path, pair, state), was, ours, other, clashes)
            if pair in rows and state in states:
                rows[pair].append(() if cell is MISSING else cell)
            elif cell is not MISSING and cell != ():
                # One took the row or column out, the other wrote into it.
                clashes.append(
                    Clash(dotted((*path, pair, state)), *(text_of(one) for one in (was, ours, other)))
                )
    return Readings(states=tuple(states), rows={pair: tuple(cells) for pair, cells in rows.items()})


def _still(base: list[str], mine: list[str], theirs: list[str]) -> list[str]:
    """Return the names that nobody took out, in order."""
    return [
        name for name in _ordered(base, mine, theirs) if name not in base or (name in mine and name in theirs)
    ]
