"""Sentences of the program that are not made by ``say``: what no language could say again."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

#: Calls whose texts are for programmers, or that know their texts by themselves.
_ASIDE = {
    "say",
    "term",
    "ValueError",
    "TypeError",
    "KeyError",
    "AssertionError",
    "RuntimeError",
    "PydanticCustomError",
    "NotImplementedError",
    "compile",
    "Field",
    "warn",
}
_SENTENCE = re.compile(r"[^\W\d_]{2,}[,;:.]? +[^\W\d_]|[^\W\d_] +[^\W\d_]{2,}|^ ?[^\W\d_]+ $|^ [^\W\d_]+ ?$")


_DATABASE = re.compile(r"(PRAGMA|SELECT|INSERT|UPDATE|DELETE|BEGIN|CREATE|DROP)\b")


class Unsaid(NamedTuple):
    """A sentence and its line."""

    line: int
    text: str


def sentences(file: Path) -> Iterator[Unsaid]:
    """Yield the texts of a file that read like words for a person and are not made by ``say``."""
    yield from _of(ast.parse(file.read_text(encoding="utf-8")))


def _of(node: ast.AST) -> Iterator[Unsaid]:
    if isinstance(node, ast.ClassDef) and any(_name(base) == "StrEnum" for base in node.bases):
        return  # its words are known by themselves
    if isinstance(node, ast.Call) and _name(node.func) in _ASIDE:
        for part in (*node.args[1:], *(word.value for word in node.keywords)):
            if _name(node.func) in ("say", "term"):
                yield from _of(part)
        return
    if isinstance(node, ast.JoinedStr):
        text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        if _DATABASE.match(text):
            return
        if _SENTENCE.search(text.replace("{}", "§")) or re.search(
            r"[^\W\d_]{2,} \{\}|\{\}[,;:]? [^\W\d_]+", text
        ):
            yield Unsaid(node.lineno, text)
            return
    text = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
    if _SENTENCE.search(text) and not _DATABASE.match(text):
        yield Unsaid(getattr(node, "lineno", 0), text)
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue  # a docstring
        yield from _of(child)


def _name(func: ast.expr) -> str:
    return func.id if isinstance(func, ast.Name) else func.attr if isinstance(func, ast.Attribute) else ""


if __name__ == "__main__":
    import sys

    for name in sys.argv[1:]:
        for one in sentences(Path(name)):
            sys.stdout.write(f"{name}:{one.line}: {one.text}\n")
