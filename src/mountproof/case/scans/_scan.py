"""A scan as it was found in its file, the limits of what is read, and the one place where units are applied."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, NoReturn

import numpy as np
import numpy.typing as npt

from mountproof.faults import Fault, FaultError
from mountproof.said import figure, joined, say

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Bytes = npt.NDArray[np.uint8]
#: Called with the share done (0 to 1) and a few words; it may raise ``mountproof.faults.Cancelled``.
Progress = Callable[[float, str], None]

#: Two million triangles as text are about half of this.
MAX_FILE_BYTES = 1 << 30
MAX_TRIANGLES = 2_000_000
#: A surface of triangles has about half as many vertices as faces; six to a triangle leaves room for copies.
MAX_VERTICES = 3 * MAX_TRIANGLES
#: 10 m in the smallest unit a scan file can declare (micron).
MAX_COORDINATE = 1e7

#: Millimetres in one unit, under the names the file formats use.
UNITS_MM = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
_SHORT = {
    "um": "micron",
    "mm": "millimeter",
    "millimetre": "millimeter",
    "cm": "centimeter",
    "centimetre": "centimeter",
    "in": "inch",
    "ft": "foot",
    "m": "meter",
    "metre": "meter",
}


class Scan(NamedTuple):
    """One surface as found in a file.

    ``vertices`` (n, 3) float64 in the units of the file, in the file's order; ``faces`` (m, 3) int32;
    ``format`` such as ``STL (binary)``; ``unit`` the file's own declaration (a key of ``UNITS_MM``) or None;
    ``sha256`` of the file; ``face_labels`` (m,) whole numbers where the file has them; ``notes`` everything
    a person should know about how it was read, one sentence each.
    """

    vertices: Floats
    faces: Ints
    format: str
    unit: str | None
    sha256: str
    face_labels: Ints | None = None
    notes: tuple[str, ...] = ()


class Mesh(NamedTuple):
    """What a reader hands back: the parts of a Scan that a format decides."""

    vertices: Floats
    faces: Ints
    format: str
    unit: str | None = None
    face_labels: Ints | None = None
    notes: tuple[str, ...] = ()


def refuse(code: str, what: str, todo: str, *, line: int | None = None, got: str = "") -> NoReturn:
    """Raise one fault of a scan file; the file's name is added where the file is known."""
    raise FaultError([Fault(code=code, what=what, todo=todo, line=line, got=got)])


def truncated(what: str) -> NoReturn:
    """Raise ``scan.truncated``."""
    refuse("scan.truncated", what, say("Export or copy the file again; do not use what is left of it"))


def empty(what: str = say("the file holds no triangles")) -> NoReturn:
    """Raise ``scan.empty``."""
    refuse("scan.empty", what, say("Export the scan again as a surface of triangles"))


def unreadable(what: str, todo: str = say("Export the scan again"), *, line: int | None = None) -> NoReturn:
    """Raise ``scan.unreadable``."""
    refuse("scan.unreadable", what, todo, line=line)


def hostile(what: str) -> NoReturn:
    """Raise ``scan.hostile``."""
    refuse(
        "scan.hostile", what, say("Do not open this file elsewhere; ask whoever sent it for a plain export")
    )


def out_of_range(what: str, *, line: int | None = None) -> NoReturn:
    """Raise ``scan.index_out_of_range``."""
    refuse(
        "scan.index_out_of_range",
        what,
        say("The file is damaged or was cut off: export or copy it again"),
        line=line,
    )


def check_counts(n_triangles: int, n_vertices: int) -> None:
    """Raise ``scan.too_large`` before anything of that size is made."""
    if n_triangles > MAX_TRIANGLES or n_vertices > MAX_VERTICES:
        refuse(
            "scan.too_large",
            say(
                "the file has {triangles} triangles on {vertices} vertices",
                triangles=n_triangles,
                vertices=n_vertices,
            ),
            say(
                "Scans of up to {most} triangles are read: trim the base away or scan one arch to a file",
                most=MAX_TRIANGLES,
            ),
        )


def quiet(_share: float, _what: str) -> None:
    """Report no progress."""


def as_bytes(data: bytes) -> Bytes:
    """View bytes as an array without a copy."""
    return np.frombuffer(data, np.uint8)


_COUNTED = {
    "byte": (say("byte"), say("bytes")),
    "face": (say("face"), say("faces")),
    "part": (say("part"), say("parts")),
    "triangle": (say("triangle"), say("triangles")),
    "vertex": (say("vertex"), say("vertices")),
}


