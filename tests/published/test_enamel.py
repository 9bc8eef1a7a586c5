"""Enamel of first molars, unworn (computed tomography, n = 90): 0.93 to 1.93 mm upper, 0.98 to 1.91 mm lower.

Source: an abstract as excerpted at booksci.cn (literature d9072; its authors are not shown there). The fissure is
thinner than any of these. A band, never a default: the program assumes no thickness, and its own step stays far below
the thinnest of them.
"""

from __future__ import annotations

import re
from pathlib import Path

from mountproof.answers.change_allowed import STEP_MM, allowed
from mountproof.answers.words import CAUTION_BY_KEY
from mountproof.case.adjusting import Change
from mountproof.case.model import Case

THINNEST_MM, THICKEST_MM = 0.93, 1.93
SRC = Path(__file__).parents[2] / "src" / "mountproof"


def test_no_thickness_is_assumed_and_none_is_a_limit() -> None:
    free = allowed(Case(code="X"))
    assert free.budget_mm == {} and free.on_mm == {}
    assert any("No thickness of enamel is assumed" in text for text in CAUTION_BY_KEY["change"])
    told = [
        line
        for file in SRC.rglob("*.py")
        for line in file.read_text(encoding="utf-8").splitlines()
        if "enamel" in line.lower() and re.search(r"\d\s*\.\s*\d+\s*mm", line)
    ]
    assert told == []


def test_one_step_is_a_small_part_of_the_thinnest_and_a_whole_layer_is_questioned_nowhere() -> None:
    assert STEP_MM <= 0.1 * THINNEST_MM
    # a budget may be entered up to what no enamel reaches, in the clinician's own name
    most = Change(most_off_mm=THICKEST_MM)
    assert allowed(Case(code="X", change=most)).budget_mm[16] == THICKEST_MM
