"""How numbers, intervals and verdicts are written, the same on every surface."""

from __future__ import annotations

from mountproof.answers.result import Answer, Quantity, Verdict
from mountproof.said import Said, joined, say, term
from mountproof.said.forms import Figure

#: A mark beside each verdict, so that colour never carries it alone.
MARKS: dict[Verdict, str] = {
    Verdict.AGREES: "=",
    Verdict.DOUBTFUL: "~",
    Verdict.DISAGREES: "≠",
    Verdict.CANNOT_TELL: "?",
}

#: Exit status of the command line when something in the input cannot be used.
FAULTY_INPUT = 2

#: Exit status of the command line by verdict (130 is a person's stop).
EXIT_STATUS: dict[Verdict, int] = {
    Verdict.AGREES: 0,
    Verdict.DOUBTFUL: 3,
    Verdict.DISAGREES: 4,
    Verdict.CANNOT_TELL: 5,
}


def number_text(value: float, decimals: int) -> str:
    """Write a number with so many decimals, a true minus, and no minus before a zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    text = text.replace("-", "−")
    return Said(text, Figure(text))


def value_text(quantity: Quantity) -> str:
    """Write a value with its unit."""
    return with_unit(number_text(quantity.value, quantity.decimals), quantity.unit)


def interval_text(quantity: Quantity) -> str:
    """Write the 95 % interval with its unit; empty where there is none."""
    if quantity.low is None or quantity.high is None:
        return ""
    low, high = (number_text(x, quantity.decimals) for x in (quantity.low, quantity.high))
    return with_unit(say("{low} to {high}", low=low, high=high), quantity.unit)


def with_unit(text: str, unit: str) -> str:
    """Write a number, or a range, with its unit; as it is where there is none."""
    return joined(" ", (text, term(unit))) if unit else text


def verdict_text(answer: Answer) -> str:
    """Write the verdict word behind its mark."""
    return joined(" ", (MARKS[answer.verdict], term(answer.verdict.value)))
