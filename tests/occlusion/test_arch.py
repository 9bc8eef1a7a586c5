"""Each fault planted in made-up arches and in real ones; a sound pair says nothing; all eight combinations apart."""

from __future__ import annotations

import itertools
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.case.scans import read_face_teeth, read_scan
from mountproof.geometry.topology import Finding
from mountproof.occlusion.arch import ArchScan, check_pair, check_scan, check_transform
from mountproof.teeth import mirrored
from occlusion.grooved_arch import grooved_arch

Mesh = tuple[np.ndarray, np.ndarray, np.ndarray]
TURN_X, TURN_Y, TURN_Z = np.diag([1.0, -1, -1, 1]), np.diag([-1.0, 1, -1, 1]), np.diag([-1.0, -1, 1, 1])
MIRROR = np.diag([1.0, 1, -1, 1])


def codes(findings: tuple[Finding, ...]) -> set[str]:
    for f in findings:
        assert f.what and f.todo and f.severity in ("stop", "ask", "note")
        assert not re.search(
            r"\b(force|load|safe|correct|ideal|grind)\b", f.what + " " + f.todo, re.IGNORECASE
        )
    return {f.code.removeprefix("scan.") for f in findings}


@pytest.fixture(
    scope="module", params=["shells", "open", pytest.param("real", marks=pytest.mark.open_arches)]
)
def pair(request: pytest.FixtureRequest) -> dict[str, Mesh]:
    """Upper and lower in the frame, in contact-like relation, with tooth numbers."""
    if request.param != "real":
        made = {arch: grooved_arch(arch, open_below=request.param == "open") for arch in ("upper", "lower")}
        made["lower"][0][:, 1] -= 0.5
        return made
    folder: Path = request.getfixturevalue("open_arches")
    placement = json.loads((folder / "placement.json").read_text())
    found = {}
    for arch in ("upper", "lower"):
        scan = read_scan(folder / f"case0_{arch}.obj")
        pose = np.array(placement["frame_from_scan"])
        if arch == "lower":
            pose = np.array(placement["upper_from_lower_closed"]) @ pose
        v = scan.vertices @ pose[:3, :3].T + pose[:3, 3]
        found[arch] = v, scan.faces, read_face_teeth(folder / f"case0_{arch}_faceFDI.csv", len(scan.faces))
    return found


def scans(pair: dict[str, Mesh], labels: bool = True, **frames: np.ndarray) -> list[ArchScan]:
    return [
        ArchScan(v, f, frames.get(arch), t if labels else None)
        for arch, (v, f, t) in ((a, pair[a]) for a in ("upper", "lower"))
    ]


# --- one scan --------------------------------------------------------------------------------------


def test_a_sound_scan_says_nothing_but_that_it_might_be_mirrored(pair: dict[str, Mesh]) -> None:
    for v, f, t in pair.values():
        assert codes(check_scan(v, f, t)) == set()
        assert codes(check_scan(v, f)) == {"mirrored_mesh_undetectable"}


@pytest.mark.parametrize(
    ("mm", "code"),
    [
        (25.4, "unit_inch"),
        (1000.0, "unit_metre"),
        (10.0, "unit_centimetre"),
        (0.001, "unit_micrometre"),
        (1 / 25.4, "unit_twice"),
    ],
)
@pytest.mark.parametrize("labels", [True, False])
def test_units_are_named_and_nothing_is_scaled(
    pair: dict[str, Mesh], mm: float, code: str, labels: bool
) -> None:
    for v, f, t in pair.values():
        given_v = v / mm
        before = given_v.copy()
        found = check_scan(given_v, f, t if labels else None)
        assert codes(found) - {"mirrored_mesh_undetectable"} == {code}
        assert np.array_equal(given_v, before)
        size = float(found[0].what.split(" would be ")[1].split(" mm")[0])
        assert 30 <= size <= 130 and found[0].severity == "stop"


