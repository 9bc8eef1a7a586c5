"""Files that are damaged, empty, hostile or no scan at all: one named fault each, in words, the file untouched."""

from __future__ import annotations

import os
import re
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from case import scan_files as sf
from mountproof.case import scans
from mountproof.case.scans import _scan, read_scan, threemf
from mountproof.faults import Cancelled, Fault, FaultError


def faults_of(folder: Path, name: str, data: bytes) -> tuple[Fault, ...]:
    path = folder / name
    path.write_bytes(data)
    with pytest.raises(FaultError) as caught:
        read_scan(path)
    assert path.read_bytes() == data
    for fault in caught.value.faults:
        assert fault.where == name and fault.what and fault.todo
        assert not re.search(r"(?i)\b(force|load|safe|correct|ideal|grind)\b", fault.what + " " + fault.todo)
        assert not re.search(r"\b([Ee]rror|[Ee]xception|None|[Ii]nvalid|[Pp]arse)\b", fault.what + fault.todo)
    return caught.value.faults


def code_of(folder: Path, name: str, data: bytes) -> str:
    (fault,) = faults_of(folder, name, data)
    return fault.code


def with_vertex(value: float) -> np.ndarray:
    v = sf.CUBE_V.copy()
    v[3, 1] = value
    return v


WRITERS = {
    ".stl": sf.stl_binary, ".obj": sf.obj, ".ply": sf.ply_text, ".PLY": sf.ply_binary, ".3mf": sf.threemf_of, ".glb": sf.glb,
    ".STL": sf.stl_text,
}  # fmt: skip


@pytest.mark.parametrize("ending", WRITERS)
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_coordinates_that_are_no_number(tmp_path: Path, ending: str, value: float) -> None:
    (fault,) = faults_of(tmp_path, "a" + ending, WRITERS[ending](with_vertex(value), sf.CUBE_F))
    assert fault.code == "scan.not_finite" and re.search("nan|inf", fault.got)
    if ending not in (".stl", ".STL"):
        assert "1 vertex of 8" in fault.what and "vertex 4" in fault.what


@pytest.mark.parametrize("ending", WRITERS)
def test_absurd_coordinates(tmp_path: Path, ending: str) -> None:
    assert (
        code_of(tmp_path, "a" + ending, WRITERS[ending](with_vertex(3e30), sf.CUBE_F))
        == "scan.absurd_coordinates"
    )


@pytest.mark.parametrize("ending", [".obj", ".ply", ".PLY", ".3mf", ".glb"])
@pytest.mark.parametrize("index", [8, 10**9])
def test_index_out_of_range(tmp_path: Path, ending: str, index: int) -> None:
    f = sf.CUBE_F.copy()
    f[5, 2] = index
    assert code_of(tmp_path, "a" + ending, WRITERS[ending](sf.CUBE_V, f)) == "scan.index_out_of_range"


def test_negative_index(tmp_path: Path) -> None:
    f = sf.CUBE_F.copy()
    f[5, 2] = -1
    for ending in (".ply", ".PLY", ".3mf"):
        assert code_of(tmp_path, "a" + ending, WRITERS[ending](sf.CUBE_V, f)) == "scan.index_out_of_range"
    text = sf.WHOLE["obj"][1].replace(b"f 1 2 4", b"f 1 2 -9").decode()
    (fault,) = faults_of(tmp_path, "a.obj", text.encode())
    assert fault.code == "scan.index_out_of_range" and fault.line == 10


def test_several_faults_come_together(tmp_path: Path) -> None:
    v = with_vertex(np.nan)
    v[0] = 1e20
    f = sf.CUBE_F.copy()
    f[0, 0] = 99
    codes = [x.code for x in faults_of(tmp_path, "a.ply", sf.ply_binary(v, f))]
    assert codes == ["scan.not_finite", "scan.absurd_coordinates", "scan.index_out_of_range"]


