"""GLB: glTF 2.0 in one binary file. Triangles of the scene, each mesh under the transforms above it.

Lengths are metres by the standard. A vertex is repeated there wherever its normal or colour changes; equal
positions become one again. Nothing outside the file is opened; compressed and sparse data are refused.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Hashable
from typing import Any, cast

import numpy as np

from mountproof.case.scans._merge import same_vertices
from mountproof.case.scans._placed import Node, Surface, assemble
from mountproof.case.scans._scan import (
    Floats,
    Ints,
    Mesh,
    check_counts,
    counted,
    empty,
    hostile,
    out_of_range,
    refuse,
    truncated,
    unreadable,
)
from mountproof.said import say

_MAX_JSON = 1 << 26
_JSON, _BIN = 0x4E4F534A, 0x004E4942
#: Types of the numbers of an accessor that can hold positions (float) or vertex numbers.
_FLOAT = 5126
_WHOLE = {5121: "<u1", 5123: "<u2", 5125: "<u4"}
_TRIANGLES = 4
#: Extensions that only say how a surface looks; any other that a file requires could change its shape.
_ONLY_LOOKS = ("KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_")


def read(data: bytes, salt: int) -> Mesh:
    """Read a GLB. Raises FaultError: truncated, unreadable, hostile, external, empty, too large, index."""
    tree, blob = _chunks(data)
    file = _File(tree, blob)
    for name in file.words("extensionsRequired"):
        if not name.startswith(_ONLY_LOOKS):
            unreadable(
                say("the GLB file needs {name!r}, which is not read here", name=name[:60]),
                say("Export it without compression or extensions, or as STL or PLY"),
            )
    scenes = file.items("scenes")
    scene = file.at("scenes", tree.get("scene", 0)) if scenes else {}
    if scenes:
        roots = [_index(i) for i in _list(scene.get("nodes", []))]
    else:
        every = range(len(file.items("nodes")))
        below = {_index(c) for n in every for c in _list(file.at("nodes", n).get("children", []))}
        roots = [n for n in every if n not in below]
    vertices, faces, notes = assemble([(n, _local(file.at("nodes", n))) for n in roots], file.node)
    if not len(faces):
        empty(say("the scene of the file holds no triangles"))
    if file.passed:
        notes.append(say("{parts} made of points or lines were not read", parts=counted(file.passed, "part")))
    if file.shaped:
        notes.append(say("skins and morph targets of the file were not applied"))
    joined = np.ascontiguousarray(vertices)
    first, which = same_vertices(joined, salt)
    if len(first) < len(joined):
        copies = counted(len(joined) - len(first), "vertex")
        notes.append(say("{vertices} equal to another to the last bit joined with it", vertices=copies))
        vertices, faces = joined[first], which[faces]
    return Mesh(vertices, faces, "GLB", unit="meter", notes=tuple(notes))


def _chunks(data: bytes) -> tuple[dict[str, Any], bytes]:
    if len(data) < 20:
        truncated(say("the file ends inside the head of a GLB"))
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        unreadable(say("this is version {version} of GLB; version 2 is read", version=version))
    if length > len(data):
        truncated(
            say("the file promises {promised} bytes and holds {there}", promised=length, there=len(data))
        )
    tree: dict[str, Any] | None = None
    blob = b""
    at = 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        at += 8
        if size > length - at:
            truncated(
                say(
                    "a part of the GLB file promises {promised} bytes and holds {there}",
                    promised=size,
                    there=length - at,
                )
            )
        if kind == _JSON and tree is None:
            if size > _MAX_JSON:
                hostile(say("the description inside the GLB file takes {size:.0f} MB", size=size / 1e6))
            tree = _parsed(data[at : at + size])
        elif kind == _BIN and not blob:
            blob = data[at : at + size]
        at += size
    if tree is None:
        unreadable(say("the GLB file has no description of its parts"))
    return tree, blob


def _parsed(text: bytes) -> dict[str, Any]:
    try:
        tree = json.loads(text.decode("utf-8"))
    except RecursionError:
        hostile(say("the description inside the GLB file is nested without end"))
    except (ValueError, UnicodeDecodeError):
        unreadable(say("the description inside the GLB file is damaged"))
    if not isinstance(tree, dict):
        unreadable(say("the description inside the GLB file is damaged"))
    return tree


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        unreadable(say("the description inside the GLB file has something else where a list stands"))
    return value


def _index(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 1 << 40:
        unreadable(say("the description inside the GLB file numbers something by what is no number"))
    return value


def _numbers(value: Any, n: int) -> Floats:
    ok = isinstance(value, list) and len(value) == n
    if not ok or not all(isinstance(x, int | float) and abs(x) < 1 << 60 for x in value):
        unreadable(say("a transform in the GLB file does not have {count} numbers", count=n))
    return np.array(value, np.float64)


class _File:
    """The parts of one file by kind and number, each made once."""

    def __init__(self, tree: dict[str, Any], blob: bytes) -> None:
        self._tree = tree
        self._blob = blob
        self._meshes: dict[int, tuple[Surface, ...]] = {}
        self.passed = 0
        self.shaped = False

    def items(self, kind: str) -> list[Any]:
        return _list(self._tree.get(kind, []))

    def words(self, kind: str) -> list[str]:
        return [str(x) for x in self.items(kind)]

    def at(self, kind: str, number: Any) -> dict[str, Any]:
        items = self.items(kind)
        i = _index(number)
        if i >= len(items) or not isinstance(items[i], dict):
            unreadable(
                say(
                    "the GLB file names a part it does not have (number {number} of its {kind})",
                    number=i,
                    kind=kind,
                )
            )
        return cast(dict[str, Any], items[i])

    def node(self, key: Hashable) -> Node:
        node = self.at("nodes", key)
        children = tuple((_index(c), _local(self.at("nodes", c))) for c in _list(node.get("children", [])))
        self.shaped |= "skin" in node
        surfaces = self._mesh(_index(node["mesh"])) if "mesh" in node else ()
        return Node(surfaces, children)

    def _mesh(self, number: int) -> tuple[Surface, ...]:
        if number not in self._meshes:
            found = []
            for primitive in _list(self.at("meshes", number).get("primitives", [])):
                if not isinstance(primitive, dict):
                    unreadable(say("the description inside the GLB file is damaged"))
                mode = primitive.get("mode", _TRIANGLES)
                self.shaped |= "targets" in primitive
                if mode == _TRIANGLES:
                    found.append(self._surface(primitive))
                elif mode in (5, 6):
                    unreadable(say("the faces are stored as strips or fans"), say("Export plain triangles"))
                else:
                    self.passed += 1
            self._meshes[number] = tuple(found)
        return self._meshes[number]

    def _surface(self, primitive: dict[str, Any]) -> Surface:
        attributes = primitive.get("attributes")
        if not isinstance(attributes, dict) or "POSITION" not in attributes:
            unreadable(say("a surface in the GLB file has no positions"))
        positions = self._values(attributes["POSITION"], "VEC3")
        if "indices" in primitive:
            indices = self._values(primitive["indices"], "SCALAR")[:, 0].astype(np.int64)
        else:
            indices = np.arange(len(positions), dtype=np.int64)
        if len(indices) % 3:
            unreadable(say("a surface in the GLB file has a triangle without three corners"))
        check_counts(len(indices) // 3, len(positions))
        if len(indices) and int(indices.max()) >= len(positions):
            n = len(positions)
            out_of_range(
                say(
                    "a triangle in the GLB file names a vertex that it does not have (it has {vertices})",
                    vertices=n,
                )
            )
        faces: Ints = indices.reshape(-1, 3).astype(np.int32)
        return Surface(positions.astype(np.float64), faces)

    def _values(self, number: Any, shape: str) -> Any:
        accessor = self.at("accessors", number)
        if "sparse" in accessor:
            unreadable(say("the GLB file stores positions as differences (sparse)"), say("Export plain data"))
        kind, count = accessor.get("componentType"), _index(accessor.get("count"))
        code = {_FLOAT: "<f4"} if shape == "VEC3" else _WHOLE
        if accessor.get("type") != shape or not isinstance(kind, int) or kind not in code:
            unreadable(
                say("positions or vertex numbers in the GLB file are of an unknown type"),
                say("Export plain data"),
            )
        if "bufferView" not in accessor:
            unreadable(say("positions or vertex numbers in the GLB file are left out"))
        item = np.dtype(code[kind])
        width = 3 if shape == "VEC3" else 1
        view = self.at("bufferViews", accessor["bufferView"])
        buffer = self.at("buffers", view.get("buffer"))
        if "uri" in buffer or _index(view.get("buffer")) != 0:
            refuse(
                "scan.external",
                say("the GLB file keeps its data in another file, which is not opened"),
                say("Export it as one GLB file"),
            )
        start = _index(view.get("byteOffset", 0))
        size = _index(view.get("byteLength"))
        offset = _index(accessor.get("byteOffset", 0))
        stride = _index(view.get("byteStride", item.itemsize * width)) or item.itemsize * width
        if start + size > len(self._blob):
            truncated(
                say(
                    "a part of the GLB file needs {needed} bytes of {there}",
                    needed=start + size,
                    there=len(self._blob),
                )
            )
        if stride < item.itemsize * width or (
            count and offset + stride * (count - 1) + item.itemsize * width > size
        ):
            out_of_range(say("a list in the GLB file is longer than the data it points to"))
        if not count:
            return np.zeros((0, width), item)
        return np.ndarray((count, width), item, self._blob, start + offset, (stride, item.itemsize))


def _local(node: dict[str, Any]) -> Floats:
    """Transform of a node from its parent's view: a matrix by columns, or move, turn and scale."""
    if "matrix" in node:
        return _numbers(node["matrix"], 16).reshape(4, 4).T
    matrix = np.eye(4)
    if "scale" in node:
        matrix[:3, :3] = np.diag(_numbers(node["scale"], 3))
    if "rotation" in node:
        matrix[:3, :3] = _turn(_numbers(node["rotation"], 4)) @ matrix[:3, :3]
    if "translation" in node:
        matrix[:3, 3] = _numbers(node["translation"], 3)
    return matrix


def _turn(q: Floats) -> Floats:
    """Rotation of a quaternion x, y, z, w, made of length one first."""
    n = float(q @ q)
    if n == 0.0:
        unreadable(say("a rotation in the GLB file is nothing"))
    x, y, z, w = q
    s = 2.0 / n
    return np.array(
        [
            [1 - s * (y * y + z * z), s * (x * y - z * w), s * (x * z + y * w)],
            [s * (x * y + z * w), 1 - s * (x * x + z * z), s * (y * z - x * w)],
            [s * (x * z - y * w), s * (y * z + x * w), 1 - s * (x * x + y * y)],
        ]
    )
