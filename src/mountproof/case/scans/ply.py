"""PLY, text or binary (either byte order): the elements ``vertex`` and ``face``; the rest is passed over.

The head is read in Python; records without lists are taken as they lie; faces whose lists all have three
corners too; any other list is walked, every promise of its length held against the bytes that are there.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from mountproof.case.scans import _ply_walk as walk
from mountproof.case.scans._numbers import line_of, settle
from mountproof.case.scans._polygons import fan, note_of
from mountproof.case.scans._scan import (
    Floats,
    Ints,
    Mesh,
    as_bytes,
    check_counts,
    empty,
    hostile,
    out_of_range,
    refuse,
    truncated,
    unreadable,
)
from mountproof.said import say

_HEAD_BYTES = 1 << 16
_MOST_ELEMENTS = 64
_MOST_PROPERTIES = 256
_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
    "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4",
    "float": "f4", "double": "f8", "float32": "f4", "float64": "f8",
}  # fmt: skip
_CORNER_LISTS = ("vertex_indices", "vertex_index")
#: Names under which a whole number per face is taken for a label.
_LABELS = ("tooth", "label")


class Property(NamedTuple):
    """One column: its type, and for a list the type of its length."""

    name: str
    kind: str
    length: str | None


class Element(NamedTuple):
    """One kind of record and how many of them the file promises."""

    name: str
    records: int
    properties: list[Property]


def read(data: bytes) -> Mesh:
    """Read a PLY. Raises FaultError: truncated, empty, too large, hostile, unreadable, index out of range."""
    order, elements, at = _head(data)
    names = [e.name for e in elements]
    if "vertex" not in names or "face" not in names:
        if "tristrips" in names:
            unreadable(
                say("the faces are stored as strips"), say("Export the scan again with plain triangles")
            )
        empty(
            say("the file holds points but no faces") if "vertex" in names else say("the file holds no faces")
        )
    buf = as_bytes(data)
    vertices: Floats | None = None
    faces: Ints | None = None
    labels: Ints | None = None
    notes: list[str] = []
    for element in elements:
        check_counts(element.records if element.name == "face" else 0, element.records)
        _check_room(element, order, len(data) - at)
        if element.name == "vertex" and vertices is None:
            vertices, at = _vertices(data, buf, at, element, order)
        elif element.name == "face" and faces is None:
            faces, labels, polygons, at = _faces(data, buf, at, element, order)
            notes += note_of(polygons)
        else:
            _, at = _walked(data, buf, at, element, order, [])
    assert vertices is not None and faces is not None
    if order == "" and buf[at:].size and np.any(buf[at:] > 32):
        notes.append(say("text after the last record was not read"))
    if order != "" and len(data) > at:
        notes.append(say("{bytes} bytes after the last record were not read", bytes=len(data) - at))
    name = {
        "": say("PLY (text)"),
        "<": say("PLY (binary, little-endian)"),
        ">": say("PLY (binary, big-endian)"),
    }[order]
    return Mesh(vertices, faces, name, face_labels=labels, notes=tuple(notes))


def _head(data: bytes) -> tuple[str, list[Element], int]:
    """Byte order ("" for text), elements, and where the records begin."""
    end = data.find(b"end_header", 0, _HEAD_BYTES)
    if end < 0:
        if len(data) < _HEAD_BYTES:
            truncated(say("the file ends inside its head"))
        hostile(say("the head of the PLY file does not end within {most} bytes", most=_HEAD_BYTES))
    after = end + len(b"end_header")
    # Blanks may stand before the line end; text readers take it as they find it.
    while data[after : after + 1] in (b" ", b"\t"):
        after += 1
    if data[after : after + 2] == b"\r\n":
        after += 2
    elif data[after : after + 1] in (b"\n", b"\r"):
        after += 1
    order: str | None = None
    elements: list[Element] = []
    for n, raw in enumerate(data[:end].decode("latin-1").splitlines(), start=1):
        words = raw.split()
        if not words or words[0] in ("ply", "comment", "obj_info"):
            continue
        if words[0] == "format" and len(words) >= 2:
            known = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
            if words[1] not in known:
                unreadable(say("the PLY format {name!r} is not known", name=words[1][:40]), line=n)
            order = known[words[1]]
        elif words[0] == "element" and len(words) == 3:
            if not (words[2].isascii() and words[2].isdigit() and len(words[2]) < 19):
                unreadable(say("the number of records is not a number"), line=n)
            elements.append(Element(words[1], int(words[2]), []))
        elif words[0] == "property" and elements and len(words) in (3, 5):
            elements[-1].properties.append(_property(words, n))
        else:
            unreadable(say("this line of the head is not understood"), line=n)
        if len(elements) > _MOST_ELEMENTS or (elements and len(elements[-1].properties) > _MOST_PROPERTIES):
            hostile(say("the head of the PLY file names more kinds of data than any scan has"))
    if order is None:
        unreadable(say("the head does not say whether the file is text or binary"))
    return order, elements, after


def _property(words: list[str], line: int) -> Property:
    if len(words) == 3 and words[1] in _TYPES:
        return Property(words[2], _TYPES[words[1]], None)
    if len(words) == 5 and words[1] == "list" and words[2] in _TYPES and words[3] in _TYPES:
        if _TYPES[words[2]].startswith("f"):
            unreadable(say("a list whose length is not a whole number"), line=line)
        return Property(words[4], _TYPES[words[3]], _TYPES[words[2]])
    return unreadable(say("a property of an unknown type"), line=line)


def _check_room(element: Element, order: str, left: int) -> None:
    """Refuse a promise that the rest of the file cannot keep, before anything of that size is made."""
    if order == "":
        # Every token is a letter and a blank; the last needs no blank.
        least = 2 * len(element.properties)
        left += 1
    else:
        least = sum(int((p.length or p.kind)[1]) for p in element.properties)
    if element.records and element.properties and element.records * least > left:
        truncated(
            say(
                "the file promises {records} records of {name!r} and has room for {there}",
                records=element.records,
                name=element.name[:40],
                there=max(left, 0) // least,
            )
        )


def _walked(
    data: bytes, buf: npt.NDArray[np.uint8], at: int, element: Element, order: str, wanted: list[int]
) -> tuple[npt.NDArray[np.int64], int]:
    """Where the ``wanted`` values begin, or for a list its length: (count, wanted) byte positions; the end."""
    props = element.properties
    if not props:
        return np.zeros((0, len(wanted)), np.int64), at
    is_list = np.array([p.length is not None for p in props])
    keep = np.full(len(props), -1, np.int64)
    keep[wanted] = np.arange(len(wanted))
    if order == "":
        found, end, done = walk.text_records(buf, at, element.records, is_list, keep, len(wanted))
    else:
        length = np.array([int((p.length or "u0")[1]) for p in props], np.int64)
        item = np.array([int(p.kind[1]) for p in props], np.int64)
        big = order == ">"
        found, end, done = walk.binary_records(buf, at, element.records, length, item, big, keep, len(wanted))
    if done == -1:
        unreadable(
            say("the length of a list in {name!r} is not a number", name=element.name[:40]),
            line=line_of(data, int(end)),
        )
    if done < element.records:
        truncated(
            say(
                "the file promises {records} records of {name!r} and holds {there}",
                records=element.records,
                name=element.name[:40],
                there=done,
            )
        )
    return found, int(end)


def _vertices(
    data: bytes, buf: npt.NDArray[np.uint8], at: int, element: Element, order: str
) -> tuple[Floats, int]:
    names = [p.name for p in element.properties]
    if any(p.length is not None for p in element.properties) or not {"x", "y", "z"} <= set(names):
        unreadable(say("the vertices of the PLY file have no plain x, y, z"))
    columns = [names.index(axis) for axis in "xyz"]
    if order == "":
        found, end = _walked(data, buf, at, element, order, columns)
        return _text_columns(data, buf, found), end
    record = _record(element, order)
    rows = np.frombuffer(data, record, element.records, at)
    out = np.zeros((element.records, 3))
    with np.errstate(invalid="ignore"):  # a signalling NaN is named later, with its vertex
        for i, c in enumerate(columns):
            out[:, i] = rows[f"f{c}"]
    return out, at + record.itemsize * element.records


def _text_columns(data: bytes, buf: npt.NDArray[np.uint8], at: npt.NDArray[np.int64]) -> Floats:
    where = np.ascontiguousarray(at).ravel()
    values, left_at, bad = walk.text_numbers(buf, where)
    if bad >= 0:
        unreadable(
            say("a coordinate is not a number"),
            say("Export the scan again, with a decimal point, or as binary PLY"),
            line=line_of(data, int(where[bad])),
        )
    settle(data, values, left_at)
    return np.asarray(values.reshape(at.shape), dtype=np.float64)


def _record(element: Element, order: str, corners: str | None = None) -> np.dtype[Any]:
    """Layout of one binary record; a list of ``corners`` is taken to have three entries."""
    fields: list[Any] = []
    for i, p in enumerate(element.properties):
        if p.name == corners:
            fields += [("n", order + str(p.length)), (f"f{i}", order + p.kind, 3)]
        else:
            fields.append((f"f{i}", order + p.kind))
    return np.dtype(fields)


def _faces(
    data: bytes, buf: npt.NDArray[np.uint8], at: int, element: Element, order: str
) -> tuple[Ints, Ints | None, int, int]:
    """Triangles, labels, how many polygons were cut, and where the records end."""
    lists = [i for i, p in enumerate(element.properties) if p.length is not None]
    named = [i for i in lists if element.properties[i].name in _CORNER_LISTS]
    if not named:
        unreadable(say("the faces of the PLY file have no list of vertices"))
    c = named[0]
    if element.properties[c].kind.startswith("f"):
        unreadable(say("the faces of the PLY file number their vertices with fractions"))
    label = next(
        (
            i
            for i, p in enumerate(element.properties)
            if p.name in _LABELS and p.length is None and not p.kind.startswith("f")
        ),
        None,
    )
    if order != "" and lists == [c]:
        record = _record(element, order, element.properties[c].name)
        size = record.itemsize * element.records
        if at + size <= len(data):
            rows = np.frombuffer(data, record, element.records, at)
            if np.all(rows["n"] == 3):
                labels = None if label is None else _int32(rows[f"f{label}"], "label")
                return _int32(rows[f"f{c}"], "vertex"), labels, 0, at + size
    found, end = _walked(data, buf, at, element, order, [c] if label is None else [c, label])
    kinds = element.properties[c]
    if order == "":
        corners, start, stop, where = walk.text_lists(buf, np.ascontiguousarray(found[:, 0]))
        line = line_of(data, int(where))
    else:
        size, item = int(str(kinds.length)[1]), int(kinds.kind[1])
        signed = kinds.kind.startswith("i")
        corners, start, stop, where = walk.binary_lists(
            buf, np.ascontiguousarray(found[:, 0]), size, item, signed, order == ">"
        )
        line = None
    if stop == walk.SHORT:
        unreadable(say("a face has fewer than three corners"), line=line)
    if stop == walk.NO_INDEX:
        unreadable(say("a corner of a face is not written as a vertex number"), line=line)
    if stop == walk.FAR:
        out_of_range(say("a face names a vertex that the file does not have"), line=line)
    sides = np.diff(start)
    check_counts(int((sides - 2).sum()), 0)
    faces = np.zeros((int((sides - 2).sum()), 3), np.int32)
    fan(corners, start, faces)
    labels = None
    if label is not None:
        column = np.ascontiguousarray(found[:, 1])
        kind = element.properties[label].kind
        per_face = (
            _text_columns(data, buf, column)
            if order == ""
            else walk.binary_values(buf, column, int(kind[1]), kind.startswith("i"), order == ">")
        )
        labels = np.repeat(_int32(per_face, "label"), sides - 2)
    return faces, labels, int(np.count_nonzero(sides > 3)), end


def _int32(values: npt.NDArray[Any], what: str) -> Ints:
    limit = np.iinfo(np.int32).max
    if values.size and not (np.all(values >= -limit) and np.all(values <= limit)):
        if what == "vertex":
            out_of_range(say("a face names a vertex that the file does not have"))
        refuse(
            "scan.unreadable", say("a label of a face is no number that fits"), say("Export the scan again")
        )
    return values.astype(np.int32)
