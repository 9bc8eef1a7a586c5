"""The door for scan files: the content decides the format, every fault names the file."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from mountproof.case.scans._scan import (
    MAX_FILE_BYTES,
    Mesh,
    Progress,
    Scan,
    check_mesh,
    counted,
    empty,
    quiet,
    refuse,
    truncated,
)
from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say

#: Formats by what a file of it holds; the endings they usually carry.
_ENDINGS = {
    "stl binary": (".stl",),
    "stl text": (".stl",),
    "ply": (".ply",),
    "obj": (".obj",),
    "3mf": (".3mf",),
    "glb": (".glb",),
}
#: Beginnings of files people take for scans, and what those are.
_OTHERS = (
    (b"\x89PNG", say("a picture (PNG)")),
    (b"\xff\xd8\xff", say("a picture (JPEG)")),
    (b"%PDF", say("a document (PDF)")),
    (b"\x1f\x8b", say("a compressed file (gzip); unpack it first")),
    (b"7z\xbc\xaf", say("a compressed file (7z); unpack it first")),
    (b"Rar!", say("a compressed file (RAR); unpack it first")),
    (b"\xd0\xcf\x11\xe0", say("an office document")),
    (b"<!DOCTYPE", say("a web page")),
    (b"<html", say("a web page")),
    (b"ISO-10303-21", say("a STEP drawing; export a surface of triangles instead")),
)
_OBJ_WORDS = frozenset(b"v vn vt vp f l p g o s mtllib usemtl".split())
_READABLE = say("Give an STL, PLY, OBJ, 3MF or GLB file")


def read_scan(path: str | Path, *, progress: Progress | None = None) -> Scan:
    """Read a scan as it is: STL (binary, text), PLY (text, binary), OBJ, 3MF, GLB.

    The content decides the format; a name that says otherwise is noted. Vertices keep their order and their
    units; equal vertices become one only where the format itself repeats them (STL, GLB), which is noted.
    ``progress`` is called with the share done and a few words, and may raise ``Cancelled``.
    Raises FaultError with every fault found: ``scan.missing``, ``scan.empty``, ``scan.truncated``,
    ``scan.not_a_mesh``, ``scan.unreadable``, ``scan.hostile``, ``scan.external``, ``scan.too_large``,
    ``scan.not_finite``, ``scan.absurd_coordinates``, ``scan.index_out_of_range``.
    """
    tell = progress or quiet
    place = Path(path)
    try:
        data = _bytes_of(place)
        tell(0.2, say("reading the scan"))
        digest = hashlib.sha256(data)
        kind = format_of(data, place.suffix.lower())
        mesh = _parse(kind, data, int.from_bytes(digest.digest()[:8], "little"), tell)
        tell(0.9, say("checking the scan"))
        check_mesh(mesh)
    except FaultError as error:
        raise FaultError([replace(f, where=place.name) for f in error.faults]) from None
    except MemoryError:
        fault = Fault(
            "scan.too_large",
            say("this computer has too little memory for the scan"),
            say("Close other programs, or trim the base away"),
            where=place.name,
        )
        raise FaultError([fault]) from None
    notes = mesh.notes
    if place.suffix.lower() not in _ENDINGS[kind]:
        notes = (
            say(
                "the name ends in {ending}, the content is {format}",
                ending=place.suffix or say("nothing"),
                format=mesh.format,
            ),
            *notes,
        )
    tell(1.0, say("scan read"))
    return Scan(
        mesh.vertices, mesh.faces, mesh.format, mesh.unit, digest.hexdigest(), mesh.face_labels, notes
    )


def joined(scan: Scan) -> Scan:
    """Join vertices that are equal to the last bit: the named repair for files that repeat them.

    Returns the scan with its vertices in the order of first appearance and a note of how many there were;
    the same scan where none repeats.
    """
    from mountproof.case.scans._merge import same_vertices

    vertices = np.ascontiguousarray(scan.vertices, dtype=np.float64)
    first, which = same_vertices(vertices, int(scan.sha256[:16], 16))
    copies = len(vertices) - len(first)
    if not copies:
        return scan
    note = say(
        "{vertices} equal to another to the last bit joined with it", vertices=counted(copies, "vertex")
    )
    return scan._replace(vertices=vertices[first], faces=which[scan.faces], notes=(*scan.notes, note))


def _bytes_of(place: Path) -> bytes:
    try:
        # A device or a pipe could hang or never end: only plain files are opened.
        if not place.is_file():
            what = say("this is a folder") if place.is_dir() else say("there is no such file")
            refuse("scan.missing", what, say("Check the name of the scan file"))
        size = place.stat().st_size
        if size > MAX_FILE_BYTES:
            refuse(
                "scan.too_large",
                say("the file has {size:.0f} MB", size=size / 1e6),
                say(
                    "Files of up to {most:.0f} MB are read: export as binary STL or PLY",
                    most=MAX_FILE_BYTES / 1e6,
                ),
            )
        if size == 0:
            empty(say("the file is empty"))
        with place.open("rb") as file:
            return file.read(MAX_FILE_BYTES)
    except OSError as error:
        refuse(
            "scan.missing",
            say("the file cannot be opened ({why})", why=refusal(error)),
            say("Check the name and the permissions"),
        )


def format_of(data: bytes, ending: str) -> str:  # noqa: RET503 - refuse() never returns
    """Name the format of a file by its content (a key of the table of formats).

    ``ending`` such as ``.stl`` only decides what a damaged file was meant to be. Raises FaultError
    ``scan.not_a_mesh``.
    """
    head = data[:512].removeprefix(b"\xef\xbb\xbf").lstrip()
    if data[:4] == b"glTF":
        return "glb"
    if data[:4] == b"PK\x03\x04":
        return "3mf"
    if data[:4] in (b"ply\n", b"ply\r"):
        return "ply"
    if _is_whole_binary_stl(data):
        return "stl binary"
    for magic, what in _OTHERS:
        if data.startswith(magic) or head.startswith(magic):
            refuse("scan.not_a_mesh", say("this is {what}", what=what), _READABLE)
    if data[128:132] == b"DICM":
        refuse(
            "scan.not_a_mesh",
            say("this is a DICOM file"),
            say("Export the surface inside it as STL, PLY or OBJ"),
        )
    if head[:1] == b"{" and b'"asset"' in data[: 1 << 16]:
        refuse(
            "scan.not_a_mesh",
            say("this is a glTF text file, which keeps its mesh elsewhere"),
            say("Export as GLB"),
        )
    solid = head[:5].lower() == b"solid"
    if len(data) >= 84 and _is_binary(data) and (solid or ending == ".stl"):
        return "stl binary"
    if solid:
        return "stl text"
    if _looks_like_obj(data):
        return "obj"
    if ending == ".stl" and _is_binary(data):
        truncated(say("the file is no whole STL: its head or its length is damaged"))
    refuse("scan.not_a_mesh", say("the content is none of the scan formats known here"), _READABLE)


def _is_whole_binary_stl(data: bytes) -> bool:
    """Tell by the length alone: the head of a binary STL may say anything, "solid" included."""
    n = int.from_bytes(data[80:84], "little")
    return n > 0 and len(data) == 84 + 50 * n


def _is_binary(data: bytes) -> bool:
    return any(c < 9 or 13 < c < 32 for c in data[:512])


def _looks_like_obj(data: bytes) -> bool:
    """Tell whether the first word that is no comment is one of OBJ's; a long run of comments is not searched."""
    for raw in data[: 1 << 20].removeprefix(b"\xef\xbb\xbf").splitlines():
        words = raw.split(None, 1)
        if words and not words[0].startswith(b"#"):
            return words[0] in _OBJ_WORDS
    return False


def _parse(kind: str, data: bytes, salt: int, tell: Progress) -> Mesh:
    # Each reader is imported when it is needed: compiled code and XML take their time to load.
    if kind in ("stl binary", "stl text"):
        from mountproof.case.scans import stl

        return stl.read_binary(data, salt) if kind == "stl binary" else stl.read_text(data, salt)
    if kind == "ply":
        from mountproof.case.scans import ply

        return ply.read(data)
    if kind == "obj":
        from mountproof.case.scans import obj

        return obj.read(data)
    if kind == "3mf":
        from mountproof.case.scans import threemf

        return threemf.read(data, tell)
    from mountproof.case.scans import glb

    return glb.read(data, salt)
