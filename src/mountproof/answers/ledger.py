"""What an answer collects while it is made: assumptions, needs, notes, reasons, quantities."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from mountproof.answers.finds import Found
from mountproof.answers.result import (
    Answer,
    Assumption,
    Need,
    Quantity,
    Reason,
    Table,
    Verdict,
    Why,
    worst,
)
from mountproof.answers.words import BY_KEY
from mountproof.geometry.carry import Carried
from mountproof.geometry.quantile import coverage_factor
from mountproof.said import figure, joined, say, term


@dataclass(slots=True)
class Ledger:
    """A page to write on while one answer is made; it never leaves the answer's module."""

    key: str
    assumptions: list[Assumption] = field(default_factory=list)
    needs: list[Need] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    quantities: list[Quantity] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    finds: list[Found] = field(default_factory=list)
    #: Arrays behind pictures (mountproof.answers.picture_data), for the answer's evidence.
    pictures: list[object] = field(default_factory=list)

    def copied(self) -> Ledger:
        """Return another page with the same notes, to write on."""
        made = Ledger(self.key)
        for one in fields(self):
            if one.name != "key":
                getattr(made, one.name).extend(getattr(self, one.name))
        return made

    def take(self, other: Ledger) -> None:
        """Take over what another page notes; its measurements come first."""
        for one in fields(self):
            if one.name not in ("key", "needs"):
                getattr(self, one.name).extend(getattr(other, one.name))
        self.needs[:] = dict.fromkeys([*other.needs, *self.needs])

    def assume(self, what: str, value: float, unit: str, source: str, entry: str = "") -> float:
        """Note a value that nobody measured, and return it."""
        self.assumptions.append(Assumption(what, _with_unit(value, unit), source, entry))
        return value

    def need(self, reading: str, why: str, entry: str = "") -> None:
        """Note a measurement that would help; the first noted is the next to take."""
        item = Need(reading, why, entry)
        if item not in self.needs:
            self.needs.append(item)

    def because(self, verdict: Verdict, why: Why, text: str, **numbers: float | str | None) -> None:
        """Note a reason and the verdict it leads to."""
        self.verdicts.append(verdict)
        if "unit" in numbers:
            numbers["unit"] = term(str(numbers["unit"]))
        self.reasons.append(Reason(why, text, **numbers))  # type: ignore[arg-type]

    def quantity(
        self,
        key: str,
        label: str,
        carried: Carried,
        unit: str,
        *,
        factor: float = 1.0,
        decimals: int = 2,
        assumed: bool = False,
        note: str = "",
    ) -> Quantity:
        """Note a carried value as a quantity (times ``factor``), and return it."""
        made = Quantity.of(
            key,
            label,
            carried.value * factor,
            term(unit),
            carried.u * abs(factor),
            decimals=decimals,
            assumed=assumed,
            note=note,
            coverage=coverage_factor(0.95),
        )
        self.quantities.append(made)
        return made

    def __getitem__(self, key: str) -> Quantity:
        """Return a quantity noted before."""
        return next(q for q in self.quantities if q.key == key)

    def answer(self, headline: str, verdict: Verdict | None = None, evidence: object = None) -> Answer:
        """Close the page: the answer, with the verdict that decides among the reasons unless one is given."""
        return Answer(
            key=self.key,
            question=BY_KEY[self.key].words,
            headline=headline if headline.endswith(".") else joined("", (headline, ".")),
            verdict=worst(tuple(self.verdicts)) if verdict is None else verdict,
            reasons=tuple(self.reasons),
            quantities=tuple(self.quantities),
            needs=tuple(self.needs),
            assumptions=tuple(dict.fromkeys(self.assumptions)),
            tables=tuple(self.tables),
            notes=tuple(self.notes),
            sources=tuple(self.sources),
            evidence=evidence,
        )


def _with_unit(value: float, unit: str) -> str:
    return say("{value:g} {unit}", value=value, unit=term(unit)) if unit else figure(value, "g")