@pytest.mark.parametrize("name", sf.WHOLE)
def test_a_file_cut_off_anywhere_is_refused(tmp_path: Path, name: str) -> None:
    ending, data = sf.WHOLE[name]
    whole = len(data)
    # What follows the last triangle may be missing without harm to it: a line end, padding, the closing word.
    spare = {"stl text": len(b" part\n"), "obj": 1, "ply text": 1}.get(name, 0)
    for cut in range(0, whole - spare, 1 if whole < 1000 else 3):
        try:
            scan = scans.read_scan(_cut(tmp_path, ending, data[:cut]))
        except FaultError as error:
            codes = {f.code for f in error.faults}
            want = {
                "scan.truncated",
                "scan.empty",
                "scan.not_a_mesh",
                "scan.index_out_of_range",
                "scan.unreadable",
            }
            assert codes <= want, (cut, codes)
        else:
            # OBJ and the last number of PLY text do not say how much there should be.
            assert name in ("obj", "ply text"), cut
            assert (
                any("cut off" in n for n in scan.notes) or data[cut - 1 : cut] == b"\n" or name == "ply text"
            )


def _cut(folder: Path, ending: str, data: bytes) -> Path:
    path = folder / ("cut" + ending)
    path.write_bytes(data)
    return path


def test_truncated_says_how_many_were_promised_and_found(tmp_path: Path) -> None:
    stl = sf.WHOLE["stl binary"][1]
    (fault,) = faults_of(tmp_path, "a.stl", stl[: 84 + 50 * 7 + 13])
    assert fault.code == "scan.truncated" and "promises 12 triangles and holds 7" in fault.what
    (fault,) = faults_of(tmp_path, "b.stl", sf.WHOLE["stl binary named solid"][1][:300])
    assert fault.code == "scan.truncated" and "promises 12 triangles and holds 4" in fault.what
    (fault,) = faults_of(tmp_path, "a.ply", sf.WHOLE["ply little-endian"][1][:-15])
    assert fault.code == "scan.truncated" and "promises 12 records of 'face' and holds 10" in fault.what
    (fault,) = faults_of(tmp_path, "b.ply", sf.WHOLE["ply text"][1][:-15])
    assert fault.code == "scan.truncated" and "and holds 10" in fault.what
    (fault,) = faults_of(tmp_path, "a.glb", sf.WHOLE["glb"][1][:-4])
    assert fault.code == "scan.truncated" and "promises" in fault.what
    assert code_of(tmp_path, "a.3mf", sf.WHOLE["3mf"][1][:-4]) in ("scan.truncated", "scan.unreadable")
    assert code_of(tmp_path, "b.3mf", sf.WHOLE["3mf"][1][:-60]) == "scan.truncated"


@pytest.mark.parametrize("ending", WRITERS)
def test_no_triangles(tmp_path: Path, ending: str) -> None:
    none = np.zeros((0, 3), int)
    if ending == ".glb":
        tree, blob = sf.glb_tree(sf.CUBE_V, none)
        data = sf.glb_parts(tree, blob)
    else:
        data = WRITERS[ending](sf.CUBE_V, none)
    assert code_of(tmp_path, "a" + ending, data) == "scan.empty"


def test_files_that_are_no_scan(tmp_path: Path) -> None:
    assert code_of(tmp_path, "a.stl", b"") == "scan.empty"
    for data, word in (
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 200, "picture"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 200, "picture"),
        (b"%PDF-1.7\n", "document"),
        (b"  <html><body>log in</body></html>", "web page"),
        (b"\x1f\x8b\x08" + b"\0" * 200, "compressed"),
        (b"\0" * 128 + b"DICM" + b"\0" * 50, "DICOM"),
        (b"ISO-10303-21;\nHEADER;", "STEP"),
        (b'{"asset": {"version": "2.0"}}', "glTF"),
        (b"tooth,contact\n16,yes\n", "none of the scan formats"),
        (b"\0\1\2\3" * 100, "none of the scan formats"),
    ):
        for ending in (".stl", ".obj", ".glb"):
            if ending == ".stl" and word.startswith("none") and data[:1] == b"\0":
                continue
            (fault,) = faults_of(tmp_path, "a" + ending, data)
            assert fault.code == "scan.not_a_mesh" and word in fault.what
    assert code_of(tmp_path, "b.stl", b"\0\1\2\3" * 100) == "scan.truncated"
    assert code_of(tmp_path, "short.stl", b"\0\1\2\3") == "scan.truncated"
    assert code_of(tmp_path, "a.zip", sf.zipped({"readme.txt": "hello"})) == "scan.unreadable"


