"""Output blocks of the pages: every ```console block is the program's own output, run again and compared.

A block may carry, after the word ``console``:

- ``case=NAME``: before the first command, ``my-case`` becomes a copy of ``tests/docs/cases/NAME``;
- ``lines=N``: only the first N lines of the last command are shown, then ``...``;
- ``part="TEXT"``: only the paragraph whose first line contains TEXT is shown, between two ``...``;
- ``rows=N``: of that paragraph only the first N lines.

Commands are run in this process, 80 columns wide. ``$ echo $?`` shows the exit status of the command before it.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

from typer.testing import CliRunner

from mountproof.surfaces.cli.app import app

HERE = Path(__file__).parent
DOCS = HERE.parents[1] / "docs"
WIDTH = 80
_BLOCK = re.compile(r"^```console([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_OPTION = re.compile(r'(\w+)=("[^"]*"|\S+)')


class Block(NamedTuple):
    """One console block: where it stands in its page's text, its options, its commands, and what it shows."""

    start: int
    end: int
    options: dict[str, str]
    commands: tuple[str, ...]
    shown: str


def blocks(text: str) -> list[Block]:
    """The console blocks of a page."""
    out = []
    for found in _BLOCK.finditer(text):
        options = {k: v.strip('"') for k, v in _OPTION.findall(found[1])}
        commands = tuple(line[2:] for line in found[2].splitlines() if line.startswith("$ "))
        out.append(Block(found.start(2), found.end(2), options, commands, found[2]))
    return out


def renewed(text: str, place: Path) -> str:
    """A page's text with every console block run again, in the empty folder ``place``."""
    out, at = [], 0
    with _inside(place):
        for block in blocks(text):
            out += [text[at : block.start], _run(block)]
            at = block.end
    return "".join([*out, text[at:]])


@contextmanager
def _inside(place: Path) -> Iterator[None]:
    before, wide = Path.cwd(), os.environ.get("COLUMNS")
    os.chdir(place)
    os.environ["COLUMNS"] = str(WIDTH)
    try:
        yield
    finally:
        os.chdir(before)
        if wide is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = wide


def _run(block: Block) -> str:
    if "case" in block.options:
        prepare(block.options["case"], Path("my-case"))
    lines: list[str] = []
    status = 0
    for command in block.commands:
        words = shlex.split(command)
        lines.append(f"$ {command}")
        if command == "echo $?":
            lines.append(str(status))
            continue
        if words[0] != "mountproof":
            raise ValueError(f"only mountproof is run in the pages, not {command!r}")
        # Progress shows on slow work only, and would put the machine's pace into the page.
        with patch("mountproof.surfaces.cli.progress._PATIENCE_S", float("inf")):
            result = CliRunner().invoke(app, words[1:], prog_name="mountproof")
        status = result.exit_code
        printed = [line.rstrip() for line in result.output.strip("\n").splitlines()]
        lines += _cut(printed, block.options)
    return "\n".join(lines) + "\n"


def _cut(printed: list[str], options: dict[str, str]) -> list[str]:
    if "lines" in options:
        return [*printed[: int(options["lines"])], "..."]
    if "part" not in options:
        return printed
    first = next((i for i, line in enumerate(printed) if options["part"] in line), None)
    if first is None:
        raise ValueError(f"no line of the output has {options['part']!r}")
    last = next((i for i in range(first, len(printed)) if not printed[i]), len(printed))
    last = min(last, first + int(options.get("rows", len(printed))))
    return ["...", *printed[first:last], "..."]


def prepare(name: str, target: Path) -> None:
    """Put a case of the pages where its commands look for it."""
    if target.exists():
        shutil.rmtree(target)
    shutil.copytree(HERE / "cases" / name, target)
    if name.startswith("scans"):
        from docs.small_casts import write_casts

        write_casts(target, name)
