"""A neutral message to the lab or the dentist, made from what was measured: the number, the limit, and a request.

It names no one, blames no step and repeats no guess: causes are only told as what the next check would tell apart.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from mountproof.answers.result import Sheet, Verdict, Why
from mountproof.case.model import Case
from mountproof.said import joined, say

To = Literal["lab", "dentist"]


class Part(NamedTuple):
    """Paragraphs of a message, or the points of a list; never both."""

    words: tuple[str, ...] = ()
    points: tuple[str, ...] = ()


class Message(NamedTuple):
    """A subject and the parts below it, ready to be copied."""

    subject: str
    parts: tuple[Part, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """Return all below the subject line by line, with an empty one where another thought begins."""
        lines: list[str] = []
        for part in self.parts:
            if lines and part.words:
                lines.append("")
            lines += [*part.words, *(say("- {what}", what=point) for point in part.points)]
        return tuple(lines)

    def text(self) -> str:
        """Return all of it as one text, the subject first."""
        return joined("\n", (self.subject, "", *self.lines))


_QUESTIONS: Final = ("record", "mounting")
#: Reasons worth writing of: what does not agree first, then what is doubtful, then what could not be told.
_WEIGHT: Final = {Why.OUTSIDE: 0, Why.BETWEEN: 1, Why.GUARD_BAND: 2, Why.MISSING: 3}
_MOST: Final = 3


def message(case: Case, sheet: Sheet, to: To = "lab") -> Message:
    """Return the message for one case from its answers to the questions of record and mounting.

    Measurement and limit stand as the answers give them; the request is what the answers would have next. Raises KeyError
    where the sheet has neither question.
    """
    answers = [sheet.answers[key] for key in _QUESTIONS if key in sheet.answers]
    if not answers:
        raise KeyError("the sheet answers neither the record nor the mounting")
    parts = [Part((say("Hello,") if to == "lab" else say("Dear colleague,"),))]
    found = sorted((r for a in answers for r in a.reasons if r.why in _WEIGHT), key=lambda r: _WEIGHT[r.why])[
        :_MOST
    ]
    asking = (Verdict.DISAGREES, Verdict.DOUBTFUL, Verdict.CANNOT_TELL)
    if found and any(a.verdict in asking for a in answers):
        about = say("This is what was measured, with the limit it is held against:")
        parts += [Part((_about(case), about)), Part(points=tuple(r.text for r in found))]
        asked = list(dict.fromkeys(n.reading for a in reversed(answers) for n in a.needs))[:2]
        if asked:
            request = (
                say("So that we can go on, could you please send or repeat this:")
                if to == "lab"
                else say("So that the work can go on, could we please have this:")
            )
            parts += [Part((request,)), Part(points=tuple(asked))]
        parts.append(
            Part((say("The measurement does not tell where the difference arose; it only tells its size."),))
        )
    else:
        agreed = say("Everything that was measured agrees within its limits. Nothing is asked of you.")
        parts.append(Part((_about(case), agreed)))
    parts.append(Part((say("Thank you."),)))
    return Message(_subject(case, answers[-1].verdict), tuple(parts))


def _subject(case: Case, verdict: Verdict) -> str:
    if verdict is Verdict.AGREES:
        return say("Case {code}: record and mounting agree", code=case.code)
    return say("Case {code}: a question about record and mounting", code=case.code)


def _about(case: Case) -> str:
    if case.date is None:
        return say("This is about case {code}.", code=case.code)
    return say("This is about case {code}, measured on {day}.", code=case.code, day=str(case.date))
