"""The command line in this process, on case folders made for it, and a look at whether it left them alone."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from typer.testing import CliRunner

from case import scan_files as sf
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.truth import record_pose
from mountproof.surfaces.cli.app import app

#: Triangles of a made-up cast in these tests: few, so that they are quick; the first contact is on the same teeth.
TRIANGLES = 12_000
FORBIDDEN = re.compile(r"(?i)\b(force|load|safe|correct|ideal|grind|ICP|TMD)\b")
#: Words that tell of the program's inside, never of the bench.
INSIDE = re.compile(r"Traceback|\b(Error|Exception|None|NoneType|KeyError|numpy|pydantic|nan mm)\b")


class Ran(NamedTuple):
    """One run: exit status, standard output, standard error."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is not JSON")


def run(*words: str | Path, columns: int = 80) -> Ran:
    """Run one command; a traceback fails the test."""
    result = CliRunner().invoke(
        app, [str(w) for w in words], env={"COLUMNS": str(columns)}, prog_name="mountproof"
    )
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Ran(result.exit_code, result.stdout, result.stderr)


def prints(folder: Path) -> dict[str, str]:
    """A hash of every file below a folder, and of what is no file: to see whether anything was touched."""
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() if p.is_file() else "no file"
        for p in sorted(folder.rglob("*"))
    }


def bench_text() -> str:
    """The demo case without its scans, as its user wrote it."""
    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    start, end = text.index("[[scans]]"), text.index('[records."record 1"]')
    return text[:start] + text[end:]


def bench_case(folder: Path, text: str | None = None) -> Path:
    """Write a case of readings only."""
    folder.mkdir(exist_ok=True)
    (folder / "case.toml").write_text(bench_text() if text is None else text, encoding="utf-8")
    return folder


@lru_cache(maxsize=2)
def cast(arch: str) -> PhantomArch:
    """One made-up cast, kept between tests."""
    return build_arch(arch, TRIANGLES)  # type: ignore[arg-type]


def matrix_text(matrix: Any) -> str:
    """A matrix as the case file writes it."""
    return (
        "["
        + ", ".join("[" + ", ".join(f"{x:.12g}" for x in row) + "]" for row in np.asarray(matrix) + 0.0)
        + "]"
    )


IDENTITY = f"frame_from_scan = {matrix_text(np.eye(4))}"


def scan_text(
    *,
    upper: str = IDENTITY,
    lower: str = "with_other_arch = true",
    unit: str = "mm",
    names: tuple[str, str] = ("upper.stl", "lower.stl"),
    pose: Any = None,
    extra: tuple[str, str] = ("sides_compared = true", "sides_compared = true"),
    foils: str = "",
) -> str:
    """The text of a case of two scans, closed from the pose of record 1."""
    parts = ['code = "SCANS"', 'mounted_on = "record 1"', "[dentition]", "missing = [18, 28, 38, 48]", foils]
    for arch, name, placement, more in zip(("upper", "lower"), names, (upper, lower), extra, strict=True):
        parts += ["[[scans]]", f'arch = "{arch}"', f'file = "{name}"', f'unit = "{unit}"', more]
        parts += [f"placement = {{ {placement} }}"]
    given = record_pose(1) if pose is None else pose
    parts += ['[records."record 1"]', 'kind = "CR"', f"upper_from_lower = {matrix_text(given)}"]
    parts += ['relation_in = "frame coordinates"']
    return "\n".join(parts) + "\n"


Change = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


def scan_case(
    folder: Path,
    text: str | None = None,
    *,
    upper: Change | bytes | None = None,
    lower: Change | bytes | None = None,
) -> Path:
    """Write a case of two made-up casts; each may be changed first, or replaced by any bytes."""
    folder.mkdir(exist_ok=True)
    (folder / "case.toml").write_text(scan_text() if text is None else text, encoding="utf-8")
    for arch, change in (("upper", upper), ("lower", lower)):
        made = cast(arch)
        v, f = made.vertices_mm.copy(), made.faces.copy()
        if callable(change):
            v, f = change(v, f)
        data = change if isinstance(change, bytes) else stl(v, f)
        (folder / f"{arch}.stl").write_bytes(data)
    return folder


def stl(v: np.ndarray, f: np.ndarray) -> bytes:
    """A binary STL, quickly, and the same bytes as the one of the format tests."""
    records = np.zeros(len(f), [("n", "<f4", 3), ("v", "<f4", (3, 3)), ("x", "<u2")])
    records["v"] = np.asarray(v)[f]
    return b"made for a test".ljust(80, b" ") + len(f).to_bytes(4, "little") + records.tobytes()


assert stl(sf.CUBE_V, sf.CUBE_F) == sf.stl_binary(sf.CUBE_V, sf.CUBE_F)


def refused(
    folder: Path, code: str, *words: str, command: tuple[str | Path, ...] = (), status: int = 2
) -> list[dict[str, Any]]:
    """Ask for the answers of a case that cannot be used, as text and as JSON; return its faults.

    Exit status 2, what is wrong and what to do on standard error and nothing of a traceback, the same faults as JSON on
    standard output and nothing on standard error, no file touched, made or removed.
    """
    asked = command or ("answer", folder)
    before = prints(folder)
    plain, as_json = run(*asked), run(*asked, "--json")
    assert plain.status == as_json.status == status, (plain, as_json)
    assert prints(folder) == before
    faults = as_json.json["faults"]
    assert faults, as_json.out
    assert code in {f["code"] for f in faults}, faults
    shown = " ".join(plain.err.split())
    for fault in faults:
        assert fault["what"] and fault["todo"]
        assert squeezed(fault["what"])[1:] in squeezed(shown), (fault["what"], shown)
        assert squeezed(fault["todo"].rstrip(".")) in squeezed(shown), (fault["todo"], shown)
        if fault["where"]:
            assert squeezed(fault["where"]) in squeezed(shown)
        if fault["line"]:
            assert f"line {fault['line']}" in shown
    for word in words:
        assert squeezed(word) in squeezed(shown), (word, plain.err)
    assert not INSIDE.search(plain.err), plain.err
    assert not FORBIDDEN.search(plain.err), plain.err
    assert not [line for line in plain.err.splitlines() if len(line) > 80], plain.err
    return list(faults)


def squeezed(text: str) -> str:
    """A text without its spaces: lines may have been broken anywhere."""
    return re.sub(r"\s+", "", text)