def test_a_size_that_no_unit_explains_is_asked(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["upper"]
    for labels in (t, None):
        assert "unit_unknown" in codes(check_scan(v * 4.0, f, labels))


@given(st.floats(35.0, 72.0))
@settings(derandomize=True, deadline=None, max_examples=60)
def test_no_molar_width_fits_two_units(width_mm: float) -> None:
    from mountproof.occlusion.arch_unit import unit_findings

    assert unit_findings(1.0, (16, 26, width_mm)) == ()
    for mm, code in ((25.4, "scan.unit_inch"), (1000.0, "scan.unit_metre"), (10.0, "scan.unit_centimetre")):
        (found,) = unit_findings(1.0, (16, 26, width_mm / mm))
        assert found.code == code and "would make it" not in found.what


def test_debris_is_counted_wherever_it_floats(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["lower"]
    flake = np.array([[0, 0, 0], [0.5, 0, 0], [0, 0.5, 0], [0, 0, 0.5]])
    new_v = np.vstack([v, flake + np.array([40, -60, 0]), flake + np.array([500, 0, 0])])
    n = len(v)
    new_f = np.vstack([f, [[n, n + 2, n + 1], [n, n + 1, n + 3], [n + 4, n + 5, n + 6]]])
    found = check_scan(new_v, new_f, np.concatenate([t, [0, 0, 0]]))
    assert codes(found) == {"debris"}
    assert "2 small loose pieces with 3 triangles" in found[0].what


def test_a_hole_is_named_with_its_place_and_size(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["upper"]
    # A face amid a crown and everything that touches it.
    tooth = np.flatnonzero(t == 16)
    middle = v[f[tooth]].mean(axis=(0, 1))
    centre = v[f[tooth]].mean(axis=1)
    off = np.hypot(*(centre - middle)[:, [0, 2]].T) + np.where(centre[:, 1] < middle[1], 0, 1000)
    start = tooth[np.argmin(off)]
    near = np.isin(f, f[start]).any(axis=1)
    found = check_scan(v, f[~near], t[~near])
    assert codes(found) == {"holes"} and found[0].severity == "note"
    assert "1 hole" in found[0].what and "unknown" in found[0].todo
    at = np.array([float(x) for x in found[0].what.split("(")[1].rstrip(")").split(",")])
    assert np.linalg.norm(at - v[f[start]].mean(axis=0)) < 1.5
    assert np.linalg.norm(at - middle) < 8


def test_folds_doubles_and_flat_faces_are_notes(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["upper"]
    a, b, c = f[0]
    fin = np.vstack([v, v[a] + [0, 1.0, 1.0]])
    more_t = np.append(t, 0)
    assert codes(check_scan(fin, np.vstack([f, [[b, a, len(v)]]]), more_t)) >= {"not_manifold"}
    assert "duplicate" in codes(check_scan(v, np.vstack([f, f[:1]]), more_t))
    assert codes(check_scan(v, np.vstack([f, [[a, a, b]]]), more_t)) == {"degenerate"}
    over = f.copy()
    over[0] = [c, b, a]
    assert codes(check_scan(v, over, t)) == {"turned_over"}


def test_a_scan_turned_inside_out_asks_and_one_piece_is_a_note(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["upper"]
    (found,) = check_scan(v, f[:, ::-1], t)
    assert found.code == "scan.inside_out" and found.severity == "ask" and "14 pieces of 14" in found.what
    one = np.where((t == 11)[:, None], f[:, ::-1], f)
    (found,) = check_scan(v, one, t)
    assert found.code == "scan.inside_out" and found.severity == "note" and "1 piece of 14" in found.what


def test_numbers_of_both_arches_in_one_scan_stop(pair: dict[str, Mesh]) -> None:
    v, f, t = pair["upper"]
    assert codes(check_scan(v, f, np.where(t == 11, 41, t))) == {"both_arches"}
    with pytest.raises(ValueError, match="labels"):
        check_scan(v, f, t[1:])
    with pytest.raises(ValueError, match="without triangles"):
        check_scan(v, f[:0])
    with pytest.raises(ValueError, match="finite"):
        check_scan(v * np.nan, f)


# --- two scans -------------------------------------------------------------------------------------


def test_a_sound_pair_says_nothing(pair: dict[str, Mesh]) -> None:
    assert check_pair(*scans(pair)) == ()
    assert codes(check_pair(*scans(pair, labels=False))) == {"mirrored_mesh_undetectable"}


def test_the_placement_by_matrix_and_the_placed_mesh_give_the_same(pair: dict[str, Mesh]) -> None:
    turn = np.array([[0, 0, 1.0, 20], [1, 0, 0, -3], [0, 1, 0, 7], [0, 0, 0, 1]])
    back = np.linalg.inv(turn)
    moved = [
        s._replace(vertices_mm=s.vertices_mm @ turn[:3, :3].T + turn[:3, 3], frame_from_scan=back)
        for s in scans(pair)
    ]
    assert check_pair(*moved) == ()


SIDES = np.vectorize(lambda t: mirrored(int(t)) if t else 0)


@pytest.mark.parametrize("by", ["labels", "landmarks"])
def test_all_eight_combinations_of_swapped_arches_swapped_sides_and_mirrored_are_told_apart(
    pair: dict[str, Mesh], by: str
) -> None:
    seen = {}
    for arches, sides, mirror in itertools.product([False, True], repeat=3):
        given_pair = []
        for arch in ("upper", "lower"):
            v, f, t = pair[arch]
            frame = None
            if mirror:  # what a placement that mirrors makes of a scan that is as it should be
                frame = MIRROR
            t = SIDES(t) if sides else t
            if by == "labels":
                given_pair.append(ArchScan(v, f, frame, t))
            else:
                points = [
                    (int(k), v[f[t == k]].mean(axis=(0, 1)).tolist())
                    for k in np.unique(t)
                    if k % 10 in (1, 6)
                ]
                given_pair.append(ArchScan(v, f, frame, landmarks=points))
        if arches:
            given_pair.reverse()
        seen[arches, sides, mirror] = frozenset(codes(check_pair(*given_pair)))
        want = {"arches_swapped"} if arches else set()
        want |= {"sides_swapped"} if sides else set()
        want |= {"transform_mirrored"} if mirror else set()
        assert seen[arches, sides, mirror] == want
    assert len(set(seen.values())) == 8


def test_swapped_arches_are_told_without_numbers(pair: dict[str, Mesh]) -> None:
    upper, lower = scans(pair, labels=False)
    found = check_pair(lower, upper)
    assert codes(found) == {"arches_swapped", "mirrored_mesh_undetectable"}
    assert next(f for f in found if f.code == "scan.arches_swapped").severity == "stop"


def test_each_scan_upside_down(pair: dict[str, Mesh]) -> None:
    for labels in (True, False):
        upper, lower = scans(pair, labels)
        about = np.eye(4)
        about[1, 3] = 2 * upper.vertices_mm[:, 1].mean()
        over = upper._replace(frame_from_scan=about @ TURN_X)
        found = codes(check_pair(over, lower)) - {"mirrored_mesh_undetectable"}
        assert found == {"upside_down"}
        assert "point up" in check_pair(over, lower)[0].what


def test_turned_about_the_vertical_changes_front_and_back(pair: dict[str, Mesh]) -> None:
    for labels in (True, False):
        turned = scans(pair, labels, upper=TURN_Y, lower=TURN_Y)
        assert codes(check_pair(*turned)) - {"mirrored_mesh_undetectable"} == {"front_back"}


def test_a_mirrored_mesh_with_numbers_is_asked_about_as_exchanged_sides(pair: dict[str, Mesh]) -> None:
    for flip in (1, -1):  # with its triangles turned after mirroring, and without
        flipped = [
            s._replace(vertices_mm=s.vertices_mm * [1, 1, -1], faces=s.faces[:, ::flip]) for s in scans(pair)
        ]
        found = check_pair(*flipped)
        assert codes(found) == {"sides_swapped"}
        assert "the mesh itself was mirrored" in found[0].what
        bare = [s._replace(labels=None) for s in flipped]
        assert codes(check_pair(*bare)) == {"mirrored_mesh_undetectable"}
        assert ("inside_out" in codes(check_scan(flipped[0].vertices_mm, flipped[0].faces))) == (flip == 1)


def test_transforms_that_do_not_only_turn_and_move(pair: dict[str, Mesh]) -> None:
    scaled, sheared, bottom = np.diag([25.4, 25.4, 25.4, 1]), np.eye(4), np.eye(4)
    sheared[0, 1] = 0.1
    bottom[3, 0] = 1
    for matrix in (scaled, sheared, bottom, np.full((4, 4), np.nan), np.eye(3)):
        (found,) = check_transform(matrix, "upper")
        assert found.code == "scan.transform_not_rigid" and found.severity == "stop" and "upper" in found.what
        assert "transform_not_rigid" in codes(check_pair(*scans(pair, upper=matrix)))
    assert codes(check_transform(MIRROR @ scaled, "lower")) == {"transform_mirrored", "transform_not_rigid"}
    assert check_transform(TURN_X, "upper") == ()


def test_one_scan_given_twice_one_arch_given_twice_and_scans_in_their_own_axes(pair: dict[str, Mesh]) -> None:
    upper, lower = scans(pair)
    assert codes(check_pair(upper, upper)) == {"same_scan_twice"}
    again = upper._replace(vertices_mm=upper.vertices_mm + 0.1)
    assert "same_arch_twice" in codes(check_pair(upper, again))
    own = [
        s._replace(vertices_mm=s.vertices_mm - (s.vertices_mm.min(axis=0) + s.vertices_mm.max(axis=0)) / 2)
        for s in (upper, lower)
    ]
    assert codes(check_pair(*own)) == {"not_in_relation"}


def test_a_shape_without_grooves_or_border_cannot_tell() -> None:
    import trimesh

    def row(y: float, teeth: range) -> ArchScan:
        balls = [trimesh.creation.icosphere(2, 4.0) for _ in teeth]
        for k, ball in enumerate(balls):
            z = (k - (len(balls) - 1) / 2) * 8.5
            ball.apply_translation([80 - 0.04 * z * z, y, z])
        mesh = trimesh.util.concatenate(balls)
        return ArchScan(np.asarray(mesh.vertices), np.asarray(mesh.faces))

    found = check_pair(row(-36, range(7)), row(-44, range(7)))
    assert codes(found) == {"way_up_unknown", "mirrored_mesh_undetectable"}
    assert sum(f.code == "scan.way_up_unknown" for f in found) == 2


def test_noise_of_a_scanner_does_not_hide_the_tooth_side(pair: dict[str, Mesh]) -> None:
    rng = np.random.default_rng(11)
    noisy = [
        s._replace(vertices_mm=s.vertices_mm + rng.normal(0, 0.02, s.vertices_mm.shape)) for s in scans(pair)
    ]
    assert check_pair(*noisy) == ()


def test_one_side_alone_says_nothing_wrong(pair: dict[str, Mesh]) -> None:
    def right_only(s: ArchScan) -> ArchScan:
        assert s.labels is not None
        keep = np.isin(s.labels // 10, (1, 4))
        return s._replace(faces=s.faces[keep], labels=s.labels[keep])

    half: list[Any] = [right_only(s) for s in scans(pair)]
    assert check_pair(*half) == ()
    assert codes(check_scan(half[0].vertices_mm, half[0].faces, half[0].labels)) == set()
