"""Question 3 with a scanned record between two casts: reading, laying, judging, without the start of the program."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from benchmarks.ratio import Row, forget, median_s

from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.scans import write_stl
from mountproof.phantom.arch import build_arch
from mountproof.phantom.record_scan import record_surface
from mountproof.phantom.truth import record_pose

ROUNDS, MOST_S = 5, 2.0
TRIANGLES, EDGE_MM = 85_000, 0.3


def run() -> list[Row]:
    """Return the one row."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        text, faces = _case(folder)

        def ask() -> str:
            forget()
            return str(answer(parse_case(text, folder=folder), ["record"])["record"].headline)

        assert ask() == "Wax lies on both casts."
        seconds = median_s(ask, ROUNDS)
    what = f"question 3, two casts of {TRIANGLES} triangles and a record of {faces}"
    return [Row(what, seconds, None, "", None, f"at most {MOST_S:g} s", seconds < MOST_S)]


def _case(folder: Path) -> tuple[str, int]:
    made = {n: build_arch(n, TRIANGLES) for n in ("upper", "lower")}
    entries = []
    for name, cast in made.items():
        write_stl(folder / f"{name}.stl", cast.vertices_mm, cast.faces, head=name)
        (folder / f"{name}.csv").write_text("\n".join(map(str, cast.teeth.tolist())) + "\n")
        placed = f"frame_from_scan = {np.eye(4).tolist()}" if name == "upper" else "with_other_arch = true"
        entries.append(
            f'[[scans]]\narch = "{name}"\nfile = "{name}.stl"\nunit = "mm"\nsides_compared = true\n'
            f'teeth_file = "{name}.csv"\nplacement = {{ {placed} }}'
        )
    wax = record_surface(made["upper"], made["lower"], record_pose(1), edge_mm=EDGE_MM, noise_mm=0.01)
    write_stl(folder / "wax.stl", wax.vertices_mm, wax.faces, head="wax")
    scan = 'scan = { file = "wax.stl", unit = "mm", shows = "the record", lies_on = ["upper"] }'
    text = "\n".join(['code = "RECORD"', *entries, '[records.wax]\nkind = "CR"', scan, ""])
    return text, len(wax.faces)
