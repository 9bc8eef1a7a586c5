"""The picture of the slide: one panel for each place and view, one scale, and the ends as a table."""

from __future__ import annotations

import re

import numpy as np
import pytest

from mountproof.answers.picture_data import SlidePath
from mountproof.surfaces.pictures.plate import Plate
from mountproof.surfaces.pictures.slides import slide_plate
from mountproof.surfaces.pictures.svg import plate_svg
from mountproof.surfaces.web.tongue import speaker

NAMES = ("incisors", "last molar right", "last molar left", "condyle right", "condyle left")


def path(with_mip: bool = True) -> SlidePath:
    line = np.linspace(0.0, 1.0, 5)[:, None]
    ends = np.array(
        [[0.9, 0.8, -0.2], [0.8, 0.4, -0.1], [0.7, 0.4, -0.1], [0.6, -0.2, 0.1], [0.3, -0.1, 0.1]]
    )
    return SlidePath(NAMES, tuple(line * end for end in ends), ends + 0.1 if with_mip else None)


def drawn(found: SlidePath, language: str = "en") -> Plate:
    return slide_plate(found, speaker(language))


def lines(plate: Plate) -> list[np.ndarray]:
    """Points of the ways, without the crosses and the scale."""
    ways = [mark.d for mark in plate.marks if mark.look == "thick" and mark.d.count("L") > 1]
    return [
        np.array([[float(v) for v in re.findall(r"-?\d+\.\d", p)] for p in d[1:].split(" L")]) for d in ways
    ]


@pytest.mark.parametrize("with_mip", [True, False])
def test_each_way_is_drawn_from_the_side_and_from_above_in_one_scale(with_mip: bool) -> None:
    found = path(with_mip)
    ways = lines(drawn(found))
    assert len(ways) == 2 * len(NAMES)
    run = np.array([way[-1] - way[0] for way in ways])
    ends = np.array([track[-1] for track in found.tracks_mm])
    scale = run[0, 0] / ends[0, 0]
    assert scale > 10.0
    # forward is to the right and up is up; from above the patient's right is on the left
    assert run[:5] == pytest.approx(scale * np.stack([ends[:, 0], -ends[:, 1]], axis=1), abs=0.2)
    assert run[5:] == pytest.approx(scale * np.stack([-ends[:, 2], -ends[:, 0]], axis=1), abs=0.2)


def test_the_table_has_every_end() -> None:
    plate = drawn(path())
    assert len(plate.table.rows) == 10
    assert plate.table.rows[0][2:] == ("+0.90", "+0.80", "-0.20")
    assert plate.table.rows[1][2:] == ("+1.00", "+0.90", "-0.10")
    assert len(drawn(path(False)).table.rows) == 5
    assert plate_svg(plate).startswith(b"<svg")


def test_it_speaks_german_and_stays_inside() -> None:
    plate = drawn(path(), "de")
    assert "Erstkontakt" in plate.title
    assert "+0,90" in plate.table.rows[0]
    for mark in plate.marks:
        if mark.text:
            assert 0.0 <= mark.y <= plate.height and 0.0 <= mark.x <= plate.width
