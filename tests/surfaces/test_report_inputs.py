"""What was entered of casts, facebow, checks and bases stands on the printed sheet, a no as well as a yes."""

from __future__ import annotations

import pytest

from mountproof.case.files import parse_case
from mountproof.surfaces.report.inputs import all_inputs

TEXT = """
code = "x"
record_repeat_dof = 24
[casts]
seats_by_hand = 2
[facebow]
axis = "ear rods"
[records.r]
kind = "CR"
stops = [{ ahead_mm = 61, right_mm = 25, tooth = 16 }]
[[proof.split_casts]]
record = "r"
gaps = [{ ahead_mm = 63, right_mm = -25, holds_um = 100, passes_um = 40 }]
[[proof.attempts]]
why = "the pin stood off"
[few_teeth]
index_fits = INDEX
"""


def lines(index: str) -> dict[str, str]:
    return {line.title: line.text for line in all_inputs(parse_case(TEXT.replace("INDEX", index))).lines}


def test_nothing_that_was_entered_is_left_out() -> None:
    found = lines("true")
    assert "2" in found["Casts"] and "ear rods" in found["Facebow"]
    assert "61" in found["Records"] and "16" in found["Records"]
    assert all(part in found["Mounting checks"] for part in ("63", "100", "40", "the pin stood off"))
    assert found["Degrees of freedom behind it"] == "24"


@pytest.mark.parametrize(("index", "said"), [("true", "index fits"), ("false", "index fits no")])
def test_no_is_an_answer_too(index: str, said: str) -> None:
    assert lines(index)["Few teeth"] == said
