"""Question 4, the facebow: how the upper cast stands on the instrument, and what its hinge axis costs here."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.facebow_axis import axis_cost
from mountproof.answers.finds import Found
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.answers.scan_tips import TIP_U_MM, Tips, upper_tips
from mountproof.case.model import Case, Facebow, PlaneName
from mountproof.geometry.carry import Carried, from_covariance, measured
from mountproof.geometry.least_squares import chi2_tail
from mountproof.records.facebow import Heights, occlusal_plane, plane_of
from mountproof.said import say

_HEIGHT_SD_MM = 0.1
_LENGTH_U_MM = 0.5
_PHOTO_U_DEG = 0.5
_COMMON = say("common practice, no source")
_DEG = 180.0 / math.pi
#: Occlusal plane against the eye-ear plane, mean and SD between people: J Adv Prosthodont 2013;5:9-15.
_PITCH_DEG, _PITCH_SD_DEG = 12.0, 4.4
#: Planes that this holds for: both run through the axis and the lower rim of the eye socket.
_EYE_EAR = (PlaneName.AXIS_ORBITAL, PlaneName.FRANKFORT)
#: Two planes that chance would leave so far apart in fewer than one of a hundred transfers are said to differ.
_CHANCE = 0.01


def facebow(case: Case, ledger: Ledger) -> list[str]:
    """Judge the transfer: pitch and cant of the upper cast, and the cost of its axis; return what to say of it."""
    wanted = case.facebow != Facebow()
    tips = upper_tips(case, ledger) if wanted else None
    return [*axis_cost(case, ledger, tips), *_stands(case, ledger, tips)]


def _stands(case: Case, ledger: Ledger, tips: Tips | None) -> list[str]:
    """Judge how the upper cast stands: by three heights, by its scan, and both against each other."""
    by_heights, by_scan = _by_heights(case, ledger), _by_scan(tips)
    if by_heights is not None and by_scan is not None:
        _hold_together(ledger, by_heights, by_scan)
    plane = by_heights if by_heights is not None else by_scan
    if plane is None:
        return []
    ledger.quantity(
        "pitch",
        say("fall of the upper teeth to the front, on the instrument"),
        plane[0],
        "deg",
        factor=_DEG,
        decimals=1,
    )
    ledger.quantity(
        "cant",
        say("slope of the upper teeth to the patient's right, on the instrument"),
        plane[1],
        "deg",
        factor=_DEG,
        decimals=1,
    )
    _pitch(case, ledger, plane[0].times(_DEG))
    return _cant(case, ledger, plane[1])


def _by_heights(case: Case, ledger: Ledger) -> Carried | None:
    """Return pitch and cant (rad) from the three heights; None, with what is missing, where one was not read."""
    given = case.facebow
    names = (
        "front_height_mm",
        "right_height_mm",
        "left_height_mm",
        "front_to_molars_mm",
        "between_molars_mm",
    )
    values = [getattr(given, n) for n in names]
    if all(v is None for v in values):
        return None
    lacking = [n for n, v in zip(names, values, strict=True) if v is None]
    if lacking:
        ledger.need(
            say("the three heights of the upper cast over the base, and the two lengths between them"),
            say("how the upper cast stands is told from all five"),
            f"facebow.{lacking[0]}",
        )
        return None
    sd = given.height_sd_mm
    if sd is None:
        sd = ledger.assume(
            say("SD of a height over the base"), _HEIGHT_SD_MM, "mm", _COMMON, "facebow.height_sd_mm"
        )
    u_length = ledger.assume(
        say("uncertainty of the lengths between these points"),
        _LENGTH_U_MM,
        "mm",
        _COMMON,
        "facebow.front_to_molars_mm",
    )
    return occlusal_plane(Heights(*values), sd, u_length)


def _by_scan(tips: Tips | None) -> Carried | None:
    """Return pitch and cant (rad) of the upper teeth as their scan stands; None where teeth for it are not seen."""
    if tips is None:
        return None
    front = [tips.places[t] for t in (11, 21) if t in tips.places]
    pair = next(((r, m) for r, m in ((16, 26), (17, 27)) if r in tips.inner and m in tips.inner), None)
    if not front or pair is None:
        return None
    edge, right, left = np.mean(front, axis=0), tips.inner[pair[0]], tips.inner[pair[1]]
    values = plane_of(edge, right, left)
    cov = tips.placed.cov6
    # a small turn of the placement about z is a pitch the other way, one about x is a cant
    turn = np.zeros((2, 2)) if cov is None else cov[np.ix_([2, 0], [2, 0])] * [[1.0, -1.0], [-1.0, 1.0]]
    # heights of single tips: the front is the mean of one or two, the back of two, the cant their difference
    back = math.hypot(*(edge - 0.5 * (right + left))[[0, 2]])
    across = math.hypot(*(right - left)[[0, 2]])
    heights = np.array([(1.0 / len(front) + 0.5) / back**2, 2.0 / across**2]) * TIP_U_MM**2
    return from_covariance(values, turn + np.diag(heights), "placement")


def _hold_together(ledger: Ledger, by_heights: Carried, by_scan: Carried) -> None:
    apart = by_heights - by_scan
    cov = apart.cov
    degrees = np.abs(apart.values) * _DEG
    ledger.notes.append(
        say(
            "Heights and scan of the upper cast differ by {pitch:.1f} degrees in pitch and {cant:.1f} in cant.",
            pitch=float(degrees[0]),
            cant=float(degrees[1]),
        )
    )
    if chi2_tail(float(apart.values @ np.linalg.pinv(cov) @ apart.values), 2) < _CHANCE:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "the heights over the base and the scan do not show one plane of the upper teeth: {pitch:.1f} degrees "
                "apart in pitch, {cant:.1f} in cant",
                pitch=float(degrees[0]),
                cant=float(degrees[1]),
            ),
        )
        ledger.need(
            say("the three heights over the base once more, and how the upper scan was placed"),
            say("they do not show one plane"),
            "facebow.front_height_mm",
        )


def _pitch(case: Case, ledger: Ledger, pitch_deg: Carried) -> None:
    """Question a pitch that hardly anybody has against the plane the instrument was set to."""
    if case.plane is None or case.plane.name not in _EYE_EAR:
        return
    tilt = case.plane.tilt_deg
    against = pitch_deg.value - (tilt.value if tilt is not None else 0.0)
    off = abs(against - _PITCH_DEG)
    ledger.notes.append(
        say(
            "Against the {plane} plane the upper teeth fall by {deg:.1f} degrees to the front; {mean:g}, give or take "
            "{sd:g}, is usual (J Adv Prosthodont 2013;5:9-15). Bows flatten it by 2 to 6.5 degrees against radiographs "
            "(Br J Oral Maxillofac Surg 2000;38:185-190).",
            plane=case.plane.name,
            deg=against,
            mean=_PITCH_DEG,
            sd=_PITCH_SD_DEG,
        )
    )
    if off - 2.0 * pitch_deg.u > 2.0 * _PITCH_SD_DEG:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "the upper teeth fall by {deg:.1f} degrees to the front against the {plane} plane: hardly anybody's do",
                deg=against,
                plane=case.plane.name,
            ),
        )
        ledger.need(
            say("the third reference point of the facebow, looked at on the patient again"),
            say("it sets the pitch of the upper cast, and with it every condylar angle"),
            "facebow.front_height_mm",
        )


def _cant(case: Case, ledger: Ledger, cant: Carried) -> list[str]:
    given = case.facebow
    if given.photo_cant_deg is None:
        ledger.need(
            say("slope of the upper teeth in a photograph of the face, taken level"),
            say("it shows whether the bow stood level"),
            "facebow.photo_cant_deg",
        )
        return []
    u = given.photo_u_deg
    if u is None:
        u = ledger.assume(
            say("how well a slope is read off a photograph (1 SD)"),
            _PHOTO_U_DEG,
            "deg",
            _COMMON,
            "facebow.photo_u_deg",
        )
    off = cant - measured(given.photo_cant_deg / _DEG, u / _DEG, "photograph")
    what = say("slope of the upper cast against the photograph")
    ledger.quantity("cant_off", what, off, "deg", factor=_DEG, decimals=1)
    ledger.finds.append(Found("facebow", what, ("amount",), off.values, off.cov))
    degrees = off.times(_DEG)
    verdict = judge_against(ledger, what, degrees.value, degrees.u, case.limits.facebow_cant, 1)
    if verdict is Verdict.AGREES:
        return []
    ledger.need(
        say("the facebow once more, or the photograph taken level"),
        say("the upper cast slopes otherwise than the face"),
        "facebow.photo_cant_deg",
    )
    if verdict is not Verdict.DISAGREES:
        return []
    return [
        say(
            "the upper cast slopes {deg:.1f} degrees otherwise than in the photograph of the face",
            deg=abs(degrees.value),
        )
    ]
