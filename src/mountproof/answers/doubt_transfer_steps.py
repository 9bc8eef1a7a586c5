"""The facebow as a step: both hinge points of the mounting, each too far ahead and too high, with what they share."""

from __future__ import annotations

from typing import Final

import numpy as np

from mountproof.answers.axis_doubt import axis_doubt
from mountproof.answers.doubt_priors import Made, StepTold, mounted, source_of
from mountproof.answers.doubt_scan_steps import HingeOfScans, hinge_of_scans
from mountproof.answers.ledger import Ledger
from mountproof.case.model import Case
from mountproof.doubt.chain import ChainStep
from mountproof.doubt.step_kinds import facebow_step, hinge_covariance
from mountproof.said import joined, say

#: How alike both hinge points err (correlation) where nobody said.
_SHARED: Final = 0.5


def facebow(case: Case, ledger: Ledger, closing_rad: float, half_mm: float) -> Made:
    """Return what the doubt of both hinge points makes of the closing from record to contact; zero where there is none."""
    if not mounted(case) and _nobody_said(case):
        placed = hinge_of_scans(case, half_mm)
        if placed is not None:
            return _by_placement(placed, closing_rad, half_mm)
    own = case.doubt
    right, left = own.facebow_right_mm, own.facebow_left_mm
    sources, assumed, field = [], False, "facebow.axis_u_mm"
    if right is None or left is None:
        before = len(ledger.assumptions)
        axis = axis_doubt(case, ledger)
        assumed = axis.assumed
        sources.append(
            ledger.assumptions[before].source if assumed else say("entered for this case, both sides")
        )
        right = axis.u_mm if right is None else right
        left = axis.u_mm if left is None else left
    for entry in ("facebow_right_mm", "facebow_left_mm"):
        if getattr(own, entry) is not None:
            sources.append(source_of(case, entry))
            field = f"doubt.{entry}"
    shared = own.facebow_shared
    if shared is None:
        shared = ledger.assume(
            say("how alike both hinge points err, from 0 to 1"),
            _SHARED,
            "",
            say("our choice, no source"),
            "doubt.facebow_shared",
        )
    told = StepTold(
        "facebow",
        say("where the facebow puts the hinge"),
        _numbers(right, right, left, left),
        joined("; ", dict.fromkeys(sources)),
        assumed,
        field,
    )
    step = facebow_step(closing_rad, half_mm, hinge_covariance(right, left, shared))
    return Made((ChainStep("facebow", "axis", step),), told)


def _nobody_said(case: Case) -> bool:
    own = case.doubt
    return own.facebow_right_mm is None and own.facebow_left_mm is None and case.facebow.axis_u_mm is None


def _by_placement(placed: HingeOfScans, closing_rad: float, half_mm: float) -> Made:
    """Return the step for scans that close about the hinge their placement gives them: no bow was there."""
    told = StepTold(
        "facebow",
        say("where the placement of the scans puts the hinge"),
        _numbers(*(float(s) for s in np.sqrt(np.diag(placed.cov)))),
        say("the upper scan was placed {how}", how=placed.how),
        placed.assumed,
        "scans.placement",
    )
    return Made((ChainStep("facebow", "axis", facebow_step(closing_rad, half_mm, placed.cov)),), told)


def _numbers(*sds: float) -> tuple[tuple[str, float, str], ...]:
    labels = (
        say("right hinge point, ahead"),
        say("right hinge point, up"),
        say("left hinge point, ahead"),
        say("left hinge point, up"),
    )
    return tuple((label, sd, "mm") for label, sd in zip(labels, sds, strict=True))
