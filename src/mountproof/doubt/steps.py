"""The steps of a mounting as small random motions, each in its own coordinates: how much an orderly one scatters.

A step has a few natural numbers (heights at three stops, displacements of two condyles, the two coordinates of an axis),
their covariance, and the matrix that makes the motion of the lower cast (``motions.MOTION``) of them: the adjoint of the
step's own frame, to first order. Default bands are those of ``BANDS``, with where they come from; what a case measured
takes their place.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.doubt.motions import from_condyles, plane_of_stops
from mountproof.geometry.poses import Array
from mountproof.said import say


class Band(NamedTuple):
    """How much an orderly step scatters where nobody measured it (1 SD, mm), and where that comes from."""

    sd_mm: float
    source: str


class Step(NamedTuple):
    """One step: ``motion`` (6, k) of its k natural numbers, and their covariance (k, k)."""

    key: str
    motion: Array
    cov: Array


_CHOICE: Final = say("our choice, no source")

#: One SD of an orderly step.
BANDS: Final[dict[str, Band]] = {
    "record": Band(0.15, say("repeat records at a condyle, one axis; common practice, no source")),
    "seat": Band(
        0.10,
        say("records put back on their own master lay 0.10 to 0.17 mm off (Vergos & Tripodakis 2003)"),
    ),
    "set": Band(0.04, say("stabilised casts while stone sets; common practice, no source")),
    "play": Band(0.05, say("0.02 to 0.1 mm; common practice, no source")),
    "cast": Band(0.05, _CHOICE),
    "mouth": Band(0.03, say("teeth give by some hundredths of a millimetre; common practice, no source")),
    "width": Band(0.025, _CHOICE),
    "twist": Band(0.05, _CHOICE),
    "pin": Band(0.05, _CHOICE),
}

#: Where a record bears when nobody said: first molars and incisors (ahead, right; mm).
USUAL_STOPS_MM: Final = ((60.0, 24.0), (60.0, -24.0), (90.0, 0.0))
#: Levers (mm) that turn a scatter at the teeth into one of tilt: half an arch's length, and half its width.
_ALONG_MM: Final = 21.0
_ACROSS_MM: Final = 28.0


def record_step(sd_mm: float, half_width_mm: float) -> Step:
    """Return a record as it holds the jaw: each condyle down and ahead, and both to the right, scatter alike."""
    return Step("record", from_condyles(half_width_mm), sd_mm**2 * np.eye(5))


def seat_step(sd_mm: float, stops_mm: Sequence[tuple[float, float]] = USUAL_STOPS_MM) -> Step:
    """Return the seat of a record: every stop stands off by itself, and the whole slides by half as much.

    Stops (n, 2: ahead, right) that hold no plane are taken as if they did at the usual places, twice as badly.
    """
    gain = plane_of_stops(stops_mm)
    scale = sd_mm
    if gain is None:
        gain, scale = plane_of_stops(USUAL_STOPS_MM), 2.0 * sd_mm
    assert gain is not None
    motion = np.eye(6)
    cov = np.zeros((6, 6))
    cov[:3, :3] = scale**2 * gain @ gain.T
    cov[3:, 3:] = np.diag([0.5 * sd_mm, 0.5 * sd_mm, 0.5 * sd_mm / _ACROSS_MM]) ** 2
    return Step("seat", motion, cov)


def free_step(key: str, sd_mm: float) -> Step:
    """Return a step that moves the last teeth by about ``sd_mm`` in every way: luting and set, a cast, a mouth.

    Height, pitch and roll share it alike, and so do ahead, right and yaw.
    """
    turns = np.array([sd_mm, sd_mm / _ALONG_MM, sd_mm / _ACROSS_MM, sd_mm, sd_mm, sd_mm / _ALONG_MM])
    return Step(key, np.eye(6), np.diag((turns / np.sqrt(3.0)) ** 2))


def play_step(sd_mm: float, half_width_mm: float) -> Step:
    """Return the play of locked condylar elements: each in height and fore-aft, and both to the side."""
    return Step("play", from_condyles(half_width_mm), sd_mm**2 * np.eye(5))


def axis_motion(closing_rad: float) -> Array:
    """Return (6, 2): what an axis that lies too far ahead, and too high (mm), moves when the record is closed.

    Turning by ``t`` about an axis off by ``e`` shifts everything by ``(I - R(t)) e``: first order ``t (e_up, -e_ahead)``
    ahead and up, the same at every tooth.
    """
    out = np.zeros((6, 2))
    out[0, 0] = closing_rad
    out[3, 1] = closing_rad
    return out


def axis_step(u_mm: float, closing_rad: float) -> Step:
    """Return what the doubt of the hinge axis (SD of one coordinate) makes of the closing from record to contact."""
    return Step("axis", axis_motion(closing_rad), u_mm**2 * np.eye(2))


def covariance(step: Step) -> Array:
    """Return the covariance (6, 6) of the motion that a step makes."""
    return step.motion @ step.cov @ step.motion.T


def scatter_at(steps: Sequence[Step], place: ArrayLike) -> Array:
    """Return for each step (n, 3) one SD at a place (3, 6 of ``motions.at_place``): down, ahead, right."""
    j = np.asarray(place, dtype=np.float64)
    return np.array([np.sqrt(np.diag(j @ covariance(s) @ j.T)) for s in steps])
