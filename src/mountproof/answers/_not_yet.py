"""Questions that this version does not answer say so, and say which readings they will need."""

from __future__ import annotations

from mountproof.answers.result import Answer, Need, Reason, Verdict, Why
from mountproof.answers.words import BY_KEY
from mountproof.said import say


def not_yet(key: str, what: str, needs: tuple[Need, ...]) -> Answer:
    """Return ``cannot tell`` for a question that is not answered yet, with the readings it will need."""
    return Answer(
        key=key,
        question=BY_KEY[key].words,
        headline=say("Not answered by this version. {what}", what=what),
        verdict=Verdict.CANNOT_TELL,
        reasons=(Reason(Why.NOT_BUILT, say("this question is not answered by this version")),),
        needs=needs,
    )
