"""Tips of the upper teeth from a real scan: each on its tooth, as low as it gets, and the plane they give the bow."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from mountproof.answers.ledger import Ledger
from mountproof.answers.scan_tips import TIP_U_MM, upper_tips
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.scans import read_face_teeth, read_scan
from mountproof.geometry.poses import Array, exp6, transform
from mountproof.teeth import right_to_left


def case_of(open_arches: Path, folder: Path, *, numbered: bool = True, first: Array | None = None) -> Case:
    """The upper open arch beside a case; ``first`` (4, 4) moves it once more after its placement."""
    given = json.loads((open_arches / "placement.json").read_text())
    frame = (np.eye(4) if first is None else first) @ np.array(given["frame_from_scan"])
    (folder / "upper.obj").write_bytes((open_arches / "case0_upper.obj").read_bytes())
    (folder / "upper.csv").write_bytes((open_arches / "case0_upper_faceFDI.csv").read_bytes())
    teeth = 'teeth_file = "upper.csv"\n' if numbered else ""
    return parse_case(
        'code = "OPEN-ARCHES"\n[dentition]\nmissing = [18, 28, 38, 48]\n'
        '[facebow]\naxis = "ear rods"\nphoto_cant_deg = 0.0\n'
        '[[scans]]\narch = "upper"\nfile = "upper.obj"\nunit = "mm"\nsides_compared = true\n'
        f"{teeth}placement = {{ frame_from_scan = {frame.tolist()} }}\n",
        folder=folder,
    )


def crowns(case: Case) -> dict[int, Array]:
    """Points of every tooth in the frame, by the numbers beside the scan."""
    assert case.folder is not None
    scan = read_scan(case.folder / "upper.obj")
    teeth = read_face_teeth(case.folder / "upper.csv", len(scan.faces))
    points = transform(np.array(case.scans[0].placement.frame_from_scan), scan.vertices)
    return {int(t): points[np.unique(scan.faces[teeth == t])] for t in np.unique(teeth[teeth > 0])}


@pytest.mark.open_arches
def test_tips_of_real_teeth(open_arches: Path, tmp_path: Path) -> None:
    case = case_of(open_arches, tmp_path)
    found = upper_tips(case, Ledger("mounting"))
    assert found is not None
    own = crowns(case)
    assert set(found.places) == set(own) == {t for t in right_to_left("upper") if t % 10 < 8}
    above = []
    for tooth, at in found.places.items():
        points = own[tooth]
        assert (at >= points.min(axis=0)).all() and (at <= points.max(axis=0)).all()
        above.append(at[1] - points[:, 1].min())
        # near the surface of its own tooth: a mean over two cusps would hang in the fissure between them
        assert np.linalg.norm(points - at, axis=1).min() < 0.5
    assert min(above) > 0.0 and max(above) < 0.3 and np.std(above) < TIP_U_MM
    for tooth, at in found.inner.items():
        middle = own[tooth].mean(axis=0)
        assert abs(at[2]) < abs(middle[2])
        assert at[1] - own[tooth][:, 1].min() < 0.3  # the inner tips of these molars are their lowest
    assert set(found.inner) == {16, 17, 26, 27}


@pytest.mark.open_arches
def test_tips_without_tooth_numbers_are_those_with_them(open_arches: Path, tmp_path: Path) -> None:
    given = upper_tips(case_of(open_arches, tmp_path), Ledger("mounting"))
    told = upper_tips(case_of(open_arches, tmp_path, numbered=False), Ledger("mounting"))
    assert given is not None and told is not None and set(given.places) == set(told.places)
    off = [float(np.linalg.norm(given.places[t] - told.places[t])) for t in given.places]
    assert max(off) < 0.3


@pytest.mark.open_arches
def test_the_plane_of_a_real_scan_turns_with_its_placement_and_is_not_known_exactly(
    open_arches: Path, tmp_path: Path
) -> None:
    """Turned by known angles about the hinge and from side to side, pitch and cant follow; their doubt is never nothing."""
    told = []
    for pitch, cant in ((0.0, 0.0), (8.0, 0.0), (0.0, 2.0)):
        turn = exp6(np.radians([cant, 0.0, -pitch, 0.0, 0.0, 0.0]))
        found = answer(case_of(open_arches, tmp_path, first=turn), ["mounting"])["mounting"]
        told.append((found["pitch"], found["cant"]))
        assert found["pitch"].u is not None and found["pitch"].u > 0.1
        assert found["cant"].u == pytest.approx(math.degrees(TIP_U_MM * math.sqrt(2.0) / 40.0), rel=0.05)
    assert told[1][0].value - told[0][0].value == pytest.approx(8.0, abs=0.6)
    assert told[2][1].value - told[0][1].value == pytest.approx(2.0, abs=0.3)
    assert abs(told[1][1].value - told[0][1].value) < 0.3
