"""Stops entered by hand: the published growths, a line refused, gum and perforations named."""

from __future__ import annotations

from mountproof.answers.ledger import Ledger
from mountproof.answers.record_stops import stops
from mountproof.answers.result import Verdict
from mountproof.case.files import parse_case


def _judged(entries: str, kind: str = "CR") -> tuple[Ledger, list[str]]:
    case = parse_case(f'code = "STOPS"\n[records."wax 1"]\nkind = "{kind}"\n{entries}\n')
    ledger = Ledger("record")
    return ledger, stops(case, ledger)


def _stops(*places: tuple[float, float, int | None]) -> str:
    rows = (
        f"{{ ahead_mm = {a}, right_mm = {r}{'' if t is None else f', tooth = {t}'} }}" for a, r, t in places
    )
    return f"stops = [{', '.join(rows)}]"


#: The six front teeth of an average arch.
FRONT = tuple((x, z, 11) for x, z in ((84, 17), (89, 10), (92, 4), (92, -4), (89, -10), (84, -17)))


def test_the_front_teeth_alone_do_not_hold_the_second_molars() -> None:
    ledger, says = _judged(_stops(*FRONT))
    assert "do not hold" in says[0] and ledger.verdicts == [Verdict.DISAGREES]
    (found,) = [f for f in ledger.finds if f.key == "stops"]
    assert 4.0 < found.values[0] < 7.0


def test_an_incisor_and_both_second_molars_hold_all() -> None:
    ledger, says = _judged(_stops((92, 0, 11), (50, 28, 17), (50, -28, 27)))
    assert not says and ledger.verdicts == [Verdict.AGREES]
    (table,) = ledger.tables
    assert len(table.rows) == 16
    assert max(float(row[1]) for row in table.rows if row[0] not in ("18", "28")) < 1.2


def test_stops_in_a_line_and_two_stops_are_refused() -> None:
    for places in (((60, 25, 16), (60, 0, 11), (60, -25, 26)), ((60, 25, 16), (60, -25, 26))):
        ledger, says = _judged(_stops(*places))
        assert ledger.verdicts == [Verdict.DISAGREES] and says
        assert ledger.finds[-1].values[0] == 1e3


def test_a_stop_on_gum_is_named() -> None:
    ledger, says = _judged(_stops((92, 0, 11), (50, 28, 17), (40, -28, None)))
    assert any("bears on gum or a base at 1" in s for s in says)
    assert Verdict.DOUBTFUL in ledger.verdicts
    assert any(f.key == "soft_tissue" for f in ledger.finds)


def test_a_perforation_is_named_and_other_kinds_are_left() -> None:
    ledger, says = _judged("perforated_at = [16]")
    assert says == ["Wax 1 is perforated at 16"] and ledger.verdicts == [Verdict.DOUBTFUL]
    assert _judged("perforated_at = [16]", kind="protrusive")[1] == []
