"""The demo case on disk: an invented bench case, and made-up casts that go with it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Literal

from mountproof.answers.progress import Progress, quiet
from mountproof.case.scans import write_ply, write_stl
from mountproof.faults import Fault, FaultError
from mountproof.phantom.arch import build_arch
from mountproof.phantom.truth import record_pose

#: Triangles of each cast: enough for smooth cusps, few enough to write in a blink.
_TRIANGLES = 214_000
_ARCHES: tuple[Literal["upper"], Literal["lower"]] = ("upper", "lower")
_PLACEHOLDER = "# upper_from_lower_of_record_1"


def make_demo(
    folder: Path,
    progress: Progress = quiet,
    *,
    triangles: int = _TRIANGLES,
    kind: Literal["stl", "ply"] = "stl",
) -> Path:
    """Write ``case.toml`` and both casts of the demo into a folder; return the path of ``case.toml``.

    A demo that is there already is written anew; FaultError where another case stands in the folder.
    """
    target = folder / "case.toml"
    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    if target.exists() and not target.read_text(encoding="utf-8", errors="replace").startswith(text[:60]):
        raise FaultError(
            [
                Fault(
                    "demo.other_case",
                    "another case stands here, and the demo would overwrite it",
                    "Name another folder for the demo with --out",
                    where=str(folder),
                )
            ]
        )
    folder.mkdir(parents=True, exist_ok=True)
    for done, arch in enumerate(_ARCHES):
        progress(0.1 * done, f"making the {arch} cast")
        cast = build_arch(arch, triangles)
        path = folder / f"{arch}.{kind}"
        if kind == "stl":
            write_stl(path, cast.vertices_mm, cast.faces)
        else:
            write_ply(path, cast.vertices_mm, cast.faces)
    rows = ",\n    ".join("[" + ", ".join(f"{x:.9f}" for x in row) + "]" for row in record_pose(1).tolist())
    text = text.replace(_PLACEHOLDER, f"upper_from_lower = [\n    {rows},\n]")
    target.write_text(text.replace(".stl", f".{kind}"), encoding="utf-8")
    return target
