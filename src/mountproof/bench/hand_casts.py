"""Casts held together by hand against the mouth: where contacts are missing, and whether an arch is as wide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from mountproof.geometry.carry import Carried, measured, resolution_u
from mountproof.teeth import is_posterior, side_of

Pattern = Literal["none", "scattered", "right", "left", "back", "front"]
#: Every pattern that is weighed; each is as likely beforehand.
PATTERNS: tuple[Pattern, ...] = ("none", "scattered", "right", "left", "back", "front")
#: How often a contact is missed (beta a, b): slips of the check where nothing is wrong (1 in 20 on average), anything
#: at all where something is. Our choice.
_SLIPS, _ANY = (1.0, 19.0), (1.0, 1.0)


def pattern_chances(teeth: Sequence[int], missed: Sequence[int]) -> dict[Pattern, float]:
    """Return how probable each pattern of missed contacts is, given which of ``teeth`` (ISO 3950) missed.

    ``none``: only slips of the check. ``scattered``: any share, alike everywhere. ``right``, ``left``, ``back`` (premolars
    and molars), ``front``: any share in that region, slips elsewhere. The share is integrated out (beta against binomial:
    ``B(a + k, b + n - k) / B(a, b)``). A pattern is weighed where its region and the rest both have teeth that were
    checked. Raises ValueError for no tooth, or one that missed without having been checked.
    """
    if not teeth or not set(missed) <= set(teeth):
        raise ValueError("name the teeth that were checked, and of them those that missed")
    gone = set(missed)
    logs: dict[Pattern, float] = {}
    for pattern in PATTERNS:
        inside = [t for t in teeth if _in(pattern, t)]
        outside = [t for t in teeth if not _in(pattern, t)]
        if pattern not in ("none", "scattered") and not (inside and outside):
            continue
        logs[pattern] = _evidence(inside, gone, _ANY) + _evidence(outside, gone, _SLIPS)
    top = max(logs.values())
    total = math.fsum(math.exp(v - top) for v in logs.values())
    return {pattern: math.exp(v - top) / total for pattern, v in logs.items()}


def _in(pattern: Pattern, tooth: int) -> bool:
    if pattern == "scattered":
        return True
    if pattern in ("right", "left"):
        return side_of(tooth) == pattern
    return pattern != "none" and is_posterior(tooth) == (pattern == "back")


def _evidence(teeth: Sequence[int], missed: set[int], prior: tuple[float, float]) -> float:
    a, b = prior
    k = sum(1 for t in teeth if t in missed)
    return _log_beta(a + k, b + len(teeth) - k) - _log_beta(a, b)


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def width_change(
    in_mouth_mm: Sequence[float], on_cast_mm: Sequence[float], sd_mm: float, step_mm: float, source: str
) -> Carried:
    """Return the width on the cast less that in the mouth (mm), with the doubt of reading both.

    Means of the repeats; an offset of the caliper, the same in both, drops out. The SD of one reading is the caliper's,
    or that of these repeats where they scatter more: a cusp tip is not found as well as a dimple. Never better than the
    step. Raises ValueError where one of the two was not measured.
    """
    if not (in_mouth_mm and on_cast_mm):
        raise ValueError("the width is compared where it was measured in the mouth and on the cast")
    groups = (in_mouth_mm, on_cast_mm)
    means = [math.fsum(g) / len(g) for g in groups]
    squares = math.fsum((v - m) ** 2 for g, m in zip(groups, means, strict=True) for v in g)
    dof = sum(len(g) - 1 for g in groups)
    own = math.sqrt(squares / dof) if dof > 0 else 0.0
    one = max(sd_mm, own)
    u = math.sqrt(sum(max(one / math.sqrt(len(g)), resolution_u(step_mm)) ** 2 for g in groups))
    return measured(means[1] - means[0], u, source)
