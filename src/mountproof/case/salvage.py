"""Leave out of a document what cannot be read, so that the rest can still be checked in the same run."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from mountproof.case.lines import Path


class Rest(NamedTuple):
    """What is left of a document, what was left out, and for each shortened list the places its items had."""

    doc: dict[str, Any]
    left_out: frozenset[Path]
    places: dict[Path, list[int]]

    def original(self, path: Path) -> Path:
        """Return the path in the whole document of an entry in what is left."""
        found: Path = ()
        for part in path:
            kept = self.places.get(found) if isinstance(part, int) else None
            found = (*found, kept[part] if kept and isinstance(part, int) and part < len(kept) else part)
        return found

    def touches(self, path: Path) -> bool:
        """Tell whether the entry, something inside it, or its neighbour in a list was left out."""
        return any(
            out[: len(path)] == path
            or path[: len(out)] == out
            or (bool(path) and isinstance(path[-1], int) and out[:-1] == path[:-1])
            for out in self.left_out
        )


def without(doc: dict[str, Any], left_out: Iterable[Path], lacking: Iterable[Path]) -> Rest:
    """Return ``doc`` without the entries at ``left_out`` and without what holds the ``lacking`` ones.

    ``lacking`` are entries that are missing: what they belong to cannot be used. Nothing of ``doc`` is changed.
    """
    gone = {path for path in left_out if path} | {path[:-1] for path in lacking if len(path) > 1}
    gone = {path for path in gone if not any(path[:n] in gone for n in range(1, len(path)))}
    places: dict[Path, list[int]] = {}
    kept = _copy(doc, (), gone, places)
    return Rest(kept, frozenset(gone), places)


def _copy(value: Any, path: Path, gone: set[Path], places: dict[Path, list[int]]) -> Any:
    if not any(out[: len(path)] == path for out in gone):
        return value
    if isinstance(value, dict):
        return {k: _copy(v, (*path, k), gone, places) for k, v in value.items() if (*path, k) not in gone}
    if isinstance(value, list):
        stay = [i for i in range(len(value)) if (*path, i) not in gone]
        places[path] = stay
        return [_copy(value[i], (*path, i), gone, places) for i in stay]
    return value
