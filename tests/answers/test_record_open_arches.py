"""Question 3 on real crowns with a made-up record between them: the pose, nothing named, and its time."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict
from mountproof.answers.scanned_records import scanned_relations
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.scans import read_face_teeth, read_scan, write_stl
from mountproof.geometry.poses import inverse, transform
from mountproof.phantom.arch import PhantomArch
from mountproof.phantom.record_scan import cusp_of, record_surface

#: Three times what was wanted: other tests share the machine. `python -m benchmarks record_on_cast` has it alone.
WITHIN_S = 6.0


def forget() -> None:
    """Empty everything that the program remembers of earlier answers."""
    for name, module in list(sys.modules.items()):
        if name.startswith("mountproof."):
            for one in vars(module).values():
                if hasattr(one, "cache_clear"):
                    one.cache_clear()


@pytest.mark.open_arches
def test_a_record_between_real_crowns(open_arches: Path, tmp_path: Path) -> None:
    given = json.loads((open_arches / "placement.json").read_text())
    frame, pose = np.array(given["frame_from_scan"]), np.array(given["upper_from_lower_record"])
    casts = {}
    for name in ("upper", "lower"):
        scan = read_scan(open_arches / f"case0_{name}.obj")
        teeth = read_face_teeth(open_arches / f"case0_{name}_faceFDI.csv", len(scan.faces))
        casts[name] = PhantomArch(transform(frame, scan.vertices), scan.faces, teeth)
        (tmp_path / f"{name}.obj").write_bytes((open_arches / f"case0_{name}.obj").read_bytes())
        (tmp_path / f"{name}.csv").write_bytes((open_arches / f"case0_{name}_faceFDI.csv").read_bytes())
    wax = record_surface(casts["upper"], casts["lower"], pose, edge_mm=0.3, noise_mm=0.01)
    write_stl(tmp_path / "wax.stl", transform(inverse(frame), wax.vertices_mm), wax.faces, head="wax")
    points = []
    for tooth in (46, 41, 36):
        tip = cusp_of(casts["lower"], tooth, "lower")
        seen = transform(inverse(frame), transform(pose, tip) + 0.2)
        points.append(
            f'{{ name = "{tooth}", arch = "lower", cast = {transform(inverse(frame), tip).tolist()}, '
            f"record = {seen.tolist()} }}"
        )
    entries = [
        f'[[scans]]\narch = "{n}"\nfile = "{n}.obj"\nunit = "mm"\nsides_compared = true\nteeth_file = "{n}.csv"\n'
        f"placement = {{ frame_from_scan = {frame.tolist()} }}"
        for n in casts
    ]
    text = "\n".join(
        [
            'code = "OPEN-ARCHES"',
            "[dentition]",
            "missing = [18, 28, 38, 48]",
            *entries,
            '[records.wax]\nkind = "CR"',
            'scan = { file = "wax.stl", unit = "mm", shows = "the record", lies_on = ["upper"],'
            f" points = [{', '.join(points)}] }}",
            "",
        ]
    )
    seconds = []
    for _ in range(4):
        forget()
        case = parse_case(text, folder=tmp_path)
        start = time.perf_counter()
        found = answer(case, ["record"])["record"]
        seconds.append(time.perf_counter() - start)
    assert found.headline == "Wax lies on both casts."
    assert found.verdict is Verdict.AGREES
    (relation,) = scanned_relations(case, Ledger("record"))
    at = np.array([[90.0, -42.0, 0.0], [50.0, -35.0, 28.0], [50.0, -35.0, -28.0]])
    off = np.linalg.norm(transform(relation.upper_from_lower @ inverse(pose), at) - at, axis=1)
    assert off.max() < 0.01
    print(f"question 3: {min(seconds):.2f} s")  # noqa: T201
    assert min(seconds) < WITHIN_S
