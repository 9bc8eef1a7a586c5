"""The published schema and page are those of the program, and agree with what the reader takes and refuses."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings

from case.case_strategies import cases
from case.test_template import USED
from mountproof.case import finding
from mountproof.case.dump import dump
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.page import page
from mountproof.case.schema import as_json, json_schema, models, schema_text
from mountproof.case.template import template
from mountproof.faults import FaultError

ROOT = Path(__file__).parents[2]
BENCH = Path(__file__).with_name("bench_case.toml").read_text()
VALIDATOR = jsonschema.Draft202012Validator(json_schema(), format_checker=jsonschema.FormatChecker())


def errors(text: str) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(as_json(tomllib.loads(text)))]


def test_the_published_schema_is_the_one_the_program_makes() -> None:
    assert (ROOT / "docs" / "case.schema.json").read_text(encoding="utf-8") == schema_text(), (
        "run: python -m mountproof.case.schema"
    )


def test_the_published_page_is_the_one_the_program_makes() -> None:
    assert (ROOT / "docs" / "case-file.md").read_text(encoding="utf-8") == page(), (
        "run: python -m mountproof.case.schema"
    )


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())


DEMO = (ROOT / "src/mountproof/phantom/kestrel.toml").read_text(encoding="utf-8")
WHOLE = {"bench": BENCH, "template": template("x"), "used": USED, "least": 'code = "x"', "demo": DEMO}


@pytest.mark.parametrize("text", WHOLE.values(), ids=WHOLE)
def test_cases_keep_to_the_schema(text: str) -> None:
    assert errors(text) == []


@settings(max_examples=80, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_every_case_that_is_written_keeps_to_the_schema(case: Case) -> None:
    assert errors(dump(case)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("powder_g = 116", "powder_g = -1"),
        ("powder_g = 116", 'powder_g = "116 g"'),
        ("powder_g = 116", "powder = 116"),
        ("powder_g = 116", "powder_g = true"),
        ("intercondylar_mm = 110", "intercondylar_mm = 1100"),
        ("intercondylar_mm = 110", 'intercondylar_mm = "110 mm"'),
        ('kind = "straight"', 'kind = "bent"'),
        ('kind = "straight"', ""),
        ('code = "KESTREL-0417"', ""),
        ('code = "KESTREL-0417"', 'code = ""'),
        ("schema_version = 1", "schema_version = 2"),
        ('hands_off = "10:06"', "hands_off = 10.06"),
        ("missing = [18, 28", "missing = [1.8, 28"),
        ("missing = [18, 28", "missing = [180, 28"),
        ("set_by_hand = true", 'set_by_hand = "yes"'),
        ("date = 2026-03-02", 'date = "02.03.2026"'),
        ("redo = 0.08 }", "redo = 0.08, why = 1 }"),
    ],
)
def test_what_the_schema_refuses_the_reader_refuses_too(old: str, new: str) -> None:
    assert BENCH.count(old) >= 1
    text = BENCH.replace(old, new, 1)
    assert errors(text)
    with pytest.raises(FaultError):
        parse_case(text)


def test_every_field_says_what_it_is_and_its_example_is_allowed() -> None:
    parts = json_schema()["$defs"]
    for model in models(Case):
        for name, field in model.model_fields.items():
            prop: dict[str, Any] = parts[model.__name__]["properties"][name]
            is_part = (
                "$ref" in prop
                or "$ref" in prop.get("additionalProperties", {})
                or "$ref" in prop.get("items", {})
            )
            if not is_part:
                assert field.description, (model, name)
            for example in prop.get("examples", ()):
                sub = {"$defs": parts, **prop}
                problems = list(jsonschema.Draft202012Validator(sub).iter_errors(example))
                assert not problems, (model, name, problems)
            measured = name.endswith(("_mm", "_deg", "_um", "_g", "_ml")) and name not in (
                "readings_mm",
                "reseat_mm",
            )
            assert field.examples or not measured, (model, name)


def test_every_field_and_limit_is_on_the_page() -> None:
    text = page()
    for model in models(Case):
        for name in model.model_fields:
            if model.__name__ != "Limit":
                assert f"`{name}`" in text or f".{name}]`" in text or f"[{name}]`" in text, (model, name)


def test_every_code_of_a_fault_is_on_the_page_and_no_other() -> None:
    source = "".join(
        path.read_text() for path in (ROOT / "src/mountproof/case").glob("*.py") if path.name != "finding.py"
    )
    used = set(re.findall(r'"(case\.[a-z_]+)"', source)) - {"case.toml"}
    assert used == set(finding.CODES)
    assert all(f"`{code}`" in page() for code in used)


def test_the_example_table_of_the_page_can_be_read() -> None:
    block = re.search(r"    \[marks\]\n(?:    .*\n)+", page())
    assert block is not None
    marks = "\n".join(line[4:] for line in block.group().splitlines())
    places = "\n".join(
        f'{n} = {{ arch = "{a}" }}'
        for n, a in (("UR", "upper"), ("UA", "upper"), ("LR", "lower"), ("LA", "lower"))
    )
    states = "\n".join(f'{n} = {{ kind = "record in" }}' for n in "ABG")
    case = parse_case(f'code = "x"\n{marks}\n[marks.places]\n{places}\n[marks.states]\n{states}\n')
    assert case.marks is not None
    assert (
        case.marks.readings_mm.get("UR-LR", "B") == (38.05, 38.0)
        and case.marks.readings_mm.get("UA-LA", "G") == ()
    )


def test_the_schema_is_plain_json() -> None:
    assert json.loads(schema_text()) == json_schema()
