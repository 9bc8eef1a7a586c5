"""Every format gives back what was written into it, byte by byte, and what a general-purpose library reads."""

from __future__ import annotations

import hashlib
import itertools
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from case import scan_files as sf
from mountproof.case import scans
from mountproof.case.scans import _numbers, read_scan, to_millimetres, write_ply, write_stl
from mountproof.faults import FaultError

QUIET = settings(derandomize=True, deadline=None, max_examples=200)


def saved(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def bumpy(n: int = 6) -> tuple[np.ndarray, np.ndarray]:
    body = trimesh.creation.icosphere(subdivisions=2)
    rng = np.random.default_rng(n)
    return body.vertices * rng.uniform(5, 30, (len(body.vertices), 1)) / 3, body.faces


@pytest.mark.parametrize("name", sf.WHOLE)
def test_a_cube_comes_back_from_every_format(tmp_path: Path, name: str) -> None:
    ending, data = sf.WHOLE[name]
    path = saved(tmp_path, "cube" + ending, data)
    seen: list[float] = []
    scan = read_scan(path, progress=lambda share, _what: seen.append(share))
    assert sf.same_triangles(scan.vertices, scan.faces, sf.CUBE_V, sf.CUBE_F)
    assert len(scan.vertices) == 8 and scan.vertices.dtype == np.float64 and scan.faces.dtype == np.int32
    assert scan.sha256 == hashlib.sha256(data).hexdigest()
    assert path.read_bytes() == data
    assert seen == sorted(seen) and seen[-1] == 1.0
    if "stl" not in name:
        assert np.array_equal(scan.vertices, sf.CUBE_V) and np.array_equal(scan.faces, sf.CUBE_F)
    assert scan.unit == {"3mf": "millimeter", "glb": "meter"}.get(name)


@pytest.mark.parametrize("name", sf.WHOLE)
def test_the_content_decides_and_a_wrong_name_is_noted(tmp_path: Path, name: str) -> None:
    for wrong in (".txt", ".ply", ".stl", ".obj", ""):
        scan = read_scan(saved(tmp_path, "scan" + wrong, sf.WHOLE[name][1]))
        assert len(scan.faces) == 12
        assert any("the name ends in" in n for n in scan.notes) == (wrong != sf.WHOLE[name][0])


@pytest.mark.parametrize("kind", ["stl", "stl_ascii", "ply", "ply_ascii", "obj", "3mf", "glb"])
def test_what_trimesh_writes_is_read_as_trimesh_reads_it(tmp_path: Path, kind: str) -> None:
    v, f = bumpy()
    mesh = trimesh.Trimesh(v, f, process=False)
    ending = kind.split("_")[0]
    more = {"encoding": "ascii"} if kind == "ply_ascii" else {}
    data = mesh.export(file_type=kind.removesuffix("_ascii") if more else kind, **more)
    path = saved(tmp_path, "mesh." + ending, data if isinstance(data, bytes) else data.encode())
    scan = read_scan(path)
    other = trimesh.load(path, force="mesh", process=False, merge_norm=True, merge_tex=True)
    # Text that says "property float" is kept here as written; trimesh rounds it to 32 bits.
    points = scan.vertices.astype(np.float32).astype(float) if kind == "ply_ascii" else scan.vertices
    assert sf.same_triangles(points, scan.faces, other.vertices, other.faces)
    assert len(scan.vertices) == len(v)
    if ending in ("ply", "obj", "3mf"):
        assert np.array_equal(scan.faces, f)


@pytest.mark.open_arches
@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_the_open_arches_are_read_to_the_last_bit(open_arches: Path, jaw: str) -> None:
    path = open_arches / f"case0_{jaw}.obj"
    scan = read_scan(path)
    points, corners = [], []
    for line in path.read_text().splitlines():
        words = line.split()
        if words[0] == "v":
            points.append([float(w) for w in words[1:4]])
        elif words[0] == "f":
            corners.append([int(w.split("/")[0]) - 1 for w in words[1:4]])
    assert np.array_equal(scan.vertices, points) and np.array_equal(scan.faces, corners)
    teeth = scans.read_face_teeth(open_arches / f"case0_{jaw}_faceFDI.csv", len(scan.faces))
    assert len(np.unique(teeth)) == 14 and teeth.dtype == np.int32


# --- numbers -------------------------------------------------------------------------------------


def parsed(text: str) -> float:
    data = (" " + text + " ").encode()
    values = np.zeros(1)
    value, after, kind = _numbers.number(np.frombuffer(data, np.uint8), 1, len(data))
    assert kind != _numbers.NO_NUMBER and after == len(data) - 1
    values[0] = value
    _numbers.settle(data, values, np.array([1 if kind == _numbers.LATER else 0]))
    return float(values[0])


@given(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["{!r}", "{:.9g}", "{:.8f}", "{:e}", "{:.17g}"]),
)
@QUIET
def test_numbers_are_rounded_as_float_rounds_them(x: float, form: str) -> None:
    text = form.format(x)[:380]
    if len(form.format(x)) <= 380:
        assert struct.pack("d", parsed(text)) == struct.pack("d", float(text))