def test_places_that_are_no_file(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.stl"
    os.mkfifo(pipe)
    for place in (tmp_path / "none.stl", tmp_path, pipe, Path("/dev/zero"), tmp_path / ("x" * 5000)):
        with pytest.raises(FaultError) as caught:
            read_scan(place)
        assert [f.code for f in caught.value.faults] == ["scan.missing"]


def test_wrong_text_is_named_with_its_line(tmp_path: Path) -> None:
    stl = sf.WHOLE["stl text"][1].decode()
    for old, new, line in (
        ("vertex 0.0 0.0 1.0", "vertex 0,0 0.0 1.0", 5),
        ("vertex 0.0 0.0 1.0", "vertex 0.0 1.0", 5),
        ("outer loop", "outer loup", 3),
        ("endfacet", "", 8),
        ("    endloop", "      vertex 1 2 3\n    endloop", 8),
        ("      vertex 0.0 0.0 0.0\n", "", 7 - 1),
    ):
        (fault,) = faults_of(tmp_path, "a.stl", stl.replace(old, new, 1).encode())
        assert fault.code == "scan.unreadable", (new, fault)
        assert fault.line is not None and abs(fault.line - line) <= 1, (new, fault)
    obj = sf.WHOLE["obj"][1].decode()
    for old, new, line in (
        ("v 0.0 1.0 0.0", "v 0.0 1,5 0.0", 4),
        ("v 0.0 1.0 0.0", "v 0.0 1.0", 4),
        ("f 1 2 4", "f 1 2", 10),
        ("f 1 2 4", "f 1 2 x", 10),
        ("f 1 2 4", "f 1 2 4.5", 10),
        ("f 1 2 4", "f", 10),
    ):
        (fault,) = faults_of(tmp_path, "a.obj", obj.replace(old, new, 1).encode())
        assert fault.code == "scan.unreadable" and fault.line == line, (new, fault)
    ply = sf.WHOLE["ply text"][1].decode()
    for old, new in (
        ("0.0 1.0 0.0", "0.0 1,5 0.0"),
        ("3 0 1 3\n", "2 0 1\n"),
        ("3 0 1 3\n", "3 0 1 3.5\n"),
        ("3 0 1 3\n", "x 0 1 3\n"),
        ("format ascii", "format utf8"),
        ("format ascii 1.0\n", ""),
        ("vertex 8", "vertex -8"),
        ("property double y", "property double"),
        ("property double y", "property quad y"),
        ("list uchar", "list float"),
        ("double z", "double w"),
        ("vertex_indices", "corners"),
    ):
        (fault,) = faults_of(tmp_path, "a.ply", ply.replace(old, new, 1).encode())
        assert fault.code == "scan.unreadable", (new, fault)


# --- hostile ---------------------------------------------------------------------------------------


def test_promises_beyond_any_scan_are_refused_before_memory_is_asked_for(tmp_path: Path) -> None:
    huge = b"x".ljust(80) + struct.pack("<I", 4_000_000_000) + b"\0" * 100
    assert code_of(tmp_path, "a.stl", huge) == "scan.truncated"
    for form, code in (("ascii", "scan.too_large"), ("binary_little_endian", "scan.too_large")):
        assert code_of(tmp_path, "a.ply", sf.ply_head(form, 10**15, 10**15).encode()) == code
        assert code_of(tmp_path, "b.ply", sf.ply_head(form, 10**6, 10**6).encode()) == "scan.truncated"
    body = sf.CUBE_V.astype("<f8").tobytes()
    tail = struct.pack("<I", 4_000_000_000) + b"\0" * 64
    head = sf.ply_head("binary_little_endian", 8, 1).replace("list uchar", "list uint").encode()
    assert code_of(tmp_path, "c.ply", head + body + tail) == "scan.truncated"
    text = sf.ply_head("ascii", 1, 1) + "0 0 0\n99999999999999999999 0 0 0\n"
    assert code_of(tmp_path, "d.ply", text.encode()) == "scan.truncated"
    tree, blob = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
    tree["accessors"][0]["count"] = 10**12
    assert code_of(tmp_path, "a.glb", sf.glb_parts(tree, blob)) == "scan.index_out_of_range"


def test_too_many_triangles_and_too_many_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, (ending, data) in sf.WHOLE.items():
        path = _cut(tmp_path, ending, data)
        for module in (_scan, threemf):
            monkeypatch.setattr(module, "MAX_TRIANGLES", 11)
        with pytest.raises(FaultError) as caught:
            read_scan(path)
        assert [f.code for f in caught.value.faults] == ["scan.too_large"], name
        monkeypatch.undo()
    monkeypatch.setattr("mountproof.case.scans._read.MAX_FILE_BYTES", 100)
    assert code_of(tmp_path, "a.obj", sf.WHOLE["obj"][1]) == "scan.too_large"


def test_a_sparse_file_of_a_terabyte_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    with path.open("wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(FaultError, match="MB"):
        read_scan(path)


CUBE = f'<object id="1">{sf.mesh_xml(sf.CUBE_V, sf.CUBE_F)}</object>'
ITEM = '<item objectid="1"/>'


def test_zips_that_unpack_without_end(tmp_path: Path) -> None:
    bomb = sf.model_xml(CUBE, ITEM).replace("<build>", "<build>" + " " * 60_000_000)
    assert code_of(tmp_path, "a.3mf", sf.threemf(bomb)) == "scan.hostile"
    # A member that understates its size in the head of the zip is stopped by what comes out of it.
    data = bytearray(sf.threemf(bomb))
    real, small = struct.pack("<I", len(bomb)), struct.pack("<I", 1000)
    assert data.count(real) >= 1
    assert code_of(tmp_path, "b.3mf", bytes(data).replace(real, small)) in ("scan.hostile", "scan.unreadable")


@pytest.mark.parametrize("name", ["../../etc/passwd", "/etc/passwd", "a\\..\\b", "C:/x"])
def test_zips_that_name_files_outside_themselves(tmp_path: Path, name: str) -> None:
    members = {
        "_rels/.rels": sf.RELS.format(target="3D/m.model"),
        "3D/m.model": sf.model_xml(CUBE, ITEM),
        name: "x",
    }
    assert code_of(tmp_path, "a.3mf", sf.zipped(members)) == "scan.hostile"
    rels = sf.RELS.format(target="3D/m.model").replace("/3D/m.model", "file:///etc/passwd")
    assert code_of(tmp_path, "b.3mf", sf.zipped({"_rels/.rels": rels})) == "scan.hostile"
    assert not list(tmp_path.parent.glob("**/passwd"))


def test_xml_that_attacks_its_reader(tmp_path: Path) -> None:
    laughs = '<!DOCTYPE model [<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {chr(98 + i)} "{("&" + chr(97 + i) + ";") * 10}">' for i in range(9)
    )
    model = sf.model_xml(CUBE, ITEM)
    for evil in (
        model.replace("?><model", "?>" + laughs + "]><model"),
        model.replace("?><model", '?><!DOCTYPE model SYSTEM "file:///etc/passwd"><model'),
        model.replace("<build>", "<build>" + "<a>" * 40).replace("</build>", "</a>" * 40 + "</build>"),
    ):
        assert code_of(tmp_path, "a.3mf", sf.threemf(evil)) == "scan.hostile"
    wide = evil.encode("utf-16")
    package = sf.zipped({"_rels/.rels": sf.RELS.format(target="3D/m.model"), "3D/m.model": wide})
    assert code_of(tmp_path, "b.3mf", package) == "scan.unreadable"


def test_parts_that_hold_themselves_or_multiply_without_end(tmp_path: Path) -> None:
    def holding(number: int, inner: int, times: int) -> str:
        inside = f'<component objectid="{inner}"/>' * times
        return f'<object id="{number}"><components>{inside}</components></object>'

    for resources, item in (
        (holding(2, 2, 1), 2),
        (holding(2, 3, 1) + holding(3, 2, 1), 2),
        ("".join(holding(i, i - 1, 1) for i in range(2, 50)) + CUBE, 49),
        ("".join(holding(i, i - 1, 10) for i in range(2, 20)) + '<object id="1"/>', 19),
    ):
        data = sf.threemf(sf.model_xml(resources, f'<item objectid="{item}"/>'))
        assert code_of(tmp_path, "a.3mf", data) == "scan.hostile"
    many = "".join(holding(i, i - 1, 10) for i in range(2, 20)) + CUBE
    assert (
        code_of(tmp_path, "a.3mf", sf.threemf(sf.model_xml(many, '<item objectid="19"/>')))
        == "scan.too_large"
    )
    for nodes in ([{"children": [0]}], [{"children": [1]}, {"children": [0]}]):
        tree, blob = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
        tree["nodes"] = nodes
        assert code_of(tmp_path, "a.glb", sf.glb_parts(tree, blob)) == "scan.hostile"


def test_3mf_that_is_not_what_it_should_be(tmp_path: Path) -> None:
    for model in (
        sf.model_xml(CUBE, '<item objectid="5"/>'),
        sf.model_xml(CUBE, '<item objectid="1" transform="1 0 0"/>'),
        sf.model_xml(CUBE, '<item objectid="1" transform="1 0 0 0 1 0 0 0 nan 0 0 0"/>'),
        sf.model_xml(CUBE, "<item/>"),
        sf.model_xml(CUBE, ITEM, 'unit="ell"'),
        sf.model_xml(CUBE, ITEM, 'requiredextensions="b" xmlns:b="http://schemas.microsoft.com/beam"'),
        sf.model_xml(CUBE.replace('v1="0"', 'v1="a"', 1), ITEM),
        sf.model_xml(CUBE.replace('x="0.0"', "", 1), ITEM),
        sf.model_xml(CUBE, ITEM).replace("</model>", ""),
        "not xml at all",
        "<model/>",
    ):
        assert code_of(tmp_path, "a.3mf", sf.threemf(model)) == "scan.unreadable", model[:300]
    assert (
        code_of(tmp_path, "b.3mf", sf.zipped({"_rels/.rels": sf.RELS.format(target="x")}))
        == "scan.unreadable"
    )


def test_3mf_that_is_locked(tmp_path: Path) -> None:
    data = bytearray(sf.WHOLE["3mf"][1])
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        for m in re.finditer(re.escape(mark), bytes(data)):
            data[m.start() + at] |= 1
    (fault,) = faults_of(tmp_path, "a.3mf", bytes(data))
    assert fault.code == "scan.unreadable" and "password" in fault.what
    assert zipfile.is_zipfile(tmp_path / "a.3mf")


def test_glb_that_is_not_what_it_should_be(tmp_path: Path) -> None:
    def changed(path: list[str | int], value: object) -> bytes:
        tree, blob = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
        at = tree
        for step in path[:-1]:
            at = at[step]  # type: ignore[index]
        at[path[-1]] = value  # type: ignore[index]
        return sf.glb_parts(tree, blob)

    primitive: list[str | int] = ["meshes", 0, "primitives", 0]
    for path, value, code in (
        (["extensionsRequired"], ["KHR_draco_mesh_compression"], "unreadable"),
        (["buffers", 0, "uri"], "http://example.invalid/x.bin", "external"),
        (["bufferViews", 0, "buffer"], 1, "unreadable"),
        (["bufferViews", 0, "byteLength"], 10**9, "truncated"),
        (["bufferViews", 0, "byteOffset"], -1, "unreadable"),
        (["bufferViews", 0, "byteLength"], 8, "index_out_of_range"),
        (["accessors", 0, "componentType"], 5123, "unreadable"),
        (["accessors", 0, "componentType"], [], "unreadable"),
        (["accessors", 0, "type"], "VEC2", "unreadable"),
        (["accessors", 0, "sparse"], {}, "unreadable"),
        (["accessors", 1, "count"], 35, "unreadable"),
        ([*primitive, "mode"], 5, "unreadable"),
        ([*primitive, "mode"], 0, "empty"),
        ([*primitive, "attributes"], {}, "unreadable"),
        ([*primitive, "indices"], 7, "unreadable"),
        (["nodes", 0, "mesh"], "x", "unreadable"),
        (["nodes", 0, "children"], [[1]], "unreadable"),
        (["nodes", 0, "matrix"], [1, 2], "unreadable"),
        (["nodes", 0, "rotation"], [0, 0, 0, 0], "unreadable"),
        (["nodes", 0, "scale"], [float("nan")] * 3, "unreadable"),
        (["scenes", 0, "nodes"], {}, "unreadable"),
        (["scene"], 4, "unreadable"),
        (["meshes"], 4, "unreadable"),
    ):
        assert code_of(tmp_path, "a.glb", changed(path, value)) == "scan." + code, (path, value)
    deep = b'{"a":' * 200_000 + b"1" + b"}" * 200_000
    head = struct.pack("<4sII", b"glTF", 2, 20 + len(deep)) + struct.pack("<II", len(deep), 0x4E4F534A)
    assert code_of(tmp_path, "b.glb", head + deep) in ("scan.hostile", "scan.unreadable")
    assert code_of(tmp_path, "c.glb", sf.WHOLE["glb"][1].replace(b"glTF\2", b"glTF\1")) == "scan.unreadable"


def test_bytes_after_the_end_are_noted(tmp_path: Path) -> None:
    for name in ("stl binary", "ply little-endian", "ply text"):
        ending, data = sf.WHOLE[name]
        scan = read_scan(_cut(tmp_path, ending, data + b"\0extra"))
        assert len(scan.faces) == 12 and any("not read" in n for n in scan.notes)


def test_a_person_can_stop_it(tmp_path: Path) -> None:
    def stop(_share: float, _what: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        read_scan(_cut(tmp_path, ".stl", sf.WHOLE["stl binary"][1]), progress=stop)


@pytest.mark.open_arches
def test_faults_planted_in_a_real_arch(tmp_path: Path, open_arches: Path) -> None:
    source = (open_arches / "case0_upper.obj").read_bytes()
    scan = read_scan(open_arches / "case0_upper.obj")
    lines = source.split(b"\n")
    at = next(i for i, line in enumerate(lines) if line.startswith(b"v ")) + 1000
    words = lines[at].split()
    for word, code in (
        (b"nan", "scan.not_finite"),
        (b"-inf", "scan.not_finite"),
        (b"7,25", "scan.unreadable"),
    ):
        changed = [*lines[:at], b" ".join([*words[:2], word, *words[3:]]), *lines[at + 1 :]]
        assert code_of(tmp_path, "a.obj", b"\n".join(changed)) == code
    last = source.rindex(b"\nf ")
    assert code_of(tmp_path, "b.obj", source[: last + 6]) == "scan.truncated"
    assert code_of(tmp_path, "c.obj", source[: source.index(b"\nf ")]) == "scan.empty"
    scans.write_stl(tmp_path / "whole.stl", scan.vertices, scan.faces)
    stl = (tmp_path / "whole.stl").read_bytes()
    (fault,) = faults_of(tmp_path, "d.stl", stl[: len(stl) // 2])
    assert fault.code == "scan.truncated"
    assert f"promises {len(scan.faces)} triangles and holds {(len(stl) // 2 - 84) // 50}" in fault.what
    assert len(read_scan(tmp_path / "whole.stl").vertices) == len(scan.vertices)
    scans.write_ply(tmp_path / "whole.ply", scan.vertices, scan.faces)
    ply = (tmp_path / "whole.ply").read_bytes()
    assert code_of(tmp_path, "e.ply", ply[:-1]) == "scan.truncated"
    inch = sf.threemf_of(scan.vertices / 25.4, scan.faces, 'unit="inch"')
    (tmp_path / "f.3mf").write_bytes(inch)
    mm = scans.to_millimetres(read_scan(tmp_path / "f.3mf"))
    assert np.abs(mm.vertices - scan.vertices).max() < 1e-13 * 100
