"""Part of question 7: thirds that were seen by eye, where no scan tells them."""

from __future__ import annotations

from mountproof.answers.foils import iso, written
from mountproof.answers.result import Table
from mountproof.case.means import Third
from mountproof.case.model import Case
from mountproof.said import say
from mountproof.teeth import along_arch_key

_SEEN = {Third.INNER: say("inner third"), Third.MIDDLE: say("middle third"), Third.OUTER: say("outer third")}


def seen_table(case: Case) -> Table | None:
    """Return the thirds that were seen by eye; None where nobody entered any."""
    seen = {iso(case, t): one.third for one in case.change.means.seen for t in one.teeth}
    if not seen:
        return None
    rows = [
        (written(case, t), _SEEN[third])
        for t, third in sorted(seen.items(), key=lambda p: along_arch_key(p[0]))
    ]
    return Table(
        say("Thirds seen by eye, as entered"),
        (say("upper"), say("lower buccal cusp tip in the")),
        tuple(rows),
        say(
            "By eye, without a doubt that could be told. The rule of thirds (inner third: subtract, middle: add, outer: move or "
            "operate) is common practice, no source. No means is chosen here: that stays with the clinician and the patient."
        ),
    )  # fmt: skip
