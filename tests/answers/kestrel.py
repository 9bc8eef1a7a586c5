"""The invented demo case without its scans, and small changes to it."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

from mountproof.case.model import Case


def data() -> dict[str, Any]:
    """The demo case as plain data, scans left out."""
    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    whole = tomllib.loads(text)
    del whole["scans"]
    return whole


def case(**changes: Any) -> Case:
    """The demo case with top-level parts replaced; None takes a part out."""
    whole = data()
    for name, value in changes.items():
        if value is None:
            whole.pop(name, None)
        else:
            whole[name] = value
    return Case(**whole)


def with_cell(pair: str, state: str, text: str) -> Case:
    """The demo case with one cell of the table of marks replaced."""
    whole = data()
    lines = whole["marks"]["readings_mm"].splitlines()
    states = lines[0].split()[1:]
    for i, line in enumerate(lines):
        words = line.split()
        if words and words[0] == pair:
            words[1 + states.index(state)] = text
            lines[i] = "  ".join(words)
    whole["marks"]["readings_mm"] = "\n".join(lines)
    return Case(**whole)


def with_state(state: str, change_mm: dict[str, float]) -> Case:
    """The demo case with every reading of one state moved by so much (by pair, or ``*`` for all)."""
    whole = data()
    lines = whole["marks"]["readings_mm"].splitlines()
    states = lines[0].split()[1:]
    for i, line in enumerate(lines[1:], start=1):
        words = line.split()
        if not words:
            continue
        k = 1 + states.index(state)
        words[k] = f"{float(words[k]) + change_mm.get(words[0], change_mm.get('*', 0.0)):.2f}"
        lines[i] = "  ".join(words)
    whole["marks"]["readings_mm"] = "\n".join(lines)
    return Case(**whole)


def with_copy(name: str, state: dict[str, str], like: str) -> Case:
    """The demo case with one more state whose readings are those of another."""
    whole = data()
    whole["marks"]["states"][name] = state
    lines = [line.split() for line in whole["marks"]["readings_mm"].splitlines() if line.split()]
    at = lines[0].index(like)
    whole["marks"]["readings_mm"] = "\n".join(
        "  ".join([*line, name if i == 0 else line[at]]) for i, line in enumerate(lines)
    )
    return Case(**whole)
