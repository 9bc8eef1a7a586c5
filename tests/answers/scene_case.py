"""The demo case with coarse casts of the phantom: small enough for a test, whole enough for a picture."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from mountproof.answers.result import Answer
from mountproof.answers.scene import Scene, scene
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.scans import write_stl
from mountproof.phantom.arch import build_arch
from mountproof.phantom.truth import record_pose

TRIANGLES = 16_000


_POSE_LINE = "# upper_from_lower_of_record_1"


def case_text() -> str:
    """The demo case file with the relation of its record."""
    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    rows = ", ".join(f"[{', '.join(f'{x:.12g}' for x in row)}]" for row in record_pose(1) + 0.0)
    assert _POSE_LINE in text
    return text.replace(_POSE_LINE, f'upper_from_lower = [{rows}]\nrelation_in = "frame coordinates"')


@cache
def arch(name: str) -> Any:
    """One coarse cast, made once."""
    return build_arch(name, TRIANGLES)  # type: ignore[arg-type]


def write_casts(folder: Path, hole: tuple[str, tuple[float, float, float], float] | None = None) -> None:
    """Write both casts; ``hole``: arch, place (mm) and radius (mm) of a hole to be cut."""
    for name in ("upper", "lower"):
        made = arch(name)
        faces = made.faces
        if hole is not None and hole[0] == name:
            middle = made.vertices_mm[faces].mean(axis=1)
            faces = faces[np.linalg.norm(middle - np.array(hole[1]), axis=1) > hole[2]]
        write_stl(folder / f"{name}.stl", made.vertices_mm, faces, head=f"phantom, {name}")


def read(folder: Path, text: str | None = None) -> Case:
    """Write the case into a folder with casts and read it."""
    whole = case_text() if text is None else text
    tomllib.loads(whole)
    return parse_case(whole, folder=folder)


def made(folder: Path, text: str | None = None) -> tuple[Case, Answer, Scene]:
    """The case, its answer to the contacts, and its picture."""
    case = read(folder, text)
    contacts = answer(case, ["contacts"])["contacts"]
    return case, contacts, scene(case, contacts)
