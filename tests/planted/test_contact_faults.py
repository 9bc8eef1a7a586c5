"""One-line faults in contact and closing map: each must turn a law red."""

from __future__ import annotations

import pytest

from planted.harness import Planted, goes_red, stays_green

_HERE = "tests/laws/test_contact_laws.py::test_"
LAWS = tuple(
    _HERE + law
    for law in (
        "contact_is_where_the_plain_algebra_says",
        "up_and_down_exchanged",
        "opening_adds_to_closing_and_closing_to_contact_leaves_none",
        "the_whole_is_the_earliest_of_its_parts",
    )
)
BOUNDS = ("tests/geometry/test_contact.py::test_no_bound_is_above_an_exact_contact",)
CARRIED = ("tests/geometry/test_contact.py::test_carried_boxes_hold_what_they_carry",)
FLOOR = ("tests/geometry/test_contact.py::test_the_floor_is_under_every_leaf",)
MAP = ("tests/geometry/test_closing_map.py::test_map_equals_the_naive_twin",)
GAPS = ("tests/geometry/test_closing_map.py::test_gap_along_closure_and_along_the_normal_are_two",)
DENSE = ("tests/laws/test_dense_arches.py::test_no_pair_of_faces_meets_before_the_first",)
GROUPS = ("tests/laws/test_dense_arches.py::test_the_map_does_not_depend_on_how_faces_are_grouped",)
HOLE = (
    "tests/geometry/test_closing_map.py::test_a_hole_in_a_closed_body_does_not_show_its_far_wall_as_a_gap",
)
TWIN = ("tests/geometry/test_sites.py::test_sites_under_every_thickness_equal_the_naive_twin",)
PLACES = ("tests/geometry/test_sites.py::test_unknown_places_among_some_cells",)
BORDER = ("tests/geometry/test_sites.py::test_known_only_leaves_out_what_a_border_may_cause",)

FEATURES, TREE, DESCENT = "geometry/_features.py", "geometry/_tree.py", "geometry/_descent.py"