@given(st.from_regex(r"\A[+-]?([0-9]{1,25}(\.[0-9]{0,25})?|\.[0-9]{1,25})([eE][+-]?[0-9]{1,3})?\Z"))
@QUIET
def test_any_way_to_write_a_number_is_read_as_float_reads_it(text: str) -> None:
    assert struct.pack("d", parsed(text)) == struct.pack("d", float(text))


@given(st.text(st.sampled_from("0123456789+-.eE,xn/"), min_size=1, max_size=8))
@QUIET
def test_what_is_no_number_is_not_taken_for_one(text: str) -> None:
    data = text.encode()
    value, _, kind = _numbers.number(np.frombuffer(data, np.uint8), 0, len(data))
    try:
        want = float(text)
    except ValueError:
        assert kind == _numbers.NO_NUMBER or np.isnan(value)
    else:
        assert kind == _numbers.LATER or value == want


# --- merging -------------------------------------------------------------------------------------


@given(
    st.integers(0, 40),
    st.integers(1, 3),
    st.sampled_from([np.float32, np.float64]),
    st.integers(0, 2**64 - 1),
)
@QUIET
def test_merging_is_exact_keeps_the_order_and_ignores_the_salt(
    n: int, kinds: int, kind: type, salt: int
) -> None:
    from mountproof.case.scans._merge import same_vertices

    rng = np.random.default_rng(n + 100 * kinds)
    points = rng.choice(
        np.array([0.0, -0.0, 1.0, np.nextafter(kind(1), kind(2)), np.nan])[: kinds + 2], (n, 3)
    )
    points = np.ascontiguousarray(points, dtype=kind)
    first, which = same_vertices(points, salt)
    seen: dict[bytes, int] = {}
    want_first, want_which = [], []
    for i, p in enumerate(points):
        key = (p + kind(0)).tobytes()
        if key not in seen:
            seen[key] = len(seen)
            want_first.append(i)
        want_which.append(seen[key])
    assert first.tolist() == want_first and which.tolist() == want_which


def test_near_is_not_same(tmp_path: Path) -> None:
    v = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 0], [1, 0, 0], [0, 0, 1]], np.float32)
    v[4, 0] = np.nextafter(np.float32(1), np.float32(2))
    v[3] = -0.0
    scan = read_scan(saved(tmp_path, "a.stl", sf.stl_binary(v, np.array([[0, 1, 2], [3, 4, 5]]))))
    assert scan.faces.tolist() == [[0, 1, 2], [0, 3, 4]]


def test_flat_triangles_and_repeated_faces_are_kept(tmp_path: Path) -> None:
    f = np.vstack([sf.CUBE_F, [[0, 0, 1]], sf.CUBE_F[:1]])
    for ending, write in (
        (".stl", sf.stl_binary),
        (".obj", sf.obj),
        (".ply", sf.ply_binary),
        (".3mf", sf.threemf_of),
    ):
        assert len(read_scan(saved(tmp_path, "a" + ending, write(sf.CUBE_V, f))).faces) == 14


