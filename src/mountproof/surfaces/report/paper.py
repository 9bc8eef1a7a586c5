"""A paper of a case as a PDF, in one language. Nothing is computed; the same paper gives the same bytes."""

from __future__ import annotations

from typing import Any, Final

from mountproof.answers.message import Message
from mountproof.answers.paper import Block, Line, Paper, Stands
from mountproof.case.model import Case
from mountproof.case.tooth_numbers import system_of
from mountproof.said import capital, joined, rendered, say
from mountproof.said.catalogue import ENGLISH
from mountproof.surfaces.report.text import clean
from mountproof.surfaces.report.typeset import typeset

#: Which of our marks stands beside a line; they are called by verdicts.
_MARKS: Final = {
    Stands.TOLD: None,
    Stands.THERE: "agrees",
    Stands.MISSING: "cannot tell",
    Stands.AGAINST: "does not agree",
}

_STATES: Final = {
    Stands.TOLD: "",
    Stands.THERE: say("stands"),
    Stands.MISSING: say("missing"),
    Stands.AGAINST: say("does not stand"),
}


def paper_pdf(paper: Paper, case: Case, *, version: str, language: str = ENGLISH) -> bytes:
    """Return a paper as a tagged PDF (PDF/UA-1, and PDF/A-2a where the case has its day) in ``language``.

    Text of the case is passed as data, never as markup. KeyError for a language that there are no files of.
    """
    data = rendered(_data(paper, case, version), language, numbering=system_of(case))
    cleaned = _cleaned(data)
    cleaned["lang"], cleaned["date"] = language, _day(case)
    return typeset("paper.typ", cleaned, {})


def message_paper(message: Message) -> Paper:
    """Return the message to lab or dentist as a paper."""
    blocks = tuple(
        Block("", tuple(map(Line, part.points or part.words)), prose=not part.points)
        for part in message.parts
    )
    return Paper("message", message.subject, say("Measurement, limit and request; nothing else."), blocks)


def _data(paper: Paper, case: Case, version: str) -> dict[str, Any]:
    missing = paper.missing if paper.name == "prescription" else ()
    return {
        "title": joined(" ", (paper.title, case.code)),
        "kind": paper.title,
        "code": case.code,
        "large": paper.large,
        "headline": paper.headline,
        "missing": say("Left blank: {fields}.", fields=joined("; ", [m.words for m in missing]))
        if missing
        else "",
        "meta": _meta(paper, case),
        "blocks": [_block(block) for block in paper.blocks],
        "cautions": {"title": say("Before anybody acts on this"), "lines": list(paper.cautions)},
        "sign": [say("name"), say("date"), say("signature")] if paper.sign else None,
        "foot": joined(" ", ("mountproof", version)),
        "page": say("page"),
    }


def _meta(paper: Paper, case: Case) -> list[list[str]]:
    day = say("{day}", day=case.date) if case.date is not None else say("not given")
    entries = [(say("case"), case.code), (say("date"), day)]
    if not paper.large:
        entries += [(say("measured by"), case.by), (say("measured at"), case.lab)]
    return [[name, text] for name, text in entries if text]


def _block(block: Block) -> dict[str, Any]:
    return {
        "title": block.title,
        "intro": block.intro,
        "prose": block.prose,
        "lines": [
            {
                "words": line.words if block.prose else capital(line.words),
                "value": line.value,
                "note": line.note,
                "mark": _MARKS[line.stands],
                "state": _STATES[line.stands],
            }
            for line in block.lines
        ],
    }


def _day(case: Case) -> dict[str, int] | None:
    return (
        None
        if case.date is None
        else {"year": case.date.year, "month": case.date.month, "day": case.date.day}
    )


def _cleaned(value: Any) -> Any:
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {key: one if key == "mark" else _cleaned(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_cleaned(one) for one in value]
    return value
