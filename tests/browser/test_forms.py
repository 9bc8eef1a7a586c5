"""The forms in a real browser: nothing that axe finds, nothing wider than a tablet, a slip is asked about, nothing is lost."""

from __future__ import annotations

import pytest

import mountproof.phantom
from browser.conftest import TABLET
from mountproof.case.files import parse_case

FORMS = (
    "case",
    "teeth",
    "instrument",
    "facebow",
    "caliper",
    "casts",
    "records",
    "marks",
    "reseat",
    "pin",
    "stone",
    "foils",
    "proof",
    "change",
    "prescription",
    "followups",
    "bases",
    "limits",
)
CELL = "marks.readings_mm.UA-LA.B"


def cell(page, field=CELL):
    return page.locator(f'[data-entry="{field}"]')


@pytest.fixture(scope="module")
def bench_case(bench):
    """The demo case without its scans."""
    from pathlib import Path

    text = Path(mountproof.phantom.__file__).with_name("kestrel.toml").read_text(encoding="utf-8")
    start, end = text.index("[[scans]]"), text.index('[records."record 1"]')
    text = text[:start] + text[end:]
    relation = next(line for line in text.splitlines() if line.startswith("upper_from_lower ="))
    text = text.replace(relation, "")
    assert parse_case(text).scans == ()
    return bench.send("POST", "/api/cases/bring-in?name=case.toml", content=text.encode())["case"]["id"]


@pytest.mark.parametrize(("look", "language"), [("light", "en"), ("dark", "de")])
def test_axe_finds_nothing_and_nothing_is_wider_than_a_tablet(
    visit, clean, screens, bench_case, look, language
):
    page = visit(f"#/case/{bench_case}/enter/case", look=look, language=language, size=TABLET, has_touch=True)
    for name in FORMS:
        page.evaluate(f"location.hash = '#/case/{bench_case}/enter/{name}'")
        page.locator(f".section-link[aria-current=page][href$='/{name}']").wait_for()
        page.locator(".form [data-entry], .form [data-field=followups]").first.wait_for()
        assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"], name
        screens(page, f"{name}-{look}-{language}")
        clean(page)


def test_a_slip_is_asked_about_while_it_is_typed_and_taken_back(visit, screens, bench_case, bench):
    page = visit(f"#/case/{bench_case}/enter/marks", expect="status of 422")
    cell(page).wait_for()
    cell(page).focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("46.20")
    page.locator(f"[data-question='{CELL}']").wait_for()
    screens(page, "asked", whole=False)
    before = bench.send("GET", f"/api/cases/{bench_case}")
    assert before["revision"] == 1, "nothing is saved while one types"
    page.keyboard.press("Alt+ArrowDown")
    assert page.evaluate("document.activeElement.textContent") == "Take 42.60"
    page.keyboard.press("Enter")
    page.locator(f"[data-question='{CELL}']").wait_for(state="detached")
    assert cell(page).input_value() == "42.60"
    assert page.evaluate("document.activeElement.dataset.entry") == CELL

    page.keyboard.press("Control+a")
    page.keyboard.type("42.65")
    page.keyboard.press("Enter")
    page.locator(".unsaved").wait_for(state="detached")
    assert bench.send("GET", f"/api/cases/{bench_case}")["revision"] == 2
    page.keyboard.press("Control+z")
    page.wait_for_timeout(500)
    page.locator(f'[data-entry="{CELL}"]:focus').wait_for()
    assert cell(page).input_value() == "42.60"
    history = bench.send("GET", f"/api/cases/{bench_case}/history")
    assert max(one["number"] for one in history) == 3, "taking back is a revision of its own"


def test_what_is_half_typed_is_there_after_the_page_was_closed(visit, bench):
    case_id = bench.new_case("HALF-1")
    page = visit(f"#/case/{case_id}/enter/instrument")
    cell(page, "instrument.name").wait_for()
    cell(page, "instrument.name").fill("no. 7")
    page.reload()
    cell(page, "instrument.name").wait_for()
    assert cell(page, "instrument.name").input_value() == "no. 7"
    cell(page, "instrument.name").focus()
    page.keyboard.press("Tab")
    assert "Still needed" in page.locator("[data-field='instrument.name'] .remarks").inner_text()


