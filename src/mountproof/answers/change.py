"""Question 7: what it would take to bring CR and MIP together, and at which vertical dimension."""

from __future__ import annotations

from mountproof.answers.asked import asked
from mountproof.answers.change_bench import vertical_tables
from mountproof.answers.change_seen import seen_table
from mountproof.answers.change_space import space_says
from mountproof.answers.contacts import noted_closing
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress, within
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.case.model import Arch, Case
from mountproof.said import capital, joined, say


def answer(case: Case, progress: Progress) -> Answer:
    """Answer tooth by tooth from two scans that a record relates; without them tell what the lengths alone tell."""
    ledger = Ledger("change")
    ledger.sources += [SOURCES["change"], SOURCES["pin"]]
    missing = [arch for arch in Arch if not any(s.arch is arch for s in case.scans)]
    for arch in missing:
        ledger.need(
            say("a scan of the {arch} cast", arch=arch),
            say("what comes off and what is added is read tooth by tooth"),
            "scans",
        )
    if missing:
        return _by_bench(case, ledger, progress)
    mounting = asked(case, "mounting", within(progress, 0.0, 0.3))
    noted = noted_closing(case, within(progress, 0.3, 0.4))
    if noted.closed is None:
        ledger.needs += noted.ledger.needs
        vertical_tables(case, ledger)
        ledger.tables += filter(None, (seen_table(case),))
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, say("it is not known how the scans stand to each other in CR")
        )
        return ledger.answer(say("Both scans are here, but not how they stand to each other in CR."))
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.change_scans import scanned_change

    return scanned_change(case, ledger, noted.closed, mounting, within(progress, 0.7, 0.3))


def _by_bench(case: Case, ledger: Ledger, progress: Progress) -> Answer:
    """What the lengths tell, and how far CR contact stands open over MIP where marks told it."""
    chart = vertical_tables(case, ledger)
    ledger.tables += filter(None, (seen_table(case),))
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.MISSING,
        say("which teeth would change, and by how much, takes scans of both casts"),
    )
    rest = say("which teeth would lose or gain how much takes scans of both casts")
    mounting = asked(case, "mounting", progress)
    found = next((q for q in mounting.quantities if q.key == "contact_over_mip"), None)
    space = space_says(case, ledger, chart)
    if found is None:
        tables = say("the tables tell what a vertical dimension gives at pin and teeth")
        return ledger.answer(capital(joined("; ", (space or tables, rest))), evidence=chart)
    ledger.quantities.append(found)
    stands = say("CR first contact stands {mm:.1f} mm open over MIP at the pin", mm=found.value)
    return ledger.answer(joined("; ", filter(None, (stands, space, rest))), evidence=chart)
