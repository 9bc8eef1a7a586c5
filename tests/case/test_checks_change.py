"""Entries about a change that do not go together: each is refused at its place, counted from 1, with what to do."""

from __future__ import annotations

import pytest

from mountproof.case.files import parse_case
from mountproof.faults import FaultError


def found(more: str) -> list[tuple[str, str | None]]:
    try:
        parse_case('code = "x"\n' + more)
    except FaultError as error:
        assert all(fault.todo and fault.line is not None for fault in error.faults)
        return [(fault.code, fault.field) for fault in error.faults]
    return []


@pytest.mark.parametrize(
    ("entries", "code", "field"),
    [
        (
            "budgets = [{ teeth = [15, 16], most_mm = 0.3 }, { teeth = [17, 16], most_mm = 0.2 }]",
            "case.contradiction",
            "change.budgets.2.teeth.2",
        ),
        ("budgets = [{ teeth = [15], most_mm = -0.1 }]", "case.out_of_range", "change.budgets.1.most_mm"),
        ("budgets = [{ teeth = [], most_mm = 0.1 }]", None, "change.budgets.1.teeth"),
        ("budgets = [{ teeth = [19], most_mm = 0.1 }]", None, "change.budgets.1.teeth.1"),
        ('excluded = [{ teeth = [24], reason = "" }]', None, "change.excluded.1.reason"),
        ("restored = [99]", None, "change.restored.1"),
        ("step_mm = 0.6", "case.out_of_range", "change.step_mm"),
        ("step_mm = 0.0", "case.out_of_range", "change.step_mm"),
        ('stop = { at = "pin" }', "case.missing_field", "change.stop.at"),
        ('stop = { at = "mip", pin_mm = 0.5 }', "case.contradiction", "change.stop.pin_mm"),
        ("stop = { most_rounds = 0 }", "case.out_of_range", "change.stop.most_rounds"),
        ('reshape = "middle"', None, "change.reshape"),
        (
            'branches = [{ name = "A" }, { name = "B" }, { name = "A", after = 2 }]',
            "case.contradiction",
            "change.branches.3.name",
        ),
        ('branches = [{ name = "A", excluded = [10] }]', None, "change.branches.1.excluded.1"),
        ('branches = [{ name = "A", after = -1 }]', "case.out_of_range", "change.branches.1.after"),
    ],
)
def test_what_does_not_go_together_is_refused_at_its_place(
    entries: str, code: str | None, field: str
) -> None:
    ((got, where),) = found(f"[change]\n{entries}\n")
    assert where == field, (got, where)
    assert got.startswith("case.") and (code is None or got == code)


@pytest.mark.parametrize(
    "entries",
    [
        "budgets = [{ teeth = [15, 16], most_mm = 0.3 }, { teeth = [17], most_mm = 0 }]",
        'stop = { at = "pin", pin_mm = -0.5, most_rounds = 3 }',
        'branches = [{ name = "A" }, { name = "B", after = 2, reshape = "upper", step_mm = 0.03, excluded = [15] }]',
        'restored = [36]\nreshape_restored = true\nreshape = "both"',
    ],
)
def test_what_goes_together_is_taken(entries: str) -> None:
    assert found(f"[change]\n{entries}\n") == []


@pytest.mark.parametrize(
    "entry", ["adjusted = [{ tooth = 1 }]", "first_contact = [1]", "held = [1]", "free = [1]"]
)
def test_a_tooth_of_a_visit_that_is_none_is_said_where_it_stands(entry: str) -> None:
    """Half a number, as it is while somebody types it: no answer may be asked of it."""
    with pytest.raises(FaultError) as raised:
        parse_case(f'code = "X"\n[[followups]]\n{entry}\n')
    (fault,) = raised.value.faults
    assert fault.field.startswith("followups.1.") and fault.got == "1"
