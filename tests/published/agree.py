"""One rule for printed numbers: half a unit of the last printed digit, and nothing chosen by hand."""

from __future__ import annotations

from decimal import Decimal


def half_unit(printed: str) -> float:
    """Half a unit of the last printed digit of a number as printed (``"0.201"`` gives 0.0005)."""
    exponent = Decimal(printed.replace("−", "-").replace("+", "")).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


def agrees(printed: str, got: float, *, inputs_half_range: float = 0.0, draws_se: float = 0.0) -> None:
    """Assert that ``got`` would be printed as ``printed``.

    ``inputs_half_range`` is what the rounding of the printed inputs can move the result by;
    ``draws_se`` the standard error of a result from random draws (three of them are allowed).
    """
    want = float(printed.replace("−", "-"))
    allowed = half_unit(printed) * (1 + 1e-9) + inputs_half_range + 3 * draws_se
    assert abs(got - want) <= allowed, f"printed {printed}, got {got!r}, allowed +-{allowed:.3g}"
