"""From a guarded judgement to a verdict with its reason, in one way for all answers."""

from __future__ import annotations

from mountproof.answers.implants import Held
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.case.limits import Limit
from mountproof.doubt.guard import judge
from mountproof.said import say, term

_WHY = {
    Verdict.AGREES: Why.INSIDE,
    Verdict.DOUBTFUL: Why.BETWEEN,
    Verdict.DISAGREES: Why.OUTSIDE,
    Verdict.CANNOT_TELL: Why.GUARD_BAND,
}
_SAYS = {
    Verdict.AGREES: say("inside its limit"),
    Verdict.DOUBTFUL: say("perhaps beyond its limit, surely not to be redone"),
    Verdict.DISAGREES: say("beyond what can stay"),
    Verdict.CANNOT_TELL: say("too uncertain to judge"),
}


def judge_against(
    ledger: Ledger, what: str, value: float, u: float, by: Limit | Held, decimals: int = 2
) -> Verdict:
    """Judge the size of a value against a pair of limits with a guard band of two u; note the reason.

    Where implants made the limit stricter (``implants.held_to``) the reason says so.
    """
    held = by if isinstance(by, Held) else Held(by)
    limit = held.limit
    judged = judge(value, u, limit.decent, limit.redo)
    verdict = Verdict(judged.verdict)
    unit = say(" {unit}", unit=term(limit.unit)) if limit.unit else ""
    ledger.because(
        verdict,
        _WHY[verdict],
        say(
            "{what} {value:.{decimals}f} ± {twice:.{decimals}f}{unit}: {judged} (agrees up to "
            "{decent:g}{unit}, redo above {redo:g}{unit})",
            what=held.says(what),
            value=abs(value),
            decimals=decimals,
            twice=2 * u,
            unit=unit,
            judged=_SAYS[verdict],
            decent=limit.decent,
            redo=limit.redo,
        ),
        value=value,
        u=u,
        limit=limit.decent,
        unit=limit.unit,
    )
    return verdict
