"""The program's own tooth number for every face of an arch scan.

Separate crown shells are counted along the arch; a cast, which is one surface, is first cut into crowns. What
the case says about missing teeth is weighed against what is seen, and a contradiction is said, not swallowed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry.topology import components
from mountproof.occlusion.archline import fit_archline, project
from mountproof.occlusion.crowns import CELL_MM, HALF_WIDTH_MM, Layout, Unrolled, lay_out, raster_of, unroll
from mountproof.occlusion.rowfit import TRUST_THE_SCAN, RowFit, fit_row
from mountproof.said import joined, say
from mountproof.teeth import Arch, is_permanent, right_to_left, side_of, tooth_text

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

Route = Literal["shells", "cast", "none"]

#: Usual mesiodistal widths of crowns, mm, from the midline distally (common practice, no source); only their
#: proportions matter, the arch sets the scale.
USUAL_WIDTH_MM: dict[Arch, tuple[float, ...]] = {
    "upper": (8.5, 6.5, 7.5, 7.0, 7.0, 10.0, 9.0, 8.5),
    "lower": (5.0, 5.5, 7.0, 7.0, 7.0, 11.0, 10.5, 10.0),
}
#: A tooth keeps its number when the evidence for it is at least this.
SURE = 0.90
#: What the crowns alone say is mentioned against the case from this probability on.
_LIKELY = 0.60
#: A piece wider than this in plan holds more than one crown.
_CAST_EXTENT_MM = 26.0
#: Pieces with less than this share of the middle crown's area are debris.
_DEBRIS = 0.15
#: No crown has less surface than this.
_SMALLEST_CROWN_MM2 = 20.0


class Numbering(NamedTuple):
    """A tooth number for each face.

    ``labels`` (m,) int32 ISO 3950, 0 for gum, base, debris and crowns that could not be told; ``teeth`` (k,) int32
    the teeth found, from the patient's right to the left; ``confidence`` (k,) between 0 and 1; ``route`` how it was
    done; ``settled`` False when a person should look: some crown could not be told, or the case's missing teeth
    do not agree with what is seen; ``note`` says what was done and what does not agree, in sentences.
    """

    labels: I32
    teeth: I32
    confidence: F64
    route: Route
    settled: bool
    note: str


def number_faces(
    vertices_mm: F64, faces: I32, arch: Arch, missing: Iterable[int] = (), *, one_surface: bool = False
) -> Numbering:
    """Number the faces of one arch scan that stands in the program's frame.

    ``vertices_mm`` (n, 3) float64 mm, x anterior, y superior, z to the patient's right; ``faces`` (m, 3) int32;
    ``arch`` ``"upper"`` or ``"lower"``; ``missing`` ISO 3950 numbers the case says are not there (both arches may
    be given); ``one_surface`` True cuts crowns
    apart by shape even where they are separate pieces.
    ValueError for wrong shapes, coordinates that are not finite, or a missing tooth that is none.
    """
    if vertices_mm.ndim != 2 or vertices_mm.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
        raise ValueError("vertices must be (n, 3) and faces (m, 3)")
    if not np.isfinite(vertices_mm).all():
        raise ValueError("coordinates must be finite")
    gone = frozenset(missing)
    if not all(is_permanent(t) for t in gone):
        raise ValueError("missing teeth must be permanent teeth in ISO 3950")
    row = right_to_left(arch)
    present = np.array([t not in gone for t in row])
    if len(faces) == 0 or not present.any():
        return _nothing(len(faces), say("There is nothing to number"))
    v = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    f = np.ascontiguousarray(faces, dtype=np.int32)
    pieces = components(f, len(v))
    of_face, count = pieces.of_face, pieces.n_faces.size
    area, middle = np.zeros(len(f)), np.zeros((len(f), 3))
    piece_area, low, high = np.zeros(count), np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    _measure(v, f, of_face, area, middle, piece_area, low, high)
    compact = np.hypot(*(high - low).T) <= _CAST_EXTENT_MM
    crowns = _crown_pieces(piece_area, compact, int(present.sum()))
    few = crowns.size < max(3, int(present.sum()) // 2)
    if one_surface or (few and not compact.all()):
        return _cast(v, f, middle, arch, row, present)
    return _shells(middle, area, of_face, crowns, count, row, present, arch)


@njit(cache=True, nogil=True)
def _measure(v, faces, of_face, area, middle, piece_area, low, high):  # type: ignore[no-untyped-def]
    """Fill area and middle of each face; area and box in plan (x, z), of face middles, of each piece."""
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
        nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        area[f] = 0.5 * np.sqrt(nx * nx + ny * ny + nz * nz)
        for k in range(3):
            middle[f, k] = (v[a, k] + v[b, k] + v[c, k]) / 3.0
        p = of_face[f]
        piece_area[p] += area[f]
        for k in range(2):
            low[p, k] = min(low[p, k], middle[f, 2 * k])
            high[p, k] = max(high[p, k], middle[f, 2 * k])


def _crown_pieces(piece_area: F64, compact: NDArray[np.bool_], n_present: int) -> NDArray[np.int64]:
    """Return the pieces that can be a crown: no wider than one, and no debris."""
    order = np.sort(piece_area[compact])[::-1]
    if order.size == 0:
        return np.zeros(0, dtype=np.int64)
    usual = float(np.median(order[:n_present]))
    return np.flatnonzero(compact & (piece_area >= max(_DEBRIS * usual, _SMALLEST_CROWN_MM2)))


def _nothing(m: int, note: str) -> Numbering:
    return Numbering(np.zeros(m, np.int32), np.zeros(0, np.int32), np.zeros(0), "none", False, note)


def _usual(arch: Arch) -> F64:
    return np.array([*USUAL_WIDTH_MM[arch][::-1], *USUAL_WIDTH_MM[arch]])


def _listed(teeth: Iterable[int]) -> str:
    return joined(", ", (tooth_text(int(t)) for t in teeth))


def _shells(
    middle: F64,
    area: F64,
    of_face: I32,
    crowns: NDArray[np.int64],
    count: int,
    row: tuple[int, ...],
    present: NDArray[np.bool_],
    arch: Arch,
) -> Numbering:
    if crowns.size > 16:
        return _nothing(
            len(middle),
            say(
                "{count} separate pieces of crown size were found; an arch has at most 16", count=crowns.size
            ),
        )
    if crowns.size < 3:
        return _nothing(
            len(middle),
            say(
                "Only {count} crowns were found: too few to tell where along the arch they stand",
                count=crowns.size,
            ),
        )
    is_crown = np.zeros(count, dtype=np.bool_)
    is_crown[crowns] = True
    on_crown = np.flatnonzero(is_crown[of_face])
    # Some hundred faces a crown tell where along the arch it begins and ends well enough to count and compare.
    pick = on_crown[:: max(1, on_crown.size // 24000)]
    x, z = np.ascontiguousarray(middle[pick, 0]), np.ascontiguousarray(middle[pick, 2])
    line = fit_archline(x[::4], z[::4], area[pick[::4]])
    s, _ = project(line, x, z)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, of_face[pick], s)
    np.maximum.at(high, of_face[pick], s)
    crowns = crowns[np.isfinite(low[crowns])]
    crowns = crowns[np.argsort(low[crowns] + high[crowns], kind="stable")]
    fit = fit_row(low[crowns], high[crowns], _usual(arch), present)
    told = fit.probability >= SURE
    number_of = np.zeros(count, dtype=np.int32)
    number_of[crowns[told]] = np.array(row, dtype=np.int32)[fit.place[told]]
    seen = np.zeros(16, dtype=np.bool_)
    seen[fit.place[told]] = True
    words = [
        say(
            "{count} separate crowns were found; the case says {teeth} teeth are there",
            count=crowns.size,
            teeth=int(present.sum()),
        )
    ]
    extra = [row[i] for i in np.flatnonzero(seen & ~present)]
    absent = [row[i] for i in np.flatnonzero(present & ~seen)] if told.all() else []
    if extra:
        words.append(say("A crown stands where the case says {teeth} missing", teeth=_listed(extra)))
    if absent:
        words.append(say("No crown was found for {teeth}", teeth=_listed(absent)))
    if not told.all():
        unsure = [row[i] for i in fit.place[~told]]
        words.append(
            say(
                "{count} of them cannot be told (perhaps {teeth}); they carry no number",
                count=len(unsure),
                teeth=_listed(unsure),
            )
        )
    alone = fit_row(low[crowns], high[crowns], _usual(arch), present, TRUST_THE_SCAN)
    other = _otherwise(row, fit, alone) if told.all() and not extra and not absent else ""
    if other:
        words.append(other)
    settled = bool(told.all()) and not extra and not absent and not other
    if settled:
        words.append(say("They were numbered from the midline outwards"))
    else:
        words.append(say("Please look at the missing teeth of the case"))
    teeth = np.array([row[i] for i in fit.place[told]], dtype=np.int32)
    return Numbering(number_of[of_face], teeth, fit.probability[told], "shells", settled, joined(". ", words))


def _otherwise(row: tuple[int, ...], fit: RowFit, alone: RowFit) -> str:
    """Return a sentence when widths and spaces alone would number the crowns otherwise, else nothing."""
    differs = alone.place != fit.place
    if not differs.any() or float(alone.probability[differs].min()) < _LIKELY:
        return ""
    said = _listed(row[i] for i in sorted(set(range(16)) - set(fit.place)) if i in set(alone.place))
    seen = _listed(row[i] for i in sorted(set(fit.place) - set(alone.place)))
    return say("By widths and spaces alone {seen} would be missing rather than {said}", seen=seen, said=said)


def _segments(
    row: tuple[int, ...], present: NDArray[np.bool_], arch: Arch
) -> tuple[tuple[int, ...], dict[int, float]]:
    """Return the row with each inner run of missing teeth as one 0, and widths (a gap's under minus its index)."""
    usual = _usual(arch)
    there = np.flatnonzero(present)
    out: list[int] = []
    width: dict[int, float] = {}
    gap = 0.0
    for i in range(there[0], there[-1] + 1):
        if not present[i]:
            gap += float(usual[i])
            continue
        if gap:
            width[-len(out)] = gap
            out.append(0)
            gap = 0.0
        width[row[i]] = float(usual[i])
        out.append(row[i])
    return tuple(out), width


def _cast(
    v: F64, f: I32, middle: F64, arch: Arch, row: tuple[int, ...], present: NDArray[np.bool_]
) -> Numbering:
    towards = 1.0 if arch == "lower" else -1.0
    segments, width = _segments(row, present, arch)
    try:
        unrolled = unroll(raster_of(v, f, towards))
        layout = lay_out(unrolled, segments, width, frozenset(t for t in row if side_of(t) == "right"))
    except ValueError as refused:
        return _nothing(len(f), say("The crowns could not be told apart: {refused}", refused=refused.args[0]))
    labels = _cast_labels(unrolled, layout, middle, towards)
    is_tooth = np.array([t != 0 for t in segments])
    teeth = np.array([t for t in segments if t], dtype=np.int32)
    confidence = layout.sure[is_tooth]
    unsure = [int(t) for t in teeth[confidence < 0.5]]
    words = [
        say(
            "The scan is one surface; {count} crowns were laid out along it from the midline",
            count=len(teeth),
        )
    ]
    if unsure:
        words.append(say("Where {teeth} begin and end is not clear; please look", teeth=_listed(unsure)))
    return Numbering(labels, teeth, confidence, "cast", not unsure, joined(". ", words))


def _cast_labels(u: Unrolled, layout: Layout, middle: F64, towards: float) -> I32:
    """Give each face the tooth between whose cuts it lies, above the gingival margin."""
    labels = np.zeros(len(middle), dtype=np.int32)
    below = towards * middle[:, 1] - (u.table[0] + u.table[1] * middle[:, 0] + u.table[2] * middle[:, 2])
    pick = np.flatnonzero(below > layout.floor_mm.min())
    s, d = project(u.line, middle[pick, 0], middle[pick, 2])
    i = np.clip(np.rint((s - u.line.s_mm[0]) / CELL_MM).astype(np.int64), 0, len(u.line.s_mm) - 1)
    column = np.rint((d + HALF_WIDTH_MM) / CELL_MM).astype(np.int64)
    inside = (column >= 0) & (column < len(u.d_mm))
    inside &= (d > layout.inner_mm[i]) & (d < layout.outer_mm[i]) & (below[pick] > layout.floor_mm[i])
    pick, s, column = pick[inside], s[inside], column[inside]
    between = np.zeros(pick.size, dtype=np.int64)
    for cut in layout.cut_mm:
        between += s >= cut[column]
    number = np.array([0, *layout.segment, 0], dtype=np.int32)
    labels[pick] = number[between]
    return labels
