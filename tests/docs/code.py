"""What the code says of itself: functions that pages name, shapes and units in docstrings, sources."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator
from typing import NamedTuple

from docs.generate import ROOT, SRC

_NAMED = re.compile(r"`(mountproof(?:\.\w+)+)`")
#: Annotations that stand for an array whose shape a reader must know.
_ARRAYS = re.compile(r"\b(?:NDArray|ArrayLike|Array|Floats|F64|I32|Ints|Labels|Flags)\b")
_SHAPE = re.compile(r"\((?:\w+|\d+)(?:, ?(?:\w+|\d+))*,?\)|\b4x4\b|\bscalar\b")
#: Functions whose docstring does not give the shape of an array yet. To be emptied, never to grow.
STILL_TO_SAY = frozenset(
    {
        "movement",
        "words",
        "move",
        "distances",
        "reading_part",
        "weighted",
        "sights",
        "exact",
        "checked",
        "pose",
        "translation",
        "inverse",
        "rotation_vector",
        "log6",
        "point_jacobian",
        "longest_extent",
        "tooth_side",
        "molar_width",
        "to_the_right",
        "to_the_front",
        "blurred",
        "turned",
        "level",
        "distance_mm",
        "lifted_right",
        "contacts_json",
        "pattern_mask",
    }
)


def named_in(text: str) -> set[str]:
    """Names of the program that a page gives in code style."""
    return set(_NAMED.findall(text))


def exists(name: str) -> bool:
    """Whether a dotted name leads to something in the program."""
    parts = name.split(".")
    for cut in range(len(parts), 0, -1):
        try:
            thing: object = importlib.import_module(".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        for attribute in parts[cut:]:
            if not hasattr(thing, attribute):
                return False
            thing = getattr(thing, attribute)
        return True
    return False


class Public(NamedTuple):
    """A public function: where it stands, its docstring, and its array parameters."""

    place: str
    name: str
    doc: str
    arrays: tuple[str, ...]


def public_functions() -> Iterator[Public]:
    """Every public function and method of public classes in public modules."""
    for file in sorted(SRC.rglob("*.py")):
        if any(part.startswith("_") and part != "__init__.py" for part in file.relative_to(SRC).parts):
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for owner in [tree, *(n for n in tree.body if isinstance(n, ast.ClassDef) and n.name[0] != "_")]:
            for node in owner.body:
                if isinstance(node, ast.FunctionDef) and node.name[0] != "_":
                    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
                    arrays = tuple(
                        a.arg
                        for a in arguments
                        if a.annotation is not None and _ARRAYS.search(ast.unparse(a.annotation))
                    )
                    place = f"{file.relative_to(ROOT)}:{node.lineno}"
                    own = ast.get_docstring(node) or ""
                    doc = own if owner is tree else f"{ast.get_docstring(owner) or ''}\n{own}"
                    yield Public(place, node.name, doc if own else "", arrays)


def untold(one: Public) -> str:
    """What is missing in a docstring, or nothing."""
    if not one.doc:
        return "no docstring"
    if one.arrays and not _SHAPE.search(one.doc):
        return f"no shape for {', '.join(one.arrays)}"
    return ""


def bib_keys() -> set[str]:
    """Keys of docs/sources.bib."""
    text = (ROOT / "docs" / "sources.bib").read_text(encoding="utf-8")
    return set(re.findall(r"^@\w+\{([\w-]+),", text, re.MULTILINE))


def bib_used_by_program() -> set[str]:
    """Keys of ``mountproof.answers.words.SOURCES`` that entries of docs/sources.bib say they stand behind."""
    text = (ROOT / "docs" / "sources.bib").read_text(encoding="utf-8")
    return {
        k for line in re.findall(r"behind\s*=\s*\{([^}]*)\}", text) for k in re.split(r"[ ,]+", line) if k
    }
