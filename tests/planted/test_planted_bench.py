"""One wrong line in the bench mathematics at a time: some law must notice."""

import pytest

from planted.harness import Planted, goes_red, stays_green

# Named one by one, and mostly plain examples: a law that searches takes its time to say no.
PIN = (
    "tests/published/test_pin_openings.py",
    "tests/bench/test_pin.py::test_curved_pin_is_an_arc_and_stays_on_its_place",
)
MARKS = (
    "tests/bench/test_marks.py::test_equal_arms_have_the_short_form",
    "tests/bench/test_marks.py::test_demo_changes_and_pin_at_mip",
    "tests/bench/test_marks.py::test_moving_a_mark_forward_changes_the_distance_not_the_angle",
)
SCALE = (
    "tests/bench/test_scale.py::test_notches_of_one_and_a_half_millimetres",
    "tests/bench/test_scale.py::test_scale_and_back",
)
CARRY = ("tests/doubt/test_carry.py", "tests/published/test_gum_end_gauge.py")
POSE = (
    "tests/bench/test_pose.py::test_demo_slide_at_the_incisors",
    "tests/bench/test_pose.py::test_demo_condyles_are_mostly_refused",
)
BETWEEN = ("tests/bench/test_pose.py::test_the_motion_between_states_has_the_doubt_of_the_draws",)
FEW = (
    "tests/records/test_compare_rigid.py::test_a_pooled_sd_of_few_records_widens_what_honest_records_may_do",
)
AXIS = ("tests/records/test_compare_rigid.py::test_an_axis_in_doubt_is_known_to_the_statistics",)
ROCKS = ("tests/records/test_reseat.py::test_at_most_one_honest_record_in_twenty_is_said_to_rock",)
HINGE = ("tests/records/test_hinge_axis.py::test_doubt_grows_as_one_over_the_turn_and_is_foretold",)
SUPPORT = ("tests/geometry/test_support.py::test_multipliers_of_record_stops",)
MOUNTING = ("tests/bench/test_mounting.py::test_demo_pin_about_zero_proves_little",)
STONE = ("tests/published/test_stone_figures.py",)
RECORDS = tuple(
    f"tests/records/test_records.py::{law}"
    for law in ("test_thick_and_thin_records_agree", "test_factors_of_an_sd")
)
GUARD = ("tests/doubt/test_guard.py::test_two_limits",)

EVERY = tuple(
    dict.fromkeys(
        PIN
        + MARKS
        + SCALE
        + CARRY
        + POSE
        + BETWEEN
        + SUPPORT
        + MOUNTING
        + STONE
        + RECORDS
        + GUARD
        + FEW
        + AXIS
        + ROCKS
        + HINGE
    )
)

