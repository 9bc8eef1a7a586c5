"""Compile the kernels once, at set-up, so that the first answer a person asks for is quick."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path


def warm() -> None:
    """Answer the demo case on coarse casts and read one file of each common format, so that every kernel is cached."""
    from mountproof.answers.sheet import answer
    from mountproof.case.files import load_case
    from mountproof.surfaces.demo_case import make_demo

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "demo"
        for kind in ("stl", "ply"):
            make_demo(folder, triangles=12_000, kind=kind)
            sheet = answer(load_case(folder), None if kind == "stl" else ["contacts"])
            evidence = sheet["contacts"].evidence
            if evidence is not None:
                _ = evidence.views, evidence.vertex_gaps


if __name__ == "__main__":
    sys.stderr.write("Compiling kernels ...\n")
    warm()
