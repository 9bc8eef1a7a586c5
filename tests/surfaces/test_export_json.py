"""Answers as JSON: nothing lost, nothing that is no number, and the published schema is the program's own."""

from __future__ import annotations

import json
import math
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.result import Answer, Quantity, Sheet, Verdict
from mountproof.faults import Fault
from mountproof.surfaces.export.as_json import answer_as_dict, json_schema, sheet_as_dict
from surfaces.make_sheet import make_answers, make_sheet

PUBLISHED = Path(__file__).parents[2] / "docs" / "answer.schema.json"


def test_the_published_schema_is_the_program_s_own() -> None:
    """MOUNTPROOF_GOLDEN=write writes it anew; the difference is then looked at, and FORMAT raised if it breaks."""
    text = json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"
    if os.environ.get("MOUNTPROOF_GOLDEN") == "write":
        PUBLISHED.write_text(text, encoding="utf-8")
    assert PUBLISHED.read_text(encoding="utf-8") == text
    jsonschema.Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("scans", [False, True])
def test_a_sheet_keeps_to_the_schema(scans: bool) -> None:
    sheet = replace(make_sheet(scans=scans), faults=(Fault("a", "b", "c", line=3),))
    jsonschema.validate(sheet_as_dict(sheet), json_schema())


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.pop("code"),
        lambda d: d.update(more=1),
        lambda d: d["answers"]["pin"].update(verdict="pass"),
        lambda d: d["answers"]["pin"]["quantities"][0].update(value="4.18"),
        lambda d: d.update(format=0),
    ],
)
def test_the_schema_refuses_what_is_no_sheet(spoil: Any) -> None:
    content = json.loads(json.dumps(sheet_as_dict(make_sheet())))
    spoil(content)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(content, json_schema())


def test_keys_stand_in_the_order_of_the_types_and_arrays_stay_out() -> None:
    answer = make_answers(scans=True)["contacts"]
    assert answer.evidence is not None
    assert list(answer_as_dict(answer)) == [f.name for f in fields(Answer) if f.name != "evidence"]
    assert list(sheet_as_dict(make_sheet())["answers"]) == list(make_sheet().answers)


@given(st.floats())
def test_numbers_keep_every_digit_or_are_null(value: float) -> None:
    q = Quantity("k", "l", value, "mm", None)
    answer = Answer("k", "q", "h", Verdict.AGREES, quantities=(q,))
    text = json.dumps(answer_as_dict(answer), allow_nan=False)
    back = json.loads(text)["quantities"][0]["value"]
    assert back == value if math.isfinite(value) else back is None


@given(st.text(), st.sampled_from(Verdict))
def test_words_come_back_as_they_were(text: str, verdict: Verdict) -> None:
    sheet = Sheet(text, {"pin": Answer("pin", text, text, verdict, notes=(text,))})
    back = json.loads(json.dumps(sheet_as_dict(sheet)))
    assert back["code"] == back["answers"]["pin"]["headline"] == back["answers"]["pin"]["notes"][0] == text
    assert back["answers"]["pin"]["verdict"] == verdict.value


def test_what_has_no_place_in_json_is_refused() -> None:
    answer = Answer("k", "q", "h", Verdict.AGREES, notes=(object(),))  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="object has no place"):
        answer_as_dict(answer)
