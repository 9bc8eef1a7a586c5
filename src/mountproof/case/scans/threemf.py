"""3MF: a zip of XML parts; the meshes that its build list places, each under its own transform.

Units, transforms (3x4, row vectors) and mirrored instances by the 3MF Core Specification 1.4.0. XML is read
as a stream, without entities, without document types, without network; members of the zip are read up to a
limit whatever they promise; nothing is unpacked to disk.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from array import array
from collections.abc import Hashable, Mapping
from typing import cast

import numpy as np

from mountproof.case.scans._placed import Node, Surface, assemble
from mountproof.case.scans._scan import (
    MAX_TRIANGLES,
    MAX_VERTICES,
    UNITS_MM,
    Floats,
    Mesh,
    Progress,
    check_counts,
    empty,
    hostile,
    out_of_range,
    quiet,
    truncated,
    unreadable,
)
from mountproof.said import say

#: All members together, unpacked; two million triangles take about 200 MB of XML.
MAX_UNPACKED = 1 << 30
#: Plain meshes pack about 10 to 1; only emptiness repeated packs 200 to 1.
MAX_RATIO = 200
_RATIO_FROM = 1 << 24
_MOST_MEMBERS = 4096
_MOST_XML_DEPTH = 32

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
_MATERIALS = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
_UNDERSTOOD = frozenset((_CORE, _PRODUCTION, _MATERIALS))
_START_PART = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"

Key = tuple[str, str]


def read(data: bytes, tell: Progress = quiet) -> Mesh:
    """Read a 3MF; ``tell`` hears how far the XML is.

    Raises FaultError: truncated, hostile, unreadable, empty, too large, index out of range.
    """
    try:
        package = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OverflowError, struct.error) as error:
        if b"PK\x05\x06" not in data:
            truncated(say("the zip that a 3MF file is does not end"))
        unreadable(say("the zip that a 3MF file is, is damaged ({why})", why=str(error)[:80]))
    with package:
        members = _members(package, len(data))
        models: dict[str, _Model] = {}

        def model(part: str) -> _Model:
            if part not in models:
                models[part] = _Model(part)
                _feed(_unpacked(package, members, part), models[part], tell)
            return models[part]

        nodes: dict[Hashable, Node] = {}

        def find(key: Hashable) -> Node:
            if key not in nodes:
                part, number = cast(Key, key)
                found = model(part).objects.get(number)
                if found is None:
                    unreadable(
                        say(
                            "the 3MF file places an object {name!r} that it does not have",
                            name=number[:20],
                        )
                    )
                nodes[key] = found.node((part, number))
            return nodes[key]

        start = model(_start_part(package, members))
        build, notes = start.build, []
        if not build:
            build = [
                ((start.part, number), np.eye(4)) for number, one in start.objects.items() if one.corners
            ]
            if build:
                notes = [say("the build list of the file is empty: all its objects were read")]
        vertices, faces, more = assemble(build, find)
    if not len(faces):
        empty()
    return Mesh(vertices, faces, "3MF", unit=start.unit, notes=(*notes, *more))


def _members(package: zipfile.ZipFile, packed: int) -> dict[str, zipfile.ZipInfo]:
    infos = package.infolist()
    if len(infos) > _MOST_MEMBERS:
        hostile(say("the zip has {count} members", count=len(infos)))
    total = 0
    members = {}
    for info in infos:
        name = info.filename
        if name.startswith(("/", "\\")) or "\\" in name or ".." in name.split("/") or ":" in name:
            hostile(say("the zip names a file outside itself ({name!r})", name=name[:60]))
        total += info.file_size
        if info.file_size > _RATIO_FROM and info.file_size > MAX_RATIO * max(info.compress_size, 1):
            hostile(
                say(
                    "a member of the zip unpacks to {times} times its size",
                    times=info.file_size // max(info.compress_size, 1),
                )
            )
        members[name.lower()] = info
    if total > MAX_UNPACKED:
        hostile(
            say(
                "the zip of {packed:.0f} MB says it unpacks to {total:.0f} MB",
                packed=packed / 1e6,
                total=total / 1e6,
            )
        )
    return members


def _unpacked(package: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], name: str) -> bytes:
    info = members.get(name.lower())
    if info is None:
        unreadable(say("the 3MF file has no part {name!r}", name=name[:60]))
    if info.flag_bits & 1:
        unreadable(say("the 3MF file is locked by a password"), say("Export it again without a password"))
    most = min(MAX_UNPACKED, max(_RATIO_FROM, MAX_RATIO * max(info.compress_size, 1)))
    try:
        with package.open(info) as member:
            content = member.read(most + 1)
    except (
        zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError
    ) as error:  # fmt: skip
        unreadable(
            say(
                "the part {name!r} of the 3MF file is damaged ({why})",
                name=name[:60],
                why=str(error)[:80],
            )
        )
    if len(content) > most:
        hostile(say("the part {name!r} unpacks to more than {most:.0f} MB", name=name[:60], most=most / 1e6))
    if content[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in content[:1024]:
        unreadable(say("the text inside the 3MF file is not UTF-8, as 3MF asks for"))
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        hostile(say("the text inside the 3MF file brings its own document type, which no scan needs"))
    return content


def _start_part(package: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo]) -> str:
    if "_rels/.rels" in members:
        relations = _Relations()
        _feed(_unpacked(package, members, "_rels/.rels"), relations, quiet)
        if relations.model is not None:
            return _inside(relations.model)
    if "3d/3dmodel.model" in members:
        return "3d/3dmodel.model"
    return unreadable(
        say("this zip holds no 3MF model"), say("Unpack it if it is an archive, and give the scan itself")
    )


def _inside(name: str) -> str:
    """Name of a part inside the zip, in small letters as parts are compared."""
    if ":" in name or "\\" in name or ".." in name.split("/"):
        hostile(say("the 3MF file refers to something outside itself ({name!r})", name=name[:60]))
    return name.lstrip("/").lower()


def _feed(content: bytes, target: _Relations | _Model, tell: Progress) -> None:
    from lxml import etree

    parser = etree.XMLParser(
        target=target,
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        for at in range(0, len(content), 1 << 20):
            parser.feed(content[at : at + (1 << 20)])
            tell(0.2 + 0.7 * at / len(content), say("reading the scan"))
        parser.close()
    except etree.XMLSyntaxError as error:
        reason = say("{why}, its line {line}", why=str(error.msg)[:80], line=error.lineno)
        unreadable(say("the text inside the 3MF file is damaged ({why})", why=reason))


class _Depth:
    """Counts how deep the elements are nested."""

    def __init__(self) -> None:
        self.depth = 0

    def start(self, tag: str, attributes: Mapping[str, str], namespaces: Mapping[str, str]) -> None:
        self.depth += 1
        if self.depth > _MOST_XML_DEPTH:
            hostile(
                say(
                    "the text inside the 3MF file is nested more than {most} deep",
                    most=_MOST_XML_DEPTH,
                )
            )
        self.take(tag, attributes, namespaces)

    def take(self, tag: str, attributes: Mapping[str, str], namespaces: Mapping[str, str]) -> None:
        raise NotImplementedError

    def end(self, tag: str) -> None:
        self.depth -= 1

    def close(self) -> None:
        return None


class _Relations(_Depth):
    """The one relation that names the model."""

    def __init__(self) -> None:
        super().__init__()
        self.model: str | None = None

    def take(self, tag: str, attributes: Mapping[str, str], namespaces: Mapping[str, str]) -> None:
        if tag.endswith("}Relationship") and attributes.get("Type") == _START_PART and self.model is None:
            self.model = attributes.get("Target", "")


class _Object:
    """Numbers of one object as they come."""

    def __init__(self) -> None:
        self.coordinates = array("d")
        self.corners = array("q")
        self.components: list[tuple[Key, Floats]] = []

    def node(self, key: Key) -> Node:
        v = np.array(self.coordinates, np.float64).reshape(-1, 3)
        f = np.array(self.corners, np.int64).reshape(-1, 3)
        if f.size and (int(f.min()) < 0 or int(f.max()) >= len(v)):
            out_of_range(
                say(
                    "a triangle of object {name} names a vertex that it does not have (it has {vertices})",
                    name=key[1][:20],
                    vertices=len(v),
                )
            )
        surfaces = (Surface(v, f.astype(np.int32)),) if len(f) else ()
        return Node(surfaces, tuple(self.components))


class _Model(_Depth):
    """Objects and build list of one part of the file."""

    def __init__(self, part: str) -> None:
        super().__init__()
        self.part = part
        self.unit: str | None = None
        self.objects: dict[str, _Object] = {}
        self.build: list[tuple[Key, Floats]] = []
        self._now = _Object()
        self._rows = 0

    def take(self, tag: str, attributes: Mapping[str, str], namespaces: Mapping[str, str]) -> None:
        space, _, name = tag[1:].rpartition("}") if tag[:1] == "{" else ("", "", tag)
        if space != _CORE:
            if self.depth == 1:
                unreadable(say("the 3MF file does not follow the core specification of 3MF"))
            return
        try:
            if name == "vertex":
                self._now.coordinates.extend(float(attributes[a]) for a in ("x", "y", "z"))
                self._one_row()
            elif name == "triangle":
                self._now.corners.extend([int(attributes[a]) for a in ("v1", "v2", "v3")])
                self._one_row()
            elif name == "object":
                self._now = _Object()
                self.objects[attributes["id"]] = self._now
            elif name == "component":
                self._now.components.append((self._key(attributes), _transform(attributes)))
                self._one_row()
            elif name == "item":
                self.build.append((self._key(attributes), _transform(attributes)))
                self._one_row()
            elif name == "model":
                self._model(attributes, namespaces)
        except (KeyError, ValueError, OverflowError):
            unreadable(say("a {name} in the 3MF file lacks a number, or has one that is none", name=name))

    def _one_row(self) -> None:
        self._rows += 1
        if self._rows > MAX_TRIANGLES + MAX_VERTICES:
            check_counts(self._rows, self._rows)

    def _key(self, attributes: Mapping[str, str]) -> Key:
        path = attributes.get(f"{{{_PRODUCTION}}}path")
        return (self.part if path is None else _inside(path), attributes["objectid"])

    def _model(self, attributes: Mapping[str, str], namespaces: Mapping[str, str]) -> None:
        self.unit = attributes.get("unit", "millimeter")
        if self.unit not in UNITS_MM:
            unreadable(
                say("the 3MF file declares the unit {unit!r}, which 3MF does not have", unit=self.unit[:20])
            )
        for prefix in attributes.get("requiredextensions", "").split():
            if namespaces.get(prefix) not in _UNDERSTOOD:
                unreadable(
                    say(
                        "the 3MF file needs the extension {name!r}, which is not read here",
                        name=prefix[:20],
                    ),
                    say("Export a plain 3MF, STL or PLY"),
                )


def _transform(attributes: Mapping[str, str]) -> Floats:
    text = attributes.get("transform")
    if text is None:
        return np.eye(4)
    numbers = np.array([float(word) for word in text.split()])
    if numbers.size != 12 or not np.isfinite(numbers).all():
        raise ValueError("a transform has twelve numbers")
    matrix = np.eye(4)
    # The file's twelve numbers are four rows of three for row vectors; here vectors are columns.
    matrix[:3, :] = numbers.reshape(4, 3).T
    return matrix
