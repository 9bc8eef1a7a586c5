"""Scan files made byte by byte, so that the readers are tested against the formats and not against a writer."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from typing import Any

import numpy as np

CUBE_V = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
CUBE_F = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
RELS = (
    '<?xml version="1.0" encoding="UTF-8"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/{target}" '
    'Id="r0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def stl_binary(v: np.ndarray, f: np.ndarray, head: bytes = b"made for a test") -> bytes:
    out = [head.ljust(80, b" "), struct.pack("<I", len(f))]
    out += [struct.pack("<12fH", 0, 0, 0, *v[t].ravel(), 0) for t in f]
    return b"".join(out)


def stl_text(v: np.ndarray, f: np.ndarray, name: str = "part", form: str = "{!r}") -> bytes:
    lines = [f"solid {name}"]
    for t in f:
        lines += ["  facet normal 0 0 1", "    outer loop"]
        lines += ["      vertex " + " ".join(form.format(float(x)) for x in v[i]) for i in t]
        lines += ["    endloop", "  endfacet"]
    return "\n".join([*lines, f"endsolid {name}", ""]).encode()


def obj(v: np.ndarray, f: np.ndarray) -> bytes:
    lines = ["# made for a test"] + ["v " + " ".join(repr(float(x)) for x in p) for p in v]
    return "\n".join(lines + ["f " + " ".join(str(i + 1) for i in t) for t in f] + [""]).encode()


def ply_head(form: str, n: int, m: int, *, number: str = "double", index: str = "int") -> str:
    return (
        f"ply\nformat {form} 1.0\ncomment made for a test\nelement vertex {n}\nproperty {number} x\n"
        f"property {number} y\nproperty {number} z\nelement face {m}\n"
        f"property list uchar {index} vertex_indices\nend_header\n"
    )


def ply_text(v: np.ndarray, faces: Any) -> bytes:
    rows = [" ".join(repr(float(x)) for x in p) for p in v]
    rows += [" ".join(map(str, (len(t), *t))) for t in faces]
    return (ply_head("ascii", len(v), len(faces)) + "\n".join(rows) + "\n").encode()


def ply_binary(v: np.ndarray, faces: Any, order: str = "<") -> bytes:
    form = "binary_little_endian" if order == "<" else "binary_big_endian"
    out = [ply_head(form, len(v), len(faces)).encode(), v.astype(order + "f8").tobytes()]
    out += [struct.pack(f"{order}B{len(t)}i", len(t), *t) for t in faces]
    return b"".join(out)


def mesh_xml(v: np.ndarray, f: np.ndarray) -> str:
    points = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in v.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in f.tolist())
    return f"<mesh><vertices>{points}</vertices><triangles>{triangles}</triangles></mesh>"


def model_xml(resources: str, build: str, attributes: str = "") -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><model {attributes} xml:lang="en-US" xmlns="{CORE}">'
        f"<resources>{resources}</resources><build>{build}</build></model>"
    )


def zipped(members: dict[str, str | bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in members.items():
            package.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def threemf(model: str, target: str = "3D/scan.model", **more: str) -> bytes:
    return zipped({"_rels/.rels": RELS.format(target=target), target: model, **more})


def threemf_of(v: np.ndarray, f: np.ndarray, attributes: str = "") -> bytes:
    one = f'<object id="1" type="model">{mesh_xml(v, f)}</object>'
    return threemf(model_xml(one, '<item objectid="1"/>', attributes))


def glb_parts(tree: dict[str, Any], blob: bytes) -> bytes:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    blob += b"\0" * (-len(blob) % 4)
    length = 12 + 8 + len(text) + 8 + len(blob)
    return b"".join(
        [
            struct.pack("<4sII", b"glTF", 2, length),
            struct.pack("<II", len(text), 0x4E4F534A),
            text,
            struct.pack("<II", len(blob), 0x004E4942),
            blob,
        ]
    )


def glb_tree(v: np.ndarray, f: np.ndarray) -> tuple[dict[str, Any], bytes]:
    points, corners = v.astype("<f4").tobytes(), f.astype("<u4").tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(v), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": f.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(corners)},
        ],
        "buffers": [{"byteLength": len(points) + len(corners)}],
    }
    return tree, points + corners


def glb(v: np.ndarray, f: np.ndarray) -> bytes:
    return glb_parts(*glb_tree(v, f))


#: One whole small file of each format: ending, bytes.
WHOLE: dict[str, tuple[str, bytes]] = {
    "stl binary": (".stl", stl_binary(CUBE_V, CUBE_F)),
    "stl binary named solid": (".stl", stl_binary(CUBE_V, CUBE_F, b"solid by a careless writer")),
    "stl text": (".stl", stl_text(CUBE_V, CUBE_F)),
    "obj": (".obj", obj(CUBE_V, CUBE_F)),
    "ply text": (".ply", ply_text(CUBE_V, CUBE_F)),
    "ply little-endian": (".ply", ply_binary(CUBE_V, CUBE_F, "<")),
    "ply big-endian": (".ply", ply_binary(CUBE_V, CUBE_F, ">")),
    "3mf": (".3mf", threemf_of(CUBE_V, CUBE_F)),
    "glb": (".glb", glb(CUBE_V, CUBE_F)),
}


def same_triangles(v1: np.ndarray, f1: np.ndarray, v2: np.ndarray, f2: np.ndarray) -> bool:
    """Tell whether two meshes are the same triangles with the same side out, whatever their numbering."""

    def key(v: np.ndarray, f: np.ndarray) -> list[tuple[tuple[float, ...], ...]]:
        out = []
        for t in f:
            corners = [tuple((v[i] + 0.0).tolist()) for i in t]
            k = corners.index(min(corners))
            out.append(tuple(corners[k:] + corners[:k]))
        return sorted(out)

    return key(v1, f1) == key(v2, f2)
