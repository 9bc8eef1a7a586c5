"""Part of question 7: what is added at the end of a trial, so that what stayed open meets."""

from __future__ import annotations

from mountproof.answers.change_allowed import Allowed
from mountproof.answers.change_curves import NEAR_MM
from mountproof.answers.change_replay import pair_of
from mountproof.answers.change_swept import Swept
from mountproof.answers.foils import written
from mountproof.answers.result import Table
from mountproof.case.model import Case
from mountproof.occlusion.trial import Plan, State
from mountproof.occlusion.trial_filled import filled
from mountproof.said import figure, joined, say


def fill_table(case: Case, found: Swept, last: State, plan: Plan, allow: Allowed) -> Table:
    """Return what is built up on which tooth after the last round, and what stays open; the closing stays as it was."""
    done = filled(last, plan, NEAR_MM, allow.on_mm)
    rows = [
        (written(case, cut.tooth), figure(cut.along_mm, ".2f"), figure(cut.volume_mm3, ".2f"))
        for cut in sorted(done.added, key=lambda c: -c.along_mm)
        if cut.tooth
    ]
    holds = joined(", ", (pair_of(case, (m.upper_label, m.lower_label)) for m in done.state.met))
    left = joined(
        ", ", (say("{pair} {mm:.2f} mm", pair=pair_of(case, (u, w)), mm=mm) for u, w, mm in done.open_mm)
    )
    note = say(
        "Built up until it meets, over the place that lies nearest. Pin {pin:+.2f} mm, as before. Then these hold: {pairs}.",
        pin=found.heights.pin_mm(done.state.closing_rad) + 0.0,
        pairs=holds,
    )
    if done.open_mm:
        note = joined(" ", (note, say("Left open, beyond what may be added: {pairs}.", pairs=left)))
    return Table(
        say("What is added at the end of the trial, on the duplicates"),
        (say("tooth"), say("on, along closure mm"), say("on, mm3")),
        tuple(rows),
        note,
    )
