"""The first-order engine of question 8 on the demo case: chain, joint covariance, checks, shares, and every number's doubt.

What it starts from is made beforehand and not timed: the answers to the other questions, and what their pages noted. Draws are
timed in ``draws``.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from benchmarks.ratio import Row, median_s

ROUNDS, WANTED_S = 15, 0.05
TRIANGLES = 20_000


def run() -> list[Row]:
    from mountproof.answers import doubt
    from mountproof.answers.axis_doubt import axis_doubt
    from mountproof.answers.doubt_budget import budgets, ground_of, largest
    from mountproof.answers.doubt_chain import chain_of
    from mountproof.answers.doubt_checked import checked, choices_of
    from mountproof.answers.doubt_numbers import others, tell_numbers
    from mountproof.answers.ledger import Ledger
    from mountproof.answers.progress import quiet
    from mountproof.case.files import load_case
    from mountproof.surfaces.demo_case import make_demo

    with tempfile.TemporaryDirectory() as place:
        make_demo(Path(place) / "demo", triangles=TRIANGLES)
        case = load_case(Path(place) / "demo")
        answers, page = others(case, quiet), doubt._page(case, quiet)
        axis_u_mm = axis_doubt(case, Ledger("doubt")).u_mm

        def first_order() -> Ledger:
            ledger = Ledger("doubt")
            chain = chain_of(case, ledger, page)
            ground = ground_of(case, chain)
            found = checked(ground, chain.looks, choices_of(case, chain.chain.network, ()), ())
            assert largest(ground, found.mean, found.cov).u > 0.0
            assert budgets(ground, ground.joined.cov, found.cov)
            tell_numbers(case, ground, found.cov, answers, axis_u_mm, ledger)
            return ledger

        spent_s = median_s(first_order, ROUNDS)
        numbers = sum(len(table.rows) for table in first_order().tables)
    note = f"{numbers} numbers with the doubt of the whole chain; at most {1e3 * WANTED_S:g} ms"
    return [Row("first-order engine, demo case", spent_s, None, "", None, note, spent_s < WANTED_S)]
