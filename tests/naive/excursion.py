"""First touch of a lower that closes about a moved axis, by trying everything and by halving on a general-purpose library."""

from __future__ import annotations

import math

import numpy as np

from naive.bodies import Body
from naive.collide import first_touch_rad
from naive.first_contact import first_contact_rad


def in_hinge_frame(body: Body, axis: np.ndarray) -> Body:
    """A body of the upper's frame, written in the frame of the moved axis."""
    r, t = axis[:3, :3], axis[:3, 3]
    return Body((body.vertices - t) @ r, body.faces)


def first_touch_about(upper: Body, lower: Body, axis: np.ndarray):
    """Least closing about the axis, every feature against every other; the lower is written in the axis' frame already."""
    return first_contact_rad(*in_hinge_frame(upper, axis), *lower)


def first_touch_by_halves(upper: Body, lower: Body, axis: np.ndarray):
    """The same by steps and halving."""
    return first_touch_rad(in_hinge_frame(upper, axis), lower, opened_rad=0.4, last_rad=math.pi / 4)
