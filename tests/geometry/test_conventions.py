"""The page of conventions: its numbers are run, and each convention has its picture and its wrong reading."""

import doctest
import re
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "conventions.md"


def test_the_numbers_on_the_page_are_those_of_the_program():
    ran = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8", optionflags=doctest.ELLIPSIS)
    assert ran.failed == 0
    assert ran.attempted > 30


def test_each_convention_has_a_picture_a_worked_number_and_the_wrong_reading():
    parts = re.split(r"^## ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    assert len(parts) == 9
    for part in parts:
        title = part.splitlines()[0]
        for needed in ("```text", "Worked number:", ">>> ", "Common wrong reading:"):
            assert needed in part, f"{title}: {needed} is missing"
