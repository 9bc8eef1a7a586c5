"""The lines of the picture in space: hinge axis, pin, table and reference plane, to scale from what was entered."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import half_width
from mountproof.answers.scene_parts import SceneLabel, SceneLine
from mountproof.answers.scene_pin import PinScene
from mountproof.bench.pin import Pin
from mountproof.case.model import Case
from mountproof.geometry.poses import Array, rotation_z, transform
from mountproof.said import say

#: The table's size is not measured: it is drawn this far to each side of the tip.
_TABLE_MM = 12.0
#: How far a plane is drawn forward where no pin tells how long the instrument is.
_REACH_MM = 110.0
#: A curved pin is drawn over this angle from its tip upwards.
_ARC_RAD = math.radians(32.0)
_ARC_POINTS = 25


def scene_lines(case: Case, pin: PinScene | None) -> tuple[tuple[SceneLine, ...], tuple[SceneLabel, ...]]:
    """Return the lines of a case and the labels that stand at them."""
    quiet = Ledger("contacts")
    half = half_width(case, quiet)
    reach = _REACH_MM if pin is None else pin.input.pin.x_mm
    lines = [_hinge(half, bool(quiet.assumptions))]
    labels = [
        SceneLabel("side", say("R"), np.array([0.0, 0.0, half]), False),
        SceneLabel("side", say("L"), np.array([0.0, 0.0, -half]), False),
    ]
    if pin is not None:
        lines += [_pin(pin.input.pin), _table(pin)]
    lines.append(_plane(case, half, reach))
    short = {
        "hinge": say("hinge axis"),
        "pin": say("pin"),
        "table": say("table"),
        "plane": say("reference plane"),
    }
    at = {"hinge": 0.75, "pin": 0.5, "table": 0.0, "plane": 0.5}
    for line in lines:
        points = line.points_mm
        first, last = points[0], points[2 if line.kind == "plane" else -1]
        labels.append(
            SceneLabel("line", short[line.kind], first + at[line.kind] * (last - first), line.moves)
        )
    return tuple(lines), tuple(labels)


def _hinge(half: float, assumed: bool) -> SceneLine:
    words = (
        say("hinge axis; {mm:g} mm between the hinge points is assumed", mm=2.0 * half)
        if assumed
        else say("hinge axis, {mm:g} mm from one hinge point to the other", mm=2.0 * half)
    )
    return SceneLine("hinge", "hinge", words, np.array([[0.0, 0.0, half], [0.0, 0.0, -half]]), False, assumed)


def _pin(pin: Pin) -> SceneLine:
    if pin.kind == "curved":
        tip = math.atan2(-pin.below_mm, pin.x_mm)
        turn = np.linspace(tip + _ARC_RAD, tip, _ARC_POINTS)
        points: Array = pin.radius_mm * np.stack([np.cos(turn), np.sin(turn), np.zeros(_ARC_POINTS)], axis=1)
        words = say(
            "curved pin at zero, its tip {ahead:g} mm ahead of the hinge and {below:g} mm below it",
            ahead=pin.x_mm,
            below=pin.below_mm,
        )
    else:
        points = np.array([[pin.x_mm, max(0.0, 10.0 - pin.below_mm), 0.0], [pin.x_mm, -pin.below_mm, 0.0]])
        words = say(
            "pin at zero, {ahead:g} mm ahead of the hinge, its tip {below:g} mm below it",
            ahead=pin.x_mm,
            below=pin.below_mm,
        )
    return SceneLine("pin", "pin", words, points, False, False)


def _table(scene: PinScene) -> SceneLine:
    """Return the table as it stands in the record's pose: it belongs to the lower member."""
    pin = scene.input.pin
    run = _TABLE_MM * np.array([math.cos(pin.table_slope_rad), math.sin(pin.table_slope_rad), 0.0])
    across = np.array([0.0, 0.0, _TABLE_MM])
    tip = np.array([pin.x_mm, -pin.below_mm, 0.0])
    corners = np.array([tip + run + across, tip + run - across, tip - run - across, tip - run + across])
    words = (
        say("table under the pin, where the pin was set with the record in; its size is not measured")
        if scene.was_set
        else say("table under the pin, members parallel at first contact (assumed); its size is not measured")
    )
    turned = transform(rotation_z(-scene.open_rad), np.vstack([corners, corners[:1]]))
    return SceneLine("table", "table", words, turned, True, not scene.was_set)


def _plane(case: Case, half: float, reach: float) -> SceneLine:
    plane = case.plane
    tilt = None if plane is None or plane.tilt_deg is None else plane.tilt_deg.value
    if plane is None:
        words = say("the instrument's horizontal through the hinge axis; no reference plane is stated")
    elif tilt is None:
        words = say(
            "{plane} plane, drawn level through the hinge axis: its tilt is not measured", plane=plane.name
        )
    elif tilt < 0.0:
        words = say(
            "{plane} plane through the hinge axis, its front {deg:g} degrees higher than the instrument's horizontal",
            plane=plane.name,
            deg=-tilt,
        )
    else:
        words = say(
            "{plane} plane through the hinge axis, its front {deg:g} degrees lower than the instrument's horizontal",
            plane=plane.name,
            deg=tilt,
        )
    drop = -math.tan(math.radians(tilt or 0.0)) * reach
    corners = [
        (0.0, 0.0, half),
        (reach, drop, half),
        (reach, drop, -half),
        (0.0, 0.0, -half),
        (0.0, 0.0, half),
    ]
    return SceneLine("plane", "plane", words, np.array(corners), False, tilt is None)
