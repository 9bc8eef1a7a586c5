"""The demo: the invented bench case joined to made-up casts that fit it."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Literal

from mountproof.answers.progress import Progress, quiet
from mountproof.case.atomic import replace_file
from mountproof.case.text_file import CASE_FILE
from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say, term

Kind = Literal["stl", "obj", "ply"]
_ARCHES: tuple[Literal["upper", "lower"], ...] = ("upper", "lower")
_POSE_LINE = "# upper_from_lower_of_record_1"


def make_demo(
    folder: str | Path, progress: Progress = quiet, *, triangles: int = 214_000, kind: Kind = "stl"
) -> Path:
    """Make the demo case in ``folder``: case.toml and two scans of about ``triangles`` each; return the case file.

    An earlier demo in the same folder is renewed and its case.toml kept under ``earlier``. Raises FaultError
    ``demo.other_case`` where the folder holds another case, ``out.not-writable`` where nothing can be written.
    """
    folder = Path(folder)
    file = folder / CASE_FILE
    text = _text(kind)
    before = _before(file, text)
    from mountproof.phantom.arch import build_arch

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for at, arch in enumerate(_ARCHES):
            progress(0.1 + 0.3 * at, say("making the {arch} cast", arch=term(arch)))
            cast = build_arch(arch, triangles)
            _WRITERS[kind](folder / f"{arch}.{kind}", cast.vertices_mm, cast.faces)
    except OSError as error:
        why = refusal(error)
        todo = say("Name another folder with --out")
        raise FaultError(
            [
                Fault(
                    "out.not-writable",
                    say("the demo cannot be written here: {why}", why=why),
                    todo,
                    str(folder),
                )
            ]
        ) from error
    replace_file(file, text.encode(), before)
    return file


def _text(kind: Kind) -> str:
    from mountproof.phantom.truth import record_pose

    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    rows = ",\n  ".join(f"[{', '.join(f'{x:.12g}' for x in row)}]" for row in record_pose(1) + 0.0)
    assert _POSE_LINE in text
    text = text.replace(_POSE_LINE, f'upper_from_lower = [\n  {rows},\n]\nrelation_in = "frame coordinates"')
    return text.replace('.stl"', f'.{kind}"')


def _before(file: Path, text: str) -> bytes | None:
    """Return what stands in the case file so far; refuse to touch a case that is not this demo."""
    if not file.exists():
        return None
    try:
        before = file.read_bytes()
    except OSError as error:
        why = refusal(error)
        fault = Fault(
            "out.not-writable",
            say("this cannot be read: {why}", why=why),
            say("Name another folder"),
            str(file),
        )
        raise FaultError([fault]) from error
    if before.split(b"\n", 1)[0].strip() != text.split("\n", 1)[0].encode():
        raise FaultError(
            [
                Fault(
                    "demo.other_case",
                    say("this folder holds a case that is not the demo; it is left as it is"),
                    say("Name another folder with --out"),
                    str(file.parent),
                )
            ]
        )
    return before


def _write_obj(path: Path, vertices_mm: object, faces: object) -> None:
    import numpy as np

    from mountproof.surfaces.outfile import write_whole

    points = "".join(f"v {x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in np.asarray(vertices_mm).tolist())
    triangles = "".join(f"f {a} {b} {c}\n" for a, b, c in (np.asarray(faces) + 1).tolist())
    write_whole(
        path,
        f"# made-up cast of the demo, mm\n{points}{triangles}".encode(),
    )


def _write_stl(path: Path, vertices_mm: object, faces: object) -> None:
    from mountproof.case.scans import write_stl

    write_stl(path, vertices_mm, faces, head="made-up cast of the demo, mm")  # type: ignore[arg-type]


def _write_ply(path: Path, vertices_mm: object, faces: object) -> None:
    from mountproof.case.scans import write_ply

    write_ply(path, vertices_mm, faces)  # type: ignore[arg-type]


_WRITERS: dict[Kind, Callable[[Path, object, object], None]] = {
    "stl": _write_stl,
    "obj": _write_obj,
    "ply": _write_ply,
}
