"""Cases with a scanned record: coarse casts of the phantom, tooth numbers beside them, and a record as a scanner gives it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.record_on_cast import on_cast
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.scans import write_stl
from mountproof.geometry.poses import Array, exp6, inverse, transform
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.record_scan import RecordScan, cusp_of
from mountproof.phantom.truth import record_pose

TRIANGLES = 60_000
#: Coordinates of the scanner's own choosing.
AWAY = exp6(np.array([0.3, 1.2, -0.5, 10.0, 20.0, -30.0]))
_PICKED = {"upper": (16, 11, 26), "lower": (46, 41, 36)}


@cache
def arch(name: str, triangles: int = TRIANGLES) -> PhantomArch:
    """One cast, made once."""
    return build_arch(name, triangles)  # type: ignore[arg-type]


#: The entries of both casts, as ``write_casts`` writes their files.
CASTS = """[[scans]]
arch = "upper"
file = "upper.stl"
unit = "mm"
teeth_file = "upper_teeth.csv"
placement = { frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }
[[scans]]
arch = "lower"
file = "lower.stl"
unit = "mm"
teeth_file = "lower_teeth.csv"
placement = { with_other_arch = true }"""


def write_casts(folder: Path) -> None:
    """Write both casts with their tooth numbers."""
    for name in ("upper", "lower"):
        made = arch(name)
        write_stl(folder / f"{name}.stl", made.vertices_mm, made.faces, head=name)
        (folder / f"{name}_teeth.csv").write_text("\n".join(map(str, made.teeth.tolist())) + "\n")


def points_of(scan: RecordScan, pose: Array, off_mm: float = 0.3) -> str:
    """Three points of each cast with the same in the scan of the record, picked ``off_mm`` beside."""
    rows, rng = [], np.random.default_rng(5)
    for name, teeth in _PICKED.items():
        for tooth in teeth:
            at = cusp_of(arch(name), tooth, name)
            there = at if name == "upper" else transform(pose, at)
            seen = transform(scan.scan_from_upper, there + rng.normal(0.0, off_mm / np.sqrt(3.0), 3))
            rows.append(
                f'{{ name = "{tooth}", arch = "{name}", cast = {at.tolist()}, record = {seen.tolist()} }}'
            )
    return ", ".join(rows)


def record_case(
    folder: Path,
    scan: RecordScan,
    *,
    pose: Array | None = None,
    joined: bool = False,
    start: str | None = None,
    more: str = "",
) -> Case:
    """Write a case with one scanned record; ``start``: what says where the scan lies, else three points of each cast."""
    write_casts(folder)
    write_stl(folder / "record.stl", scan.vertices_mm, scan.faces, head="record")
    where = start or f"points = [{points_of(scan, record_pose(1) if pose is None else pose)}]"
    shows = "the casts joined by it" if joined else "the record"
    text = f"""code = "RECORD"
{CASTS}
[records."wax 1"]
kind = "CR"
scan = {{ file = "record.stl", unit = "mm", shows = "{shows}", {where} }}
{more}
"""
    return parse_case(text, folder=folder)


def judged(case: Case) -> tuple[Ledger, list[str]]:
    """What the part comes to, and the page it wrote on."""
    ledger = Ledger("record")
    return ledger, on_cast(case, ledger)


def off_mm(found: Array, true: Array) -> float:
    """How far the relation is off at the worst of incisors and second molars."""
    at = np.array([[90.0, -42.0, 0.0], [50.0, -35.0, 28.0], [50.0, -35.0, -28.0]])
    return float(np.linalg.norm(transform(found @ inverse(true), at) - at, axis=1).max())
