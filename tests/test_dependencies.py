"""What the program imports is what it is installed with: the libraries of the tests are not there on a user's machine."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def imported() -> dict[str, str]:
    """Libraries that the program imports anywhere, each with one file that does."""
    out: dict[str, str] = {}
    for file in sorted((ROOT / "src").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names = [a.name for a in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            else:
                continue
            for name in names:
                out.setdefault(name.split(".")[0], file.name)
    return {k: v for k, v in out.items() if k not in sys.stdlib_module_names and k != "mountproof"}


def locked() -> set[str]:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    return set(re.findall(r"^([a-z0-9-]+)==", text, re.MULTILINE))


def test_every_import_of_the_program_is_locked_for_its_users() -> None:
    missing = {name: file for name, file in imported().items() if name.replace("_", "-") not in locked()}
    assert not missing, "put these in requirements.in and run tools/lock"


def test_what_is_declared_is_what_is_locked() -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    wanted = (ROOT / "requirements.in").read_text(encoding="utf-8").splitlines()
    assert {re.split("[<>=]", d)[0] for d in declared} == {w for w in wanted if w and w[0] != "#"}
