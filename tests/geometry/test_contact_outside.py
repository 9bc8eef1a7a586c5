"""First contact against coal (marching and bisecting on its mesh collision), made-up bodies and real arches."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.surface import moved, prepare
from naive.bodies import FAMILIES, Body, pair

collide = pytest.importorskip("naive.collide", reason="coal is a library of the tests")

#: coal calls faces touching that are 1e-6 mm apart (measured: its answer is early by that), so an angle may differ by it
#: over the radius and the slope; 2e-6 mm leaves the bisection its part. No angle may differ by more than 1e-6 rad.
COAL_MM = 2e-6
AGREE_RAD = 1e-6

#: Not asked of coal, because it does not see them (measured: it lets them pass): faces that lie in one
#: another or cross at 1e-10 mm, needles thinner than its own tolerance.
BLIND = ("near tie", "shared edges", "slivers", "near the axis", "level plates")


@pytest.mark.parametrize("family", [f for f in FAMILIES if f not in BLIND])
def test_agrees_with_coal(family):
    met = 0
    for case in range(FAMILIES.index(family), 40 * len(FAMILIES), len(FAMILIES)):
        up, low = pair(case)
        got = first_contact(prepare(*up, arch="upper"), prepare(*low, arch="lower"))
        opened = 0.3 - min(got.closing_rad if got else 0.0, 0.0)
        want = collide.first_touch_rad(up, low, opened_rad=opened, last_rad=1.5)
        assert (got is None) == (want is None), case
        if got is not None:
            met += 1
            off = abs(got.closing_rad - want)
            assert off <= AGREE_RAD and off * math.hypot(*got.point_mm[:2]) * got.rise <= COAL_MM, (
                case,
                got,
                want,
            )
    assert met >= 25


def _arch(folder, name):
    with (folder / name).open() as lines:
        rows = [line.split() for line in lines]
    vertices = np.array([[float(x) for x in r[1:4]] for r in rows if r and r[0] == "v"])
    faces = np.array(
        [[int(x.split("/")[0]) - 1 for x in r[1:4]] for r in rows if r and r[0] == "f"], np.int32
    )
    return vertices, faces


@pytest.fixture(scope="module")
def placed_arches(open_arches):
    frame = np.array(json.loads((open_arches / "placement.json").read_text())["frame_from_scan"])
    placed = []
    for name in ("case0_upper.obj", "case0_lower.obj"):
        vertices, faces = _arch(open_arches, name)
        placed.append(Body(vertices @ frame[:3, :3].T + frame[:3, 3], faces))
    return placed


@pytest.mark.open_arches
def test_real_arches_agree_with_coal(open_arches, placed_arches):
    up, low = placed_arches
    pose = np.array(json.loads((open_arches / "placement.json").read_text())["upper_from_lower_record"])
    upper, lower = prepare(*up, arch="upper"), moved(prepare(*low, arch="lower"), pose)
    got = first_contact(upper, lower)
    assert got is not None
    want = collide.first_touch_rad(up, Body(lower.vertices_mm, low.faces), opened_rad=0.05, last_rad=0.2)
    assert abs(got.closing_rad - want) <= 1e-7
    for cell in (0.3, 1.0, 3.0):
        again = first_contact(
            prepare(*up, arch="upper", cell_mm=cell), moved(prepare(*low, arch="lower", cell_mm=cell), pose)
        )
        assert again is not None and abs(again.closing_rad - got.closing_rad) <= 1e-12
    chart = closing_map(upper, lower)
    lowest = np.nanmin(chart.gap_rad)
    assert got.closing_rad <= lowest <= got.closing_rad + 0.1 * 3 / 60, (
        "a centre 0.1 mm away, three times as steep"
    )


@pytest.mark.open_arches
def test_real_teeth_meet_in_pairs(open_arches, placed_arches):
    up, low = placed_arches
    told = json.loads((open_arches / "placement.json").read_text())
    upper = prepare(*up, arch="upper")
    lower = moved(prepare(*low, arch="lower"), np.array(told["upper_from_lower_record"]))
    labels = [
        np.loadtxt(open_arches / f"case0_{arch}_faceFDI.csv", dtype=np.int64) for arch in ("upper", "lower")
    ]
    met = first_contacts_by_label(upper, lower, *labels)
    first = first_contact(upper, lower)
    assert first is not None and met[0].contact.closing_rad == first.closing_rad
    assert met[0].contact.upper_face == first.upper_face
    sides = {(p.upper_label // 10, p.lower_label // 10) for p in met[:12]}
    assert sides <= {(1, 4), (2, 3), (1, 3), (2, 4)}
    assert len(met) > 20
