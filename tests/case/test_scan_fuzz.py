"""Whatever the bytes are, a reader gives a scan that holds together or a named fault; never anything else."""

from __future__ import annotations

import os
import resource
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from case import scan_files as sf
from mountproof.case.scans import Scan, read_face_teeth, read_scan
from mountproof.faults import FaultError

FUZZ = settings(
    derandomize=True, deadline=None, max_examples=int(os.environ.get("MOUNTPROOF_FUZZ", "300")), database=None
)
ENDINGS = (".stl", ".ply", ".obj", ".3mf", ".glb", ".txt")
#: Numbers and words that formats stumble over.
SPICE = [
    b"nan", b"-1", b"0", b"1e999", b"4294967295", b"-2147483648", b"\xff\xff\xff\xff", b"\x00\x00\x00\x00", b"\x00\x00\xc0\x7f",
    b"\x00", b"\n", b" ", b"\\\n", b"\"", b"<", b"&a;", b"[", b"{", b"}", b"solid ", b"endsolid", b"element x 9\n", b"f 1 2 3\n",
    b"9" * 50, b"property list int int y\n", b"PK\x03\x04", b"\x80", b"v ", b"/",
]  # fmt: skip


def read(data: bytes, ending: str) -> Scan | None:
    """Read bytes as a file; every scan is held against its own indices, every fault against its words."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / ("fuzz" + ending)
        path.write_bytes(data)
        try:
            scan = read_scan(path)
        except FaultError as error:
            assert error.faults
            for fault in error.faults:
                assert (
                    fault.code.startswith("scan.") and fault.where == path.name and fault.what and fault.todo
                )
            return None
        finally:
            assert path.read_bytes() == data and list(Path(folder).iterdir()) == [path]
    assert len(scan.faces) and np.isfinite(scan.vertices).all()
    assert scan.faces.min() >= 0 and scan.faces.max() < len(scan.vertices)
    assert scan.face_labels is None or scan.face_labels.shape == (len(scan.faces),)
    return scan


@given(st.binary(max_size=400), st.sampled_from(ENDINGS))
@FUZZ
def test_any_bytes(data: bytes, ending: str) -> None:
    read(data, ending)


@given(
    st.sampled_from(
        [
            b"solid ",
            b"ply\n",
            b"glTF\2\0\0\0",
            b"PK\3\4",
            b"v 0 0 0\n",
            b"ply\nformat ascii 1.0\nelement vertex 3\n",
        ]
    ),
    st.lists(st.one_of(st.binary(max_size=12), st.sampled_from(SPICE)), max_size=30),
    st.sampled_from(ENDINGS),
)
@FUZZ
def test_any_bytes_after_a_known_beginning(start: bytes, rest: list[bytes], ending: str) -> None:
    read(start + b"".join(rest), ending)


changes = st.lists(
    st.tuples(
        st.floats(0, 1),
        st.sampled_from(["put", "over", "cut", "end", "twice"]),
        st.one_of(st.binary(max_size=8), st.sampled_from(SPICE)),
    ),
    min_size=1,
    max_size=6,
)


def mutated(data: bytes, edits: list[tuple[float, str, bytes]]) -> bytes:
    for share, how, piece in edits:
        at = int(share * len(data))
        if how == "put":
            data = data[:at] + piece + data[at:]
        elif how == "over":
            data = data[:at] + piece + data[at + len(piece) :]
        elif how == "cut":
            data = data[:at] + data[at + 1 + len(piece) :]
        elif how == "end":
            data = data[: max(at, 1)]
        else:
            data = data[:at] + data[max(0, at - 40) : at] + data[at:]
    return data


@pytest.mark.parametrize("name", sf.WHOLE)
def test_whole_files_with_changes(name: str) -> None:
    ending, whole = sf.WHOLE[name]

    @given(changes)
    @FUZZ
    def run(edits: list[tuple[float, str, bytes]]) -> None:
        read(mutated(whole, edits), ending)

    run()


@given(changes)
@FUZZ
def test_changes_inside_the_zip(edits: list[tuple[float, str, bytes]]) -> None:
    model = sf.model_xml(
        f'<object id="1">{sf.mesh_xml(sf.CUBE_V, sf.CUBE_F)}</object><object id="2"><components>'
        '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>',
        '<item objectid="2"/>',
    )
    changed = mutated(model.encode(), edits)
    read(sf.zipped({"_rels/.rels": sf.RELS.format(target="3D/m.model"), "3D/m.model": changed}), ".3mf")


@given(
    st.integers(0, 35),
    st.sampled_from([-1, 0, 1, 7, 8, 2**31 - 1, 2**31, 2**32 - 1]),
    st.sampled_from(["i", "u"]),
)
@FUZZ
def test_ply_index_of_any_size(corner: int, value: int, kind: str) -> None:
    faces = sf.CUBE_F.astype(np.int64)
    faces.flat[corner] = value
    rows = np.zeros(12, [("n", "u1"), ("v", "<" + kind + "4", 3)])
    rows["n"], rows["v"] = 3, faces.astype("<u4").view("<" + kind + "4")
    head = sf.ply_head("binary_little_endian", 8, 12, index="int" if kind == "i" else "uint").encode()
    scan = read(head + sf.CUBE_V.astype("<f8").tobytes() + rows.tobytes(), ".ply")
    assert (scan is not None) == (0 <= value < 8)


@given(st.binary(max_size=60), st.integers(0, 9))
@FUZZ
def test_any_bytes_as_tooth_numbers(data: bytes, n: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "teeth.csv"
        path.write_bytes(data)
        try:
            assert read_face_teeth(path, n).shape == (n,)
        except FaultError as error:
            assert all(f.code.startswith("teeth.") and f.todo for f in error.faults)


def test_a_damaged_zip_stream_is_a_fault() -> None:
    ending, whole = sf.WHOLE["3mf"]
    for at in range(0, len(whole), 3):
        read(whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :], ending)


def test_promises_cost_no_memory() -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for n in (10**6, 10**7, 10**9, 10**12, 10**18):
        for form in ("ascii", "binary_little_endian", "binary_big_endian"):
            assert read(sf.ply_head(form, n, n).encode() + b"0 0 0\n" * 20, ".ply") is None
            assert read(sf.ply_head(form, 3, n).encode() + b"0 0 0\n" * 20, ".ply") is None
        tree, blob = sf.glb_tree(sf.CUBE_V, sf.CUBE_F)
        for accessor in tree["accessors"]:
            accessor["count"] = n
        assert read(sf.glb_parts(tree, blob), ".glb") is None
        assert read(b"\0" * 80 + (n % 2**32).to_bytes(4, "little") + b"\0" * 500, ".stl") is None
    # Kilobytes on Linux: nothing near a million records of anything was asked for.
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 20_000
