"""Is this scan what it should be: its unit, its wholeness, the right arch, the right way up, right and left?

Everything odd becomes a :class:`~mountproof.geometry.topology.Finding`; nothing is altered. ``check_scan``
looks at one scan in its own axes, ``check_pair`` at two scans placed in the frame (x anterior, y superior,
z to the patient's right).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from mountproof.geometry.poses import why_not_rigid
from mountproof.geometry.topology import Finding, Topology, inspect
from mountproof.occlusion import arch_evidence as ae
from mountproof.occlusion.arch_unit import unit_findings
from mountproof.said import joined, say, term
from mountproof.teeth import Arch, arch_of

Floats = npt.NDArray[np.float64]

#: Two casts stand at least this far apart, middle to middle, in any relation in the mouth (common practice, no source).
_APART_MM = 1.0
#: Cosine to the vertical below which a direction neither points up nor down.
_UPRIGHT = 0.5


class ArchScan(NamedTuple):
    """One scan as it was placed.

    ``vertices_mm`` (n, 3) mm in the scan's own axes; ``faces`` (m, 3); ``frame_from_scan`` 4x4 into the frame,
    None where it already lies there; ``labels`` (m,) tooth number (ISO 3950) per face, 0 for none;
    ``landmarks`` pairs of a tooth number and a point (3,) of the scan, for scans without labels.
    """

    vertices_mm: Floats
    faces: npt.NDArray[Any]
    frame_from_scan: Floats | None = None
    labels: npt.NDArray[Any] | None = None
    landmarks: Sequence[tuple[int, Sequence[float]]] = ()


class Look(NamedTuple):
    """What one placed scan shows; made by ``look``, two of them are held against each other by ``compare``.

    ``way_up``: sign of y where the teeth point, 0 where it is not told;
    ``front`` from back to front teeth by their numbers, else ``opens``: sign of x at the open end."""

    name: Arch
    scan: ArchScan
    frame: Floats
    front: Floats | None
    opens: int
    teeth: dict[int, Floats]
    labelled: Arch | None
    side: Floats | None
    way_up: int
    told_by: str
    middle_y_mm: float


def check_scan(
    vertices_mm: Floats,
    faces: npt.NDArray[Any],
    labels: npt.NDArray[Any] | None = None,
    topology: Topology | None = None,
) -> tuple[Finding, ...]:
    """Find everything odd about one scan by itself.

    ``vertices_mm`` (n, 3) finite, believed to be mm; ``faces`` (m, 3); ``labels`` (m,) tooth numbers, 0 for none;
    ``topology`` of that surface where it is known already.
    Codes: ``scan.unit_*``, ``scan.debris``, ``scan.holes``, ``scan.not_manifold``, ``scan.turned_over``,
    ``scan.inside_out``, ``scan.degenerate``, ``scan.duplicate``, ``scan.both_arches``,
    ``scan.mirrored_mesh_undetectable`` (without labels). ValueError or TypeError for wrong shapes.
    """
    top, v, f = _inspected(vertices_mm, faces, topology)
    teeth = ae.tooth_points(v, f, _checked_labels(labels, f)) if labels is not None else {}
    kept = ae.no_debris(v, f, top)
    crowns = f[kept[top.components.of_face]]
    found = list(unit_findings(ae.longest_extent(v, crowns), ae.molar_width(teeth)))
    found += _mesh_findings(top, kept)
    if {arch_of(t) for t in teeth} == {"upper", "lower"}:
        found.append(
            Finding(
                "scan.both_arches",
                say("the tooth numbers of this one scan belong to both arches"),
                say("Give each arch as its own scan, or mend the file of tooth numbers"),
                "stop",
            )
        )
    if not teeth:
        found.append(_mirror_untold())
    return tuple(found)


def check_transform(frame_from_scan: npt.ArrayLike, whose: str) -> tuple[Finding, ...]:
    """Find what keeps a 4x4 matrix from placing a scan; ``whose`` names it in the sentence.

    Codes ``scan.transform_mirrored`` and ``scan.transform_not_rigid``; an empty tuple for a rigid motion.
    """
    reasons = why_not_rigid(frame_from_scan)
    mirrors = [r.text for r in reasons if r.code == "mirrored"]
    others = [r.text for r in reasons if r.code != "mirrored"]

    def cannot(why: list[str]) -> str:
        return say(
            "the placement of the {arch} scan cannot be used: {why}", arch=term(whose), why=joined("; ", why)
        )

    found = []
    if mirrors:
        todo = say("Export the placement again without mirroring")
        found.append(Finding("scan.transform_mirrored", cannot(mirrors), todo, "stop"))
    if others:
        todo = say(
            "Give a 4x4 matrix that only turns and moves; the unit of the scan is stated apart from it"
        )
        found.append(Finding("scan.transform_not_rigid", cannot(others), todo, "stop"))
    return tuple(found)


def check_pair(upper: ArchScan, lower: ArchScan) -> tuple[Finding, ...]:
    """Find what is odd about two placed scans together: which is which, up and down, front and back, sides.

    With tooth labels or landmarks on both scans, swapped arches, swapped sides and a mirroring placement are told
    apart in all eight combinations: a right-handed jaw has front x up = right, so numbers whose sides do
    not fit the shape show whatever the placement does. Without them only the shape speaks, and where it does not
    the finding asks. Codes: those of ``check_transform``, ``scan.arches_swapped``, ``scan.same_arch_twice``,
    ``scan.same_scan_twice``, ``scan.upside_down``, ``scan.front_back``, ``scan.sides_swapped``,
    ``scan.not_in_relation``, ``scan.way_up_unknown``, ``scan.mirrored_mesh_undetectable``. ValueError or
    TypeError for wrong shapes.
    """
    found = check_transform(_frame(upper), "upper") + check_transform(_frame(lower), "lower")
    if any(not np.isfinite(_frame(s)).all() or _frame(s).shape != (4, 4) for s in (upper, lower)):
        return found
    return found + compare(look("upper", upper), look("lower", lower))


def compare(upper: Look, lower: Look) -> tuple[Finding, ...]:
    """Hold two looks against each other: the findings of ``check_pair`` but for those of the placements."""
    one, other = upper.scan, lower.scan
    if np.array_equal(one.vertices_mm, other.vertices_mm) and np.array_equal(one.faces, other.faces):
        what = say("the upper and the lower scan are the same surface")
        return (Finding("scan.same_scan_twice", what, say("Give the scan of the other arch"), "stop"),)
    swapped, found = _which_is_which(upper, lower)
    for seen in (upper, lower):
        found += _how_it_lies(seen, swapped)
    if not upper.teeth and not lower.teeth:
        found.append(_mirror_untold())
    return tuple(found)


def _inspected(
    vertices_mm: Floats, faces: npt.NDArray[Any], topology: Topology | None
) -> tuple[Topology, Floats, npt.NDArray[Any]]:
    top = inspect(vertices_mm, faces) if topology is None else topology
    if not len(faces):
        raise ValueError("a scan without triangles cannot be judged")
    return top, np.ascontiguousarray(vertices_mm, dtype=np.float64), np.asarray(faces)


def _frame(scan: ArchScan) -> Floats:
    return np.eye(4) if scan.frame_from_scan is None else np.asarray(scan.frame_from_scan, dtype=np.float64)


def _checked_labels(labels: npt.NDArray[Any], faces: npt.NDArray[Any]) -> npt.NDArray[Any]:
    checked = np.asarray(labels)
    if checked.shape != (len(faces),) or not np.issubdtype(checked.dtype, np.integer):
        raise ValueError(f"labels must be {len(faces)} whole numbers, got {checked.dtype} {checked.shape}")
    return checked


def look(name: Arch, scan: ArchScan, topology: Topology | None = None) -> Look:
    """Look at one placed scan: where its teeth point, how it lies, which numbers it carries.

    ``name`` the arch it is given as; ``topology`` of the scan where it is known already. The placement must be a
    finite 4x4 matrix. ValueError or TypeError for wrong shapes.
    """
    top, v, f = _inspected(scan.vertices_mm, scan.faces, topology)
    frame = _frame(scan)
    teeth = {} if scan.labels is None else ae.tooth_points(v, f, _checked_labels(scan.labels, f))
    teeth |= {int(t): np.asarray(p, dtype=np.float64) for t, p in scan.landmarks}
    # The tooth side is told in the scan's own axes, where outside is outside, and only then placed.
    side = ae.tooth_side(v, f, top)
    placed_side = None if side is None else frame[:3, :3] @ side.direction
    way_up = 0
    if placed_side is not None and abs(placed_side[1]) >= _UPRIGHT * float(np.linalg.norm(placed_side)):
        way_up = int(np.sign(placed_side[1]))
    points = v @ frame[:3, :3].T + frame[:3, 3]
    kept = f[ae.no_debris(v, f, top)[top.components.of_face]]
    placed_teeth = {t: frame[:3, :3] @ p + frame[:3, 3] for t, p in teeth.items()}
    front = ae.to_the_front(placed_teeth)
    vectors, centre = ae.area_vectors(points, kept)
    weight = np.linalg.norm(vectors, axis=1)
    middle = float(np.average(centre[:, 1], weights=weight)) if weight.sum() > 0 else 0.0
    return Look(
        name,
        scan,
        frame,
        front,
        ae.opens_towards(points, kept) if front is None else 0,
        placed_teeth,
        ae.arch_by_labels(teeth),
        placed_side,
        way_up,
        side.told_by if side is not None else "",
        middle,
    )


def _which_is_which(upper: Look, lower: Look) -> tuple[bool, list[Finding]]:
    """Whether the two scans stand for each other, with the findings on it."""
    apart = upper.middle_y_mm - lower.middle_y_mm
    labels = upper.labelled, lower.labelled
    swap_todo = say("Exchange the two scan files in the case")
    if labels[0] is not None and labels[0] == labels[1]:
        what = say("the tooth numbers of both scans belong to the {arch} arch", arch=term(labels[0]))
        todo = say("Give the scan of the other arch, or mend its tooth numbers")
        return False, [Finding("scan.same_arch_twice", what, todo, "stop")]
    if labels[0] == "lower" or labels[1] == "upper":
        what = say(
            "upper and lower are exchanged: the tooth numbers of each scan given belong to the other arch"
        )
        return True, [Finding("scan.arches_swapped", what, swap_todo, "stop")]
    known = labels[0] is not None or labels[1] is not None
    if not known and upper.way_up > 0 and lower.way_up < 0 and apart < -_APART_MM:
        what = say(
            "the teeth of the upper scan point up and lie {apart:.1f} mm below the lower scan, whose teeth "
            "point down: the two files are exchanged, or both stand on their heads",
            apart=-apart,
        )
        todo = say("Exchange the two scan files in the case, or turn the placement over")
        return True, [Finding("scan.arches_swapped", what, todo, "stop")]
    if apart < _APART_MM:
        what = say(
            "the middle of the upper scan lies {apart:.1f} mm above that of the lower scan: the two are not "
            "in one relation, or each still lies in its own axes",
            apart=apart,
        )
        todo = say(
            "Say how the scans were placed: in maximum intercuspation, in the record, or each by itself"
        )
        return False, [Finding("scan.not_in_relation", what, todo, "ask")]
    return False, []


def _how_it_lies(one: Look, swapped: bool) -> list[Finding]:
    """Up and down, front and back, right and left of one scan, by what arch it really is."""
    arch: Arch = one.labelled or (("lower" if one.name == "upper" else "upper") if swapped else one.name)
    wanted_up = -1 if arch == "upper" else 1
    found = []
    up_down = one.way_up * wanted_up
    if up_down < 0 and not (swapped and one.labelled is None):
        what = say(
            "the teeth of the {arch} scan point {way} ({how})",
            arch=term(one.name),
            way=say("up") if one.way_up > 0 else say("down"),
            how=one.told_by,
        )
        todo = say("Look at the picture; if it stands on its head, place the scan again")
        found.append(Finding("scan.upside_down", what, todo, "ask"))
    if up_down == 0:
        what = say("the shape of the {arch} scan does not tell where its teeth point", arch=term(one.name))
        todo = say(
            "Look at the picture: the teeth of the {arch} arch must point {way}",
            arch=term(arch),
            way=say("down") if wanted_up < 0 else say("up"),
        )
        found.append(Finding("scan.way_up_unknown", what, todo, "ask"))
    front = one.front
    if (front is not None and front[0] < 0) or (front is None and one.opens > 0):
        how = say("its tooth numbers") if front is not None else say("the arch opens to the front")
        what = say(
            "the front teeth of the {arch} scan lie behind its back teeth ({how})",
            arch=term(one.name),
            how=how,
        )
        todo = say("Place the scan again: x runs forward, and right and left change with it")
        found.append(Finding("scan.front_back", what, todo, "stop" if front is not None else "ask"))
    right = ae.to_the_right(one.teeth)
    if right is not None:
        found += _sides(one, wanted_up, front, right)
    return found


def _sides(one: Look, wanted_up: int, front: Floats | None, right: Floats) -> list[Finding]:
    """Right-handedness of the numbered arch; a placement that mirrors is taken out first.

    The way up comes from the shape where it tells, else from the frame, and so does the front.
    """
    up = np.array([0.0, 1.0, 0.0])
    if one.side is not None and one.way_up != 0:
        up = one.side * wanted_up
    ahead = front if front is not None else np.array([1.0, 0.0, 0.0])
    handed = float(np.cross(ahead, up) @ right)
    mirrors = float(np.linalg.det(one.frame[:3, :3])) < 0
    if (handed < 0) == mirrors:
        return []
    what = say(
        "right and left of the {arch} scan are exchanged: its right teeth lie on the left of its own "
        "front (by {by:.0f} mm); either its tooth numbers have the sides exchanged or the mesh itself "
        "was mirrored, which its shape cannot tell",
        arch=term(one.name),
        by=float(np.linalg.norm(right)),
    )
    todo = say("Ask where the scan comes from; compare a tooth that stands out with the patient's mouth")
    return [Finding("scan.sides_swapped", what, todo, "stop")]


def _mirror_untold() -> Finding:
    return Finding(
        "scan.mirrored_mesh_undetectable",
        say(
            "without tooth numbers a mirrored mesh looks like any other arch: its shape cannot tell right "
            "from left"
        ),
        say("Compare one tooth that stands out with the patient's mouth, and say that right is right"),
        "ask",
    )


def _mesh_findings(top: Topology, kept: npt.NDArray[np.bool_]) -> list[Finding]:
    found = []

    def note(code: str, what: str, todo: str) -> None:
        found.append(Finding(code, what, todo, "note"))

    debris = np.flatnonzero(~kept)
    if debris.size:
        n = int(top.components.n_faces[debris].sum())
        note(
            "scan.debris",
            say(
                "{pieces} with {triangles}, the largest {size:.1f} mm across",
                pieces=_counted(debris.size, say("small loose piece"), say("small loose pieces")),
                triangles=_triangles(n),
                size=top.size_mm[debris].max(),
            ),
            say("Look whether they touch the other arch; trim them in the scanning program if they do"),
        )
    holes = np.flatnonzero(top.loops.hole & kept[top.loops.component])
    if holes.size:
        big = holes[int(np.argmax(top.loops.size_mm[holes]))]
        x, y, z = top.loops.centroid_mm[big]
        note(
            "scan.holes",
            say(
                "{holes} in the surface, the largest {size:.1f} mm across at ({x:.1f}, {y:.1f}, {z:.1f})",
                holes=_counted(holes.size, say("hole"), say("holes")),
                size=top.loops.size_mm[big],
                x=x,
                y=y,
                z=z,
            ),
            say("Beside a hole the answer is unknown, not 'no contact'; scan again where it matters"),
        )
    if len(top.not_manifold):
        note(
            "scan.not_manifold",
            say("{edges} with three or more triangles", edges=_edges(len(top.not_manifold))),
            say(
                "Look there for folds or surfaces that run into each other; export the scan again if it matters"
            ),
        )
    if len(top.turned_over):
        note(
            "scan.turned_over",
            say("{edges} between triangles that face opposite ways", edges=_edges(len(top.turned_over))),
            say("Export the scan again with one outside"),
        )
    inward = np.flatnonzero(kept & (top.volume_mm3 < 0))
    if inward.size and float(top.volume_mm3[kept].sum()) < 0:
        found.append(
            Finding(
                "scan.inside_out",
                say(
                    "{pieces} of {all} face inwards (enclosed volume {volume:.0f} mm3): all triangles were turned over, "
                    "or the mesh was mirrored without turning them",
                    pieces=_pieces(inward.size),
                    all=int(kept.sum()),
                    volume=top.volume_mm3[inward].sum(),
                ),
                say("Ask whether the scan was mirrored; if not, export it again with the outside outside"),
                "ask",
            )
        )
    elif inward.size:
        note(
            "scan.inside_out",
            say("{pieces} of {all} face inwards", pieces=_pieces(inward.size), all=int(kept.sum())),
            say("Look whether they are bubbles inside the cast; export the scan again if they are teeth"),
        )
    if top.flat.size:
        note(
            "scan.degenerate",
            say("{triangles} without area", triangles=_triangles(top.flat.size)),
            say("Nothing to do: they touch nothing"),
        )
    if top.duplicate.size:
        note(
            "scan.duplicate",
            say("{triangles} that repeat another", triangles=_triangles(top.duplicate.size)),
            say("Look whether the surface was saved twice into one file"),
        )
    return found


def _counted(n: int, one: str, many: str) -> str:
    return say("{n} {what}", n=int(n), what=one if n == 1 else many)


def _triangles(n: int) -> str:
    return _counted(n, say("triangle"), say("triangles"))


def _edges(n: int) -> str:
    return _counted(n, say("edge"), say("edges"))


def _pieces(n: int) -> str:
    return _counted(n, say("piece"), say("pieces"))