FAULTS = (
    Planted("closing turns the other way", FEATURES,
            "return math.atan2(lx * uy - ly * ux, lx * ux + ly * uy)",
            "return math.atan2(ly * ux - lx * uy, lx * ux + ly * uy)", LAWS),
    Planted("vertex of the upper closes like one of the lower", FEATURES,
            "gap = sign * _gap(px, py", "gap = _gap(px, py", LAWS),
    Planted("edges: quadratic term", FEATURES,
            "a = (fx - kx) * (fx + kx) + (fy - ky) * (fy + ky)",
            "a = (fx - kx) * (fx + kx) - (fy - ky) * (fy + ky)", LAWS),
    Planted("edges: linear term", FEATURES,
            "b = f[0] * fx + f[1] * fy - hx * kx - hy * ky",
            "b = f[0] * fx + f[1] * fy - g[0] * kx - g[1] * ky", LAWS),
    Planted("edges: steep edge endless", FEATURES,
            "and w >= -steep_wide and w <= 1.0 + steep_wide:", "and w >= -steep_wide:", LAWS),
    Planted("faces: outside taken for inside", FEATURES,
            "if not side >= -tol * size", "if not side <= tol * size", LAWS),
    Planted("faces: only one of two roots", FEATURES,
            "h = half if k == 0 else -half", "h = half", LAWS),
    Planted("faces: plane through the wrong height", FEATURES,
            "- n[2] * (vertex[2] - tri[0, 2])", "- n[2] * vertex[2]", LAWS),
    Planted("level edges skipped", FEATURES,
            "best = _point_against_edge(q, p, p1, tol, True, best, touch)", "best = best", LAWS),
    Planted("diameter for radius", FEATURES,
            "half2 = (r - distance) * (r + distance)", "half2 = (2.0 * r - distance) * (2.0 * r + distance)", LAWS),
    Planted("bound forgets the nearest point of a face", "geometry/_two_faces.py",
            "return 0.25 * (d * d / q1 + q1 * b * b)", "return 0.0 * (d * d / q1 + q1 * b * b)", BOUNDS),
    Planted("bound from the wrong side of the box", DESCENT,
            "return float(a[4] - b[5])", "return float(a[5] - b[4])", LAWS),
    Planted("boxes of a level do not hold their second half", TREE,
            "boxes[k, j + 1] = max(boxes[2 * k, j + 1], boxes[2 * k + 1, j + 1])",
            "boxes[k, j + 1] = boxes[2 * k, j + 1]", LAWS),
    Planted("search ends at the first touch", DESCENT,
            "if keys[0] > best + slack:", "if which[0] >= 0:", LAWS),
    Planted("pose applied transposed to the faces", DESCENT,
            "m[1, 0] * a + m[1, 1] * b", "m[0, 1] * a + m[1, 1] * b", LAWS),
    Planted("pose applied transposed to the vertices", TREE,
            "out[i, 1] = pose[1, 0] * x + pose[1, 1] * y", "out[i, 1] = pose[0, 1] * x + pose[1, 1] * y", CARRIED),
    Planted("carried box loses the size of what is turned in", TREE,
            "dy = abs(pose[1, 0]) * hx + abs", "dy = pose[1, 0] * hx + abs", CARRIED),
    Planted("of the faces of a leaf only one is kept", DESCENT, "live_count += 1", "live_count = 1", LAWS),
    Planted("leaf taken for hidden by its back", "geometry/_arcs.py",
            "front = math.tan(box[4]) if lowest else math.tan(box[5])",
            "front = math.tan(box[5]) if lowest else math.tan(box[4])", GROUPS),
    Planted("cell not asked where a face may be in front", "geometry/_arcs.py",
            "best = min(t0, t1) if lowest else max(t0, t1)", "best = max(t0, t1) if lowest else min(t0, t1)", MAP),
    Planted("pyramid forgets a quarter", TREE,
            "min(floor[k + side], floor[k + side + 1])", "floor[k + side]", FLOOR),
    Planted("map keeps the highest of the upper", "geometry/_arcs.py",
            "(lowest and t < old) or (not lowest and t > old)", "(lowest and t > old) or (not lowest and t > old)", MAP),
    Planted("normal gap measured along closure", "geometry/sites.py",
            "return left * contact.rise", "return left", GAPS),
    Planted("one site for all pairs of teeth", "geometry/sites.py",
            "np.unique(met.labels[rows], axis=0", "np.unique(met.labels[rows] > 0, axis=0", TWIN),
    Planted("gum counts as a tooth", "geometry/_sites.py",
            "if upper_labels[x] == 0:", "if upper_labels[x] < 0:", TWIN),
    Planted("a thin foil has the sites of a thick one", "geometry/sites.py",
            "np.flatnonzero(met.gap_mm <= limit)", "np.flatnonzero(met.gap_mm <= met.within_mm)", TWIN),
    Planted("contact of a site is any in its patch", "geometry/sites.py",
            "met.touches[rows, 0], met.centre[rows])", "met.gap_mm[rows] > limit, met.centre[rows])", TWIN),
    Planted("contacts at a border believed", "geometry/sites.py",
            "keep &= ~_widened(chart.unknown)[", "keep &= ~chart.unknown[", BORDER),
    Planted("rim of a hole looked for inside it", "geometry/sites.py",
            "for u in range(3) for v in range(3)", "for u in (1,) for v in (1,)", PLACES),
    Planted("far wall seen through a hole believed", "geometry/_holes.py",
            "if state[k] == 1 or _facing(", "if state[k] == 1 and 0 != _facing(", HOLE),
)  # fmt: skip


@pytest.mark.parametrize(
    "laws",
    [LAWS, BOUNDS, CARRIED, FLOOR, MAP, GAPS, HOLE, TWIN, PLACES, BORDER],
    ids=lambda laws: laws[0].split("::")[-1],
)
def test_the_laws_hold_without_a_fault(laws):
    stays_green(laws)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_fault_is_caught(fault):
    goes_red(fault)