def test_a_stroke_for_repeats_is_there_where_fingers_point(visit, bench_case):
    page = visit(f"#/case/{bench_case}/enter/marks", size=TABLET, has_touch=True, is_mobile=True)
    field = "marks.readings_mm.UL-LL.B"
    cell(page, field).tap()
    before = cell(page, field).input_value()
    page.get_by_role("button", name="/ repeat").tap()
    assert cell(page, field).input_value() == f"{before}/"
    assert page.evaluate("document.activeElement.dataset.entry") == field, "the keypad stays open"
    page.keyboard.press("Escape")
    assert cell(page, field).input_value() == before


def test_an_articulator_is_kept_and_put_into_another_case(visit, bench, bench_case):
    page = visit(f"#/case/{bench_case}/enter/instrument")
    page.get_by_role("button", name="Keep no. 2").click()
    page.get_by_label("kept articulator", exact=True).locator("option", has_text="no. 2").wait_for(
        state="attached"
    )
    other = bench.new_case("OTHER-1")
    page.evaluate(f"location.hash = '#/case/{other}/enter/instrument'")
    page.locator(".case-code", has_text="OTHER-1").wait_for()
    page.get_by_label("kept articulator", exact=True).select_option("no. 2")
    page.get_by_role("button", name="Put it into this case").click()
    page.wait_for_timeout(200)
    page.locator("[data-field='instrument.name'] .needed").wait_for(state="detached")
    assert cell(page, "instrument.name").input_value() == "no. 2"
    entered = [bench.send("GET", f"/api/cases/{one}")["entered"]["instrument"] for one in (bench_case, other)]
    assert entered[0] == entered[1]


def test_change_prescription_and_visits_are_entered_by_the_keyboard_alone(visit, bench):
    case_id = bench.new_case("CHANGE-1")
    page = visit(f"#/case/{case_id}/enter/change", expect="status of 422")

    def typed(field, *texts):
        cell(page, field).first.focus()
        for text in texts:
            page.keyboard.type(text)
            page.keyboard.press("Enter")

    def entered():
        page.locator(".unsaved").wait_for(state="detached")
        page.wait_for_timeout(300)
        return bench.send("GET", f"/api/cases/{case_id}")["entered"]

    cell(page, "change.step_mm").wait_for()
    typed("change.budgets.+.teeth", "16 46", "0.3")
    typed("change.excluded.+.teeth", "24", "worn through")
    typed("change.most_off_mm", "0.4")
    typed("change.stop.most_rounds", "20")
    cell(page, "change.stop.at").first.focus()
    page.keyboard.press("Space")
    change = entered()["change"]
    assert change["budgets"] == [{"teeth": [16, 46], "most_mm": "0.3"}]
    assert change["excluded"] == [{"teeth": [24], "reason": "worn through"}]
    assert (change["most_off_mm"], change["stop"]) == ("0.4", {"most_rounds": 20, "at": "mip"})
    typed("change.step_mm", "7")
    remarks = page.locator("[data-field='change.step_mm'] .field-fault")
    remarks.first.wait_for()
    assert cell(page, "change.step_mm").input_value() == "7", "what was typed stays"
    cell(page, "change.step_mm").fill("0.05")
    page.keyboard.press("Enter")
    remarks.first.wait_for(state="detached")

    page.evaluate(f"location.hash = '#/case/{case_id}/enter/prescription'")
    cell(page, "prescription.scheme").wait_for()
    typed("prescription.scheme", "even contact behind")
    box = page.get_by_label("leave as it is")
    for text in ("the master casts, both", "upper front teeth"):
        box.focus()
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    page.get_by_role("button", name="shaping enamel", exact=True).press("Enter")
    cell(page, "prescription.steps.1.teeth").wait_for()
    typed("prescription.steps.1.teeth", "15 45")
    prescription = entered()["prescription"]
    assert prescription["scheme"] == "even contact behind"
    assert prescription["do_not_alter"] == ["the master casts, both", "upper front teeth"]
    assert prescription["steps"] == [{"step": "shaping enamel", "teeth": [15, 45]}]

    page.evaluate(f"location.hash = '#/case/{case_id}/enter/followups'")
    page.get_by_role("button", name="Add a visit").press("Enter")
    cell(page, "followups.1.minutes").wait_for()
    typed("followups.1.minutes", "12")
    typed("followups.1.adjusted.+.tooth", "16", "40")
    typed("followups.1.held", "15 45")
    assert entered()["followups"] == [
        {"minutes": 12, "adjusted": [{"tooth": 16, "um": 40}], "held": [15, 45]}
    ]
