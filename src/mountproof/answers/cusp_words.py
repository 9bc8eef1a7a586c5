"""Names of the buccal cusps of a lower tooth."""

from __future__ import annotations

from mountproof.said import figure, say

_CUSPS = {2: (say("mesial"), say("distal")), 3: (say("mesial"), say("middle"), say("distal"))}


def cusp_words(cusp: int, cusps: int) -> str:
    """Return which buccal cusp of a lower tooth is meant; empty where it has one."""
    if cusps < 2:
        return ""
    return _CUSPS[cusps][cusp] if cusps in _CUSPS else figure(cusp + 1, "d")