def test_copies_of_vertices_stay_until_a_person_asks(tmp_path: Path) -> None:
    v, f = sf.CUBE_V[sf.CUBE_F].reshape(-1, 3), np.arange(36).reshape(-1, 3)
    scan = read_scan(saved(tmp_path, "a.ply", sf.ply_binary(v, f)))
    assert len(scan.vertices) == 36
    one = scans.joined(scan)
    assert len(one.vertices) == 8 and "28 vertices" in one.notes[-1]
    assert sf.same_triangles(one.vertices, one.faces, sf.CUBE_V, sf.CUBE_F)
    assert scans.joined(one) is one


# --- what each format allows ----------------------------------------------------------------------


def test_text_stl_of_several_parts_in_any_letters(tmp_path: Path) -> None:
    text = sf.stl_text(sf.CUBE_V, sf.CUBE_F[:6]) + sf.stl_text(sf.CUBE_V, sf.CUBE_F[6:], "vertex facet")
    scan = read_scan(saved(tmp_path, "a.stl", text))
    assert len(scan.faces) == 12 and any("2 parts" in n for n in scan.notes)
    again = read_scan(saved(tmp_path, "b.stl", text.upper().replace(b"\n", b"\r\n").replace(b"  ", b"\t")))
    assert np.array_equal(scan.vertices, again.vertices) and np.array_equal(scan.faces, again.faces)


def test_obj_corners_counted_from_either_end_with_texture_and_normals(tmp_path: Path) -> None:
    text = (
        "mtllib ../../etc/passwd\no tooth\nv 0 0 0 1\nv 1 0 0 0.5 0.5 0.5\nvt 0 0\nvn 0 0 1\nv 1 1 0 # corner\nv 0 1 0\n"
        "f 1/1/1 2/1 3//1\nf -4 -2 \\\n -1\nv 0 0 2\nf 1 2 3 4 5\np 1\nl 1 2\nusemtl none\ns off\nf 1 2 5\\\r\n\n"
    )
    scan = read_scan(saved(tmp_path, "a.obj", text.encode()))
    assert scan.faces.tolist() == [[0, 1, 2], [0, 2, 3], [0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 1, 4]]
    assert any("1 face with more than three corners" in n for n in scan.notes)
    assert any("2 lines" in n for n in scan.notes)
    unended = read_scan(saved(tmp_path, "b.obj", text.encode().rstrip()))
    assert any("cut off" in n for n in unended.notes)