FAULTS = [
    Planted(
        "tangent for sine in the pin",
        "bench/pin.py",
        "c, s, t = math.cos(theta_rad), math.sin(theta_rad), math.tan(pin.table_slope_rad)",
        "c, s, t = math.cos(theta_rad), math.tan(theta_rad), math.tan(pin.table_slope_rad)",
        PIN,
    ),
    Planted(
        "the secant term left out",
        "bench/pin.py",
        "return (x * s + h * versine + t * (x * versine - h * s)) / over",
        "return (x * s + t * (x * versine - h * s)) / over",
        PIN,
    ),
    Planted(
        "atan2 with its arguments swapped",
        "bench/pin.py",
        "return math.asin(level) - math.atan2(-tooth.y_mm, tooth.x_mm)",
        "return math.asin(level) - math.atan2(tooth.x_mm, -tooth.y_mm)",
        PIN,
    ),
    Planted(
        "the lower incisor goes forward on opening",
        "bench/pin.py",
        "back = tooth.x_mm * v - tooth.y_mm * s",
        "back = tooth.y_mm * s - tooth.x_mm * v",
        PIN,
    ),
    Planted(
        "degrees where radians belong",
        "bench/pin.py",
        "return pin.radius_mm * theta_rad",
        "return pin.radius_mm * math.degrees(theta_rad)",
        PIN,
    ),
    Planted(
        "whole angle for half angle between marks",
        "bench/marks.py",
        "return 2.0 * math.asin(math.sqrt(square))",
        "return math.asin(math.sqrt(square))",
        MARKS,
    ),
    Planted(
        "side step added instead of taken off",
        "bench/marks.py",
        "square = (d_mm * d_mm - dz_mm * dz_mm - (a_mm - b_mm) ** 2) / (4.0 * a_mm * b_mm)",
        "square = (d_mm * d_mm + dz_mm * dz_mm - (a_mm - b_mm) ** 2) / (4.0 * a_mm * b_mm)",
        MARKS,
    ),
    Planted(
        "a scale that counts down read as counting up",
        "bench/scale.py",
        "slope = (1.0 if counts_up else -1.0) / mm_per_mark",
        "slope = 1.0 / mm_per_mark",
        SCALE,
    ),
    Planted(
        "marks for millimetres",
        "bench/scale.py",
        "lambda v: (v[0] - v[1]) / v[2], stack([g,",
        "lambda v: (v[0] - v[1]) * v[2], stack([g,",
        SCALE,
    ),
    Planted(
        "correlation lost where sources meet",
        "geometry/carry.py",
        "out[:, where[name]] += item.parts[:, j]",
        "out[:, where[name]] = abs(item.parts[:, j])",
        CARRY,
    ),
    Planted(
        "half of the second-order term",
        "doubt/propagate.py",
        "extra = extra + (0.5 * both**2 + first[:, i] * bend) * us[i] ** 2 * us[j] ** 2",
        "extra = extra + 0.5 * both**2 * us[i] ** 2 * us[j]",
        CARRY,
    ),
    Planted(
        "covariance about the wrong point",
        "bench/pose.py",
        "at_origin[3:, :3] = hat(centre) / problem.lever",
        "at_origin[3:, :3] = -hat(centre) / problem.lever",
        POSE,
    ),
    Planted(
        "covariance from the wrong side",
        "bench/reach.py",
        "both.linear(np.concatenate([np.eye(6), -adjoint(moved)], axis=1), values)",
        "both.linear(np.concatenate([-adjoint(moved), np.eye(6)], axis=1), values)",
        BETWEEN,
    ),
    Planted(
        "the lower marks turned the wrong way",
        "bench/pose_problem.py",
        "jacobian[mine, 6 * s : 6 * s + 3] = _cross(lower[mine] - centre, n[mine]) / self.lever",
        "jacobian[mine, 6 * s : 6 * s + 3] = _cross(n[mine], lower[mine] - centre) / self.lever",
        POSE,
    ),
    Planted(
        "the record taken from the wrong side of the setting",
        "bench/mounting.py",
        'carried_pin_from_opening(pin, was_set - record_over_mip, lengths), say("CR contact = MIP")',
        'carried_pin_from_opening(pin, was_set + record_over_mip, lengths), say("CR contact = MIP")',
        MOUNTING,
    ),
    Planted(
        "a plane about the wrong middle",
        "geometry/support.py",
        "out: Array = 1.0 / places.shape[0] + (at - shape.middle) @ plane",
        "out: Array = 1.0 / places.shape[0] + (at + shape.middle) @ plane",
        SUPPORT,
    ),
    Planted(
        "water in millilitres for a gram",
        "bench/stone.py",
        "return powder_g * water_ml_per_100g / 100.0",
        "return powder_g * water_ml_per_100g",
        STONE,
    ),
    Planted(
        "records opened further instead of closed to the same opening",
        "bench/same_opening.py",
        "back = closed(opening - common)",
        "back = closed(common - opening)",
        RECORDS,
    ),
    Planted(
        "chi-square factors the wrong way round",
        "records/repeats.py",
        "return math.sqrt(dof / high), math.sqrt(dof / low)",
        "return math.sqrt(dof / low), math.sqrt(dof / high)",
        RECORDS,
    ),
    Planted(
        "an SD found from few records is taken as known",
        "records/joint.py",
        "dof = spread.dof / share**2 if share > 0.0 else math.inf",
        "dof = math.inf",
        FEW,
    ),
    Planted(
        "one axis errs in each record by itself",
        "records/joint.py",
        "out += np.kron(np.outer(spread.closings, spread.closings), spread.axis)",
        "out += np.kron(np.diag(np.square(spread.closings)) * 1e-6, spread.axis)",
        AXIS,
    ),
    Planted(
        "a wide scatter is taken for two seats",
        "records/reseat.py",
        "if not clear[0] > _clear_of_one(n):",
        "if not clear[0] > 0.0:",
        ROCKS,
    ),
    Planted(
        "the doubt of an axis goes by the whole turn",
        "records/hinge_axis.py",
        "return shift / (2.0 * abs(math.sin(0.5 * turn_rad)))",
        "return shift / abs(math.sin(0.5 * turn_rad))",
        HINGE,
    ),
    Planted(
        "a guard band on the wrong side",
        "doubt/guard.py",
        "least, most = max(0.0, low, -high), max(abs(low), abs(high))",
        "most, least = max(0.0, low, -high), max(abs(low), abs(high))",
        GUARD,
    ),
]


def test_the_bench_laws_hold_without_a_fault():
    stays_green(EVERY)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_a_bench_fault_is_caught(fault):
    goes_red(fault)
