"""Every text of the program that a language has to know, read off its source and its models."""

from __future__ import annotations

import ast
import errno
import os
import re
from collections.abc import Iterator
from enum import StrEnum
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

from mountproof.case.limits import Limits
from mountproof.case.model import Case
from mountproof.case.schema import models
from mountproof.said.catalogue import HERE, pairs
from mountproof.said.text import bare
from mountproof.surfaces.report.inputs import _label, _limit_name
from mountproof.surfaces.web.shapes.fields import fields_out

SOURCE = Path(__file__).parents[2] / "src" / "mountproof"

#: Enumerations whose values are codes, which nobody reads.
CODES = {"Why"}


class Text(NamedTuple):
    """One template as the files of a language know it, and where it stands."""

    module: str
    line: int
    template: str


def of_module(file: Path) -> Iterator[Text]:
    """Yield the templates of the calls of ``say`` and ``term`` in one file; a template that is no literal is empty."""
    module = ".".join(file.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
            continue
        first = node.args[0]
        literal = first.value if isinstance(first, ast.Constant) and isinstance(first.value, str) else None
        if node.func.id == "say":
            yield Text(module, node.lineno, "" if literal is None else bare(literal))
        elif node.func.id == "term" and literal is not None:
            yield Text(module, node.lineno, as_term(literal))


def as_term(text: str) -> str:
    """Return a whole text as a template."""
    return text.replace("{", "{{").replace("}", "}}")


def sources() -> Iterator[Path]:
    """Yield the files of the program, the makers of texts themselves aside."""
    for file in sorted(SOURCE.rglob("*.py")):
        if file.relative_to(SOURCE).parts[0] != "said":
            yield file


def words_of_enumerations() -> Iterator[Text]:
    """Yield the words of every enumeration of a case and of the answers."""
    for module in (
        "answers.result",
        *(f"case.{file.stem}" for file in sorted((SOURCE / "case").glob("*.py"))),
    ):
        for value in vars(import_module(f"mountproof.{module}")).values():
            if (
                isinstance(value, type)
                and issubclass(value, StrEnum)
                and value.__name__ not in CODES
                and value.__module__ == f"mountproof.{module}"
            ):
                yield from (Text(module, 0, as_term(str(word.value))) for word in value)


#: Why a computer refuses, as it says it.
_REFUSALS = (
    errno.EACCES, errno.EADDRINUSE, errno.EADDRNOTAVAIL, errno.EBUSY, errno.EEXIST, errno.EFBIG, errno.EINVAL,
    errno.EIO, errno.EISDIR, errno.ELOOP, errno.EMFILE, errno.ENAMETOOLONG, errno.ENOENT, errno.ENOSPC,
    errno.ENOTDIR, errno.ENOTEMPTY, errno.EPERM, errno.EROFS, errno.EDQUOT,
)  # fmt: skip


def refusals() -> Iterator[Text]:
    """Yield why the computer may refuse a file."""
    yield from (Text("faults", 0, os.strerror(number).lower()) for number in _REFUSALS)


def descriptions() -> Iterator[Text]:
    """Yield what the fields of a case are for."""
    for model in models(Case):
        for field in model.model_fields.values():
            if field.description:
                yield Text(model.__module__.removeprefix("mountproof."), 0, as_term(field.description))


def of_the_forms() -> Iterator[Text]:
    """Yield what the forms of the page show of every entry of a case."""
    for entry in fields_out("en"):
        choices = (choice.words for choice in entry.choices)
        for text in (entry.label, entry.what, entry.unit, entry.assumed, *choices):
            yield Text("surfaces.web.shapes.labels", 0, as_term(text))


def of_the_entries() -> Iterator[Text]:
    """Yield what the small print of the sheet calls every entry of a case."""
    names = {name for model in models(Case) for name in model.model_fields}
    called = {_label(name)[0] for name in names} | {_limit_name(name) for name in Limits.model_fields}
    yield from (Text("surfaces.report.inputs", 0, as_term(words)) for words in sorted(called))


def has_words(template: str) -> bool:
    """Tell whether a template has a word of its own, which a language must know."""
    return re.search(r"[^\W\d_]", re.sub(r"\{\w+\}", "", template)) is not None


def wanted() -> dict[str, list[str]]:
    """Return the templates that every language needs, by module; each stands once, where it first occurs."""
    texts = [text for file in sources() for text in sorted(of_module(file), key=lambda text: text.line)]
    found: dict[str, list[str]] = {}
    seen = set()
    for text in [
        *texts,
        *words_of_enumerations(),
        *refusals(),
        *descriptions(),
        *of_the_forms(),
        *of_the_entries(),
    ]:
        if has_words(text.template) and text.template not in seen:
            seen.add(text.template)
            found.setdefault(text.module, []).append(text.template)
    return found


def files(language: str) -> list[Path]:
    """Return the files of a language that hold pairs."""
    return [file for file in sorted((HERE / language).glob("*.toml")) if file.name != "language.toml"]


def known(language: str) -> dict[str, dict[str, str]]:
    """Return every pair of a language by its English template."""
    return {pair["en"]: pair for file in files(language) for pair in pairs(file)}