POLYGONS = [[0, 1, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]


@pytest.mark.parametrize("write", [sf.ply_text, sf.ply_binary, lambda v, f: sf.ply_binary(v, f, ">")])
def test_ply_polygons_are_cut_from_their_first_corner(tmp_path: Path, write) -> None:  # type: ignore[no-untyped-def]
    scan = read_scan(saved(tmp_path, "a.ply", write(sf.CUBE_V, POLYGONS)))
    want = [(p[0], p[i], p[i + 1]) for p in POLYGONS for i in range(1, len(p) - 1)]
    assert list(map(tuple, scan.faces.tolist())) == want
    assert any("5 faces with more than three corners" in n for n in scan.notes)


TYPES = {
    "i1": "char",
    "u1": "uint8",
    "i2": "short",
    "u2": "uint16",
    "i4": "int32",
    "u4": "uint",
    "f4": "float",
    "f8": "float64",
}


@pytest.mark.parametrize(
    ("order", "index"), list(itertools.product(["", "<", ">"], ["i1", "u1", "i2", "u2", "i4", "u4"]))
)
def test_ply_columns_of_every_type_in_any_order(tmp_path: Path, order: str, index: str) -> None:
    faces = [[0, 1, 2], [3, 2, 1, 0], [1, 2, 3]]
    form = {"": "ascii", "<": "binary_little_endian", ">": "binary_big_endian"}[order]
    head = (
        f"ply\r\nformat {form} 1.0\r\nelement before 2\r\nproperty list uchar short x\r\nproperty float y\r\n"
        f"element vertex 4\r\nproperty uchar red\r\nproperty float z\r\nproperty double x\r\nproperty short y\r\n"
        f"element face 3\r\nproperty uchar flag\r\nproperty list int {TYPES[index]} vertex_index\r\n"
        f"property list uchar float texcoord\r\nproperty short tooth\r\n"
        f"element edge 1\r\nproperty int vertex1\r\nproperty int vertex2\r\nend_header\r\n"
    )
    rows: list[tuple[str, list[float]]] = [("B2hf", [2, 7, 8, 0.5]), ("Bf", [0, 0.5])]
    rows += [
        ("Bfdh", [9, z, x, y])
        for x, y, z in ((0.1, 1, 2.5), (3.3, 4, 5.5), (6.25, 7, 8.5), (9.125, -10, 11.5))
    ]
    letter = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I"}[index]
    for i, t in enumerate(faces):
        rows.append((f"Bi{len(t)}{letter}B2fh", [1, len(t), *t, 2, 0.25, 0.75, 11 + i]))
    rows.append(("ii", [0, 1]))
    if order:
        body = b"".join(struct.pack(order + code, *numbers) for code, numbers in rows)
    else:
        body = "\n".join(" ".join(f"{x:g}" for x in numbers) for _, numbers in rows).encode()
    scan = read_scan(saved(tmp_path, "a.ply", head.encode() + body))
    assert scan.vertices.tolist() == [[0.1, 1, 2.5], [3.3, 4, 5.5], [6.25, 7, 8.5], [9.125, -10, 11.5]]
    assert scan.faces.tolist() == [[0, 1, 2], [3, 2, 1], [3, 1, 0], [1, 2, 3]]
    assert scan.face_labels is not None and scan.face_labels.tolist() == [11, 12, 12, 13]


def test_inch_cube_in_3mf_reads_back_as_25_4_mm(tmp_path: Path) -> None:
    """3MF Core Specification 1.4.0: the model's unit; a cube of one inch is 25.4 mm wide."""
    scan = read_scan(saved(tmp_path, "a.3mf", sf.threemf_of(sf.CUBE_V, sf.CUBE_F, 'unit="inch"')))
    assert scan.unit == "inch" and np.array_equal(scan.vertices, sf.CUBE_V)
    mm = to_millimetres(scan)
    assert np.ptp(mm.vertices, axis=0).tolist() == [25.4, 25.4, 25.4]
    assert mm.unit == "millimeter" and "25.4" in mm.notes[-1]


@pytest.mark.parametrize(
    ("unit", "mm"),
    [
        ("micron", 0.001),
        ("millimeter", 1),
        ("centimeter", 10),
        ("inch", 25.4),
        ("foot", 304.8),
        ("meter", 1000),
    ],
)
def test_every_unit_of_3mf(tmp_path: Path, unit: str, mm: float) -> None:
    """The six units of the 3MF Core Specification 1.4.0 (enumeration of the model element)."""
    scan = read_scan(saved(tmp_path, "a.3mf", sf.threemf_of(sf.CUBE_V, sf.CUBE_F, f'unit="{unit}"')))
    assert to_millimetres(scan).vertices.max() == mm
    bare = read_scan(saved(tmp_path, "a.stl", sf.WHOLE["stl binary"][1]))
    assert to_millimetres(bare, unit).vertices.max() == mm


def test_units_that_are_missing_contradicted_or_unknown_are_refused(tmp_path: Path) -> None:
    bare = read_scan(saved(tmp_path, "a.stl", sf.WHOLE["stl binary"][1]))
    inch = read_scan(saved(tmp_path, "a.3mf", sf.threemf_of(sf.CUBE_V, sf.CUBE_F, 'unit="inch"')))
    for scan, unit, code in (
        (bare, None, "missing"),
        (inch, "mm", "contradicted"),
        (bare, "ell", "unknown_word"),
    ):
        with pytest.raises(FaultError) as caught:
            to_millimetres(scan, unit)
        assert caught.value.faults[0].code == f"scan.unit_{code}"
    assert to_millimetres(inch, "in").vertices.max() == 25.4
    for short, mm in (("mm", 1), ("cm", 10), ("um", 0.001), ("metre", 1000), ("inch", 25.4), ("foot", 304.8)):
        assert to_millimetres(bare, short).vertices.max() == mm


def test_3mf_places_objects_by_row_vectors_and_turns_mirrored_ones_round(tmp_path: Path) -> None:
    cube = f'<object id="1">{sf.mesh_xml(sf.CUBE_V, sf.CUBE_F)}</object>'
    pair = (
        '<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 10 0 0"/>'
        '<component objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>'
    )
    # A quarter turn that takes x to y: the row vector (1, 0, 0) times the matrix is its first row.
    build = '<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/><item objectid="1"/>'
    scan = read_scan(saved(tmp_path, "a.3mf", sf.threemf(sf.model_xml(cube + pair, build))))
    v = sf.CUBE_V
    turn = np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    want = [(v + np.array([10, 0, 0])) @ turn + [0, 0, 5], (v * [-1, 1, 1]) @ turn + [0, 0, 5], v]
    assert np.array_equal(scan.vertices, np.concatenate(want))
    assert len(scan.faces) == 36 and scan.unit == "millimeter"
    for k in range(3):
        part = trimesh.Trimesh(scan.vertices, scan.faces[12 * k : 12 * k + 12], process=False)
        assert part.volume == pytest.approx(1.0)
    assert any("mirrors" in n for n in scan.notes) and any("3 parts" in n for n in scan.notes)


def test_3mf_with_objects_in_another_part_of_the_file(tmp_path: Path) -> None:
    there = sf.model_xml(f'<object id="7">{sf.mesh_xml(sf.CUBE_V, sf.CUBE_F)}</object>', "")
    head = f'unit="inch" xmlns:p="{sf.PRODUCTION}" requiredextensions="p"'
    here = sf.model_xml(
        '<object id="1"><components><component objectid="7" p:path="/3D/Objects/A.model"/></components></object>',
        '<item objectid="1"/>',
        head,
    )
    scan = read_scan(saved(tmp_path, "a.3mf", sf.threemf(here, **{"3D/Objects/a.model": there})))
    assert np.array_equal(scan.vertices, sf.CUBE_V) and scan.unit == "inch"


def test_3mf_with_an_empty_build_list_gives_its_objects_and_says_so(tmp_path: Path) -> None:
    model = sf.model_xml(f'<object id="1">{sf.mesh_xml(sf.CUBE_V, sf.CUBE_F)}</object>', "")
    scan = read_scan(saved(tmp_path, "a.3mf", sf.threemf(model)))
    assert len(scan.faces) == 12 and any("build list" in n for n in scan.notes)


def test_glb_nodes_move_turn_scale_and_mirror(tmp_path: Path) -> None:
    tree, blob = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
    half = 0.5**0.5
    tree["nodes"] = [
        {"children": [1, 2], "translation": [0, 0, 5], "rotation": [0, 0, half, half], "scale": [2, 2, 2]},
        {"mesh": 0, "matrix": [-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 3, 0, 0, 1]},
        {"mesh": 0},
    ]
    scan = read_scan(saved(tmp_path, "a.glb", sf.glb_parts(tree, blob)))
    assert len(scan.faces) == 24
    path = tmp_path / "a.glb"
    other = trimesh.load(path, force="mesh", process=False)
    assert scan.vertices[:, 0].min() == pytest.approx(other.bounds[0, 0])
    for k, want_low in enumerate(([-2, 4, 5], [-2, 0, 5])):
        part = trimesh.Trimesh(scan.vertices, scan.faces[12 * k : 12 * k + 12], process=False)
        assert part.volume == pytest.approx(8.0)
        assert part.bounds[0] == pytest.approx(want_low, abs=1e-12)
    assert any("mirrors" in n for n in scan.notes)


def test_glb_without_indices_with_stride_and_short_numbers(tmp_path: Path) -> None:
    v = np.zeros((36, 5), "<f4")
    v[:, :3] = sf.CUBE_V[sf.CUBE_F].reshape(-1, 3)
    tree, _ = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
    tree["bufferViews"] = [{"buffer": 0, "byteLength": v.nbytes, "byteStride": 20}]
    tree["accessors"] = [{"bufferView": 0, "componentType": 5126, "count": 36, "type": "VEC3"}]
    tree["meshes"] = [
        {"primitives": [{"attributes": {"POSITION": 0}}, {"attributes": {"POSITION": 0}, "mode": 1}]}
    ]
    scan = read_scan(saved(tmp_path, "a.glb", sf.glb_parts(tree, v.tobytes())))
    assert sf.same_triangles(scan.vertices, scan.faces, sf.CUBE_V, sf.CUBE_F)
    assert len(scan.vertices) == 8 and any("28 vertices" in n for n in scan.notes)
    assert any("points or lines" in n for n in scan.notes)
    for kind, code in (("<u1", 5121), ("<u2", 5123)):
        tree, _ = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
        corners = sf.CUBE_F.astype(kind).tobytes()
        tree["accessors"][1]["componentType"] = code
        tree["bufferViews"][1]["byteLength"] = len(corners)
        data = sf.glb_parts(tree, sf.CUBE_V.astype("<f4").tobytes() + corners)
        assert np.array_equal(read_scan(saved(tmp_path, "b.glb", data)).faces, sf.CUBE_F)


# --- writers and tooth numbers ----------------------------------------------------------------------


def test_written_ply_and_stl_come_back_and_are_the_same_bytes_each_time(tmp_path: Path) -> None:
    v, f = bumpy()
    v32 = v.astype(np.float32).astype(float)
    colours = np.random.default_rng(1).integers(0, 256, (len(v), 3)).astype(np.uint8)
    for name in ("a.ply", "b.ply"):
        write_ply(tmp_path / name, v, f, colours, comments=["gap in mm\nsecond", "über"])
    assert (tmp_path / "a.ply").read_bytes() == (tmp_path / "b.ply").read_bytes()
    assert b"comment gap in mm second\ncomment ?ber\n" in (tmp_path / "a.ply").read_bytes()
    scan = read_scan(tmp_path / "a.ply")
    assert np.array_equal(scan.vertices, v32) and np.array_equal(scan.faces, f)
    other = trimesh.load(tmp_path / "a.ply", process=False)
    assert np.array_equal(other.visual.vertex_colors[:, :3], colours)
    for name in ("a.stl", "b.stl"):
        write_stl(tmp_path / name, v, f, head="mountproof test")
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()
    back = read_scan(tmp_path / "a.stl")
    assert sf.same_triangles(back.vertices, back.faces, v32, f)
    normals = trimesh.load(tmp_path / "a.stl", process=False).face_normals
    assert normals == pytest.approx(trimesh.Trimesh(v32, f, process=False).face_normals, abs=1e-5)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.ply", "a.stl", "b.ply", "b.stl"]


def test_a_write_that_fails_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path, "a.ply", b"old")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="space"):
        write_ply(path, sf.CUBE_V, sf.CUBE_F)
    assert path.read_bytes() == b"old" and list(tmp_path.iterdir()) == [path]
    with pytest.raises(ValueError, match="not there"):
        write_ply(path, sf.CUBE_V, sf.CUBE_F + 1)
    with pytest.raises(ValueError, match="colours"):
        write_ply(path, sf.CUBE_V, sf.CUBE_F, np.zeros((3, 3), np.uint8))


def test_tooth_numbers_one_a_line(tmp_path: Path) -> None:
    path = saved(tmp_path, "t.csv", b"\xef\xbb\xbftooth\r\n11\r\n0\r\n48,\r\n55\r\n\r\n")
    assert scans.read_face_teeth(path, 4).tolist() == [11, 0, 48, 55]
    for text, codes in (
        (b"11\n19\n99\n", ["teeth.not_a_tooth", "teeth.not_a_tooth"]),
        (b"11\n", ["teeth.count"]),
        (b"11\nx\n", ["teeth.not_a_tooth", "teeth.count"]),
        (b"\xff\xfe\n", ["teeth.missing"]),
        (b"", ["teeth.count"]),
        (b"9\n" * 9, ["teeth.not_a_tooth"] * 6 + ["teeth.count"]),
    ):
        with pytest.raises(FaultError) as caught:
            scans.read_face_teeth(saved(tmp_path, "bad.csv", text), 3)
        assert [f.code for f in caught.value.faults] == codes
        assert all(f.where == "bad.csv" for f in caught.value.faults)
    with pytest.raises(FaultError):
        scans.read_face_teeth(tmp_path / "none.csv", 3)