def counted(n: int, word: str) -> str:
    """Return ``1 triangle`` or ``2 triangles``; ``word`` is one of byte, face, part, triangle, vertex."""
    return say("{n} {what}", n=n, what=_COUNTED[word][n != 1])


def to_millimetres(scan: Scan, unit: str | None = None) -> Scan:
    """Apply the unit of a scan: vertices in mm, what was done added to the notes.

    ``unit`` is what the case says (a key of ``UNITS_MM`` or mm, cm, m, in, ft, um); without it the file's own
    declaration counts. Raises FaultError ``scan.unit_missing`` where neither says anything,
    ``scan.unit_unknown_word`` for a word that is no unit, and ``scan.unit_contradicted`` where both speak and
    differ: which one is right is for a person to say.
    """
    said = _unit_named(unit) if unit is not None else None
    if said is None and scan.unit is None:
        refuse(
            "scan.unit_missing",
            say("nothing says in which unit the numbers of this {format} file are", format=scan.format),
            say("State the unit of the scan: mm, inch, metre"),
        )
    if said is not None and scan.unit is not None and said != scan.unit:
        refuse(
            "scan.unit_contradicted",
            say("the file declares {declared}, the case says {stated}", declared=scan.unit, stated=said),
            say("Measure one tooth with the caliper, compare, and change the case or export again"),
        )
    used = said or scan.unit
    assert used is not None
    source = say("stated for this scan") if said is not None else say("declared by the file")
    if used == "millimeter":
        return scan._replace(unit=used, notes=(*scan.notes, say("unit mm, {source}", source=source)))
    factor = UNITS_MM[used]
    # A thousandth is not a binary number, a thousand is: dividing rounds once instead of twice.
    scaled = scan.vertices / 1000.0 if used == "micron" else scan.vertices * factor
    note = say(
        "unit {unit}, {source}: all coordinates were multiplied by {factor:g} to give millimetres",
        unit=used,
        source=source,
        factor=factor,
    )
    return scan._replace(vertices=scaled, unit="millimeter", notes=(*scan.notes, note))


def _unit_named(word: str) -> str:
    name = word.strip().lower()
    name = _SHORT.get(name, name)
    if name not in UNITS_MM:
        refuse(
            "scan.unit_unknown_word",
            say("{word!r} is no unit of length known here", word=word),
            say("Write one of mm, cm, m, inch, ft, um"),
        )
    return name


def check_mesh(mesh: Mesh) -> None:
    """Raise every fault of a mesh at once: empty, coordinates not finite or absurd, indices out of range."""
    faults: list[Fault] = []
    v, f = mesh.vertices, mesh.faces
    if not len(f) or not len(v):
        empty()
    check_counts(len(f), len(v))
    finite = np.isfinite(v).all(axis=1)
    if not finite.all():
        bad = int(np.flatnonzero(~finite)[0])
        faults.append(
            Fault(
                "scan.not_finite",
                say(
                    "{vertices} of {all} have a coordinate that is no number, the first is vertex {first}",
                    vertices=counted(int((~finite).sum()), "vertex"),
                    all=len(v),
                    first=bad + 1,
                ),
                say("Export the scan again; if it comes back, scan again"),
                got=_shown(v[bad]),
            )
        )
    absurd = np.abs(v[finite]).max(initial=0.0)
    if absurd > MAX_COORDINATE:
        faults.append(
            Fault(
                "scan.absurd_coordinates",
                say("a coordinate of {far:.3g} lies farther out than any unit could explain", far=absurd),
                say("Export the scan again; if it comes back, scan again"),
                allowed=say("up to {most:.0e} in the units of the file", most=MAX_COORDINATE),
            )
        )
    low, high = int(f.min()), int(f.max())
    if low < 0 or high >= len(v):
        n = int(np.count_nonzero(((f < 0) | (f >= len(v))).any(axis=1)))
        faults.append(
            Fault(
                "scan.index_out_of_range",
                say(
                    "{triangles} of {all} name a vertex that the file does not have (it has {vertices})",
                    triangles=counted(n, "triangle"),
                    all=len(f),
                    vertices=len(v),
                ),
                say("The file is damaged or was cut off: export or copy it again"),
            )
        )
    if faults:
        raise FaultError(faults)


def _shown(point: npt.NDArray[Any]) -> str:
    return joined("; ", (figure(float(x), "g") for x in point))
