"""What the pages and the program say to a person: text without code, the program's own sentences, word checks."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from docs.generate import ROOT, SRC

#: Words that have no place in what a person reads, with every ending they come in.
FORBIDDEN = re.compile(
    r"\b(?:(?:force[sd]?|forcing|forceful|load(?:s|ed|ing)?|overload\w*|unsafe|safe(?:r|st|ly|ty)?|"
    r"(?:in)?correct(?:s|ed|ing|ly|ion|ions|ness)?|ideal(?:s|ly)?|grind(?:s|ing|er|ers)?|"
    r"one-click|neuromuscular)(?![\w-]*\.\w)|ICPs?|TMDs?)\b",
    re.IGNORECASE,
)
#: ICP and TMD are meant as capitals; marks of brands; how a project is organised is nobody's business.
_MARKS = re.compile(r"[®™]")
_FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
_CODE = re.compile(r"`[^`\n]+`")
_LINK = re.compile(r"\]\([^)]*\)")
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)


def prose(page: Path) -> str:
    """A page's text without code and targets of links; output of the program stays."""
    text = page.read_text(encoding="utf-8")
    kept = re.sub(r"^```(?:console|text)\b[^\n]*\n(.*?)^```$", r"\1", text, flags=re.MULTILINE | re.DOTALL)
    kept = _FENCE.sub("", kept)
    return _COMMENT.sub("", _LINK.sub("]", _CODE.sub("", kept)))


def unwanted(text: str) -> list[str]:
    """The forbidden words of a text, in order."""
    found = [m.group(0) for m in FORBIDDEN.finditer(text)]
    return [*(w for w in found if w.lower() not in ("icp", "tmd") or w.isupper()), *_MARKS.findall(text)]


#: Packages whose sentences a person reads.
_SPEAKING = ("answers", "bench", "case", "doubt", "geometry", "occlusion", "phantom", "records", "surfaces")


def sentences() -> Iterator[tuple[str, str]]:
    """Every string of more than one word that the program may show, with its place; docstrings are for developers.

    Text inside a compiled pattern, and file contents that are no words, have no blanks between letters and drop out.
    """
    for package in _SPEAKING:
        for file in sorted((SRC / package).rglob("*.py")):
            tree = ast.parse(file.read_text(encoding="utf-8"))
            silent = _docstrings(tree) | _raised_for_programmers(tree)
            for node in ast.walk(tree):
                if not (isinstance(node, ast.Constant) and isinstance(node.value, str)) or id(node) in silent:
                    continue
                if re.search(r"[A-Za-z] [A-Za-z]", node.value):
                    yield f"{file.relative_to(ROOT)}:{node.lineno}", node.value
    sheet = SRC / "surfaces" / "report" / "sheet.typ"
    for found in re.finditer(r'"([^"\n]*[A-Za-z] [A-Za-z][^"\n]*)"', sheet.read_text(encoding="utf-8")):
        yield str(sheet.relative_to(ROOT)), found[1]


def _docstrings(tree: ast.AST) -> set[int]:
    silent = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            for child in body:
                if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                    silent.add(id(child.value))
    return silent


def _raised_for_programmers(tree: ast.AST) -> set[int]:
    """Constants inside ValueError, TypeError, KeyError and AttributeError: for whoever calls the library."""
    silent = set()
    for node in ast.walk(tree):
        name = getattr(getattr(node, "func", None), "id", "") if isinstance(node, ast.Call) else ""
        if name in ("TypeError", "KeyError", "AttributeError"):
            silent |= {id(inner) for inner in ast.walk(node)}
    return silent
