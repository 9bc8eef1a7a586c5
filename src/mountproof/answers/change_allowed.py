"""Part of question 7: whose teeth may be reshaped, how far by the clinician's own budgets, and where a trial ends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from mountproof.answers.change_stands import Heights, Stand
from mountproof.answers.foils import iso, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table
from mountproof.case.model import Case, StopAt
from mountproof.occlusion.change import Share
from mountproof.said import joined, say

#: What one round removes where nobody says it, mm across the surface; small steps, each looked at. Common practice, no source.
STEP_MM: Final = 0.05
#: Rounds of a trial where nobody says how many.
_MOST_ROUNDS: Final = 40
_PRIMARY: Final = (5, 6, 7, 8)
_EVERY: Final = tuple(10 * quadrant + n for quadrant in range(1, 9) for n in range(1, 9))


class Allowed(NamedTuple):
    """What a change may touch: ``kept`` teeth (ISO 3950) with the reason, and limits by tooth.

    ``budget_mm``: what may come off, across the surface; ``on_mm``: what may be added, along closure.
    """

    share: Share
    kept: Mapping[int, str]
    budget_mm: Mapping[int, float]
    on_mm: Mapping[int, float]

    def kept_words(self, case: Case) -> str:
        """Return the teeth that keep their shape, each with its reason."""
        return joined(
            ", ",
            (say("{tooth} ({why})", tooth=written(case, t), why=w) for t, w in sorted(self.kept.items())),
        )


def allowed(case: Case) -> Allowed:
    """Return what the case allows; restorations, primary teeth and implants keep their shape by default."""
    change = case.change
    kept: dict[int, str] = {}
    for one in change.excluded:
        kept |= {iso(case, t): one.reason for t in one.teeth}
    if not change.reshape_restored:
        kept |= {iso(case, t): say("restored") for t in change.restored}
    kept |= {iso(case, t): say("implant") for t in case.dentition.implants}
    most = change.most_off_mm
    budgets = {} if most is None else dict.fromkeys(_EVERY, most)
    budgets |= {iso(case, t): one.most_mm for one in change.budgets for t in one.teeth}
    share: Share = "both" if change.reshape is None else change.reshape.value
    on = {} if change.most_on_mm is None else dict.fromkeys(_EVERY, change.most_on_mm)
    on |= {iso(case, t): b.most_on_mm for b in change.budgets if b.most_on_mm is not None for t in b.teeth}
    return Allowed(share, kept, budgets, on)


def keeps(allow: Allowed, teeth: tuple[int, ...]) -> Allowed:
    """Return the same, primary teeth among ``teeth`` left out as well."""
    primary = {t: say("primary tooth") for t in teeth if t // 10 in _PRIMARY}
    return allow._replace(kept={**primary, **allow.kept})


def step_of(case: Case, ledger: Ledger) -> float:
    """Return what one round takes off, mm across the surface: the user's own, else an assumption."""
    if case.change.step_mm is not None:
        return case.change.step_mm
    return ledger.assume(
        say("what one round of a trial removes, across the surface"),
        STEP_MM,
        "mm",
        say("common practice, no source"),
        "change.step_mm",
    )


def rounds_of(case: Case) -> int:
    """Return how many rounds a trial has at most."""
    return case.change.stop.most_rounds or _MOST_ROUNDS


def end_of(case: Case, ledger: Ledger, heights: Heights) -> Stand:
    """Return the height to which a change leads: the user's own, else that of MIP, else where the front teeth meet."""
    stop = case.change.stop
    usual = heights.stand("mip") or heights.stand("front") or heights.stands[-1]
    if stop.at is StopAt.PIN and stop.pin_mm is not None:
        return heights.stand("pin") or usual
    if stop.at is None:
        return usual
    found = heights.stand(stop.at.value)
    if found is None:
        lacks = say(
            "the height of MIP is not known: the change is told to another height, {words}", words=usual.words
        )
        if stop.at is StopAt.FRONT:
            lacks = say(
                "no front teeth meet: the change is told to another height, {words}", words=usual.words
            )
        ledger.notes.append(say("{lacks}.", lacks=lacks))
    return found or usual


def own_stand(case: Case, heights: Heights) -> Heights:
    """Return the heights with the user's own one among them, where the pin is to end at a height."""
    stop = case.change.stop
    if stop.at is not StopAt.PIN or stop.pin_mm is None:
        return heights
    stand = Stand(
        "pin", say("your own height, pin {mm:+.2f} mm", mm=stop.pin_mm), heights.closing_at(stop.pin_mm)
    )
    stands = tuple(sorted((*heights.stands, stand), key=lambda s: s.closing.value))
    return heights._replace(stands=stands)


def kept_table(case: Case, allow: Allowed) -> Table | None:
    """Return the teeth that keep their shape, with the reason; None where all may be reshaped."""
    if not allow.kept:
        return None
    return Table(
        say("Teeth that keep their shape"),
        (say("tooth"), say("why")),
        tuple((written(case, tooth), why) for tooth, why in sorted(allow.kept.items())),
        say(
            "Where such a tooth meets another, its opponent takes all that comes off, if it may be reshaped."
        ),
    )
