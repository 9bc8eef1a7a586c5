"""The sheet, the list of cases, history and conflicts: as a person sees them, by keyboard too, in a real browser."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import TABLET
from browser.running import Bench

CASE = Path(__file__).parents[1] / "case" / "bench_case.toml"
NOTE = "note"


@pytest.fixture
def case_id(bench: Bench) -> int:
    """A case of readings without scans: every answer is there at once."""
    text = CASE.read_bytes()
    return int(bench.send("POST", "/api/cases/bring-in?name=case.toml", content=text)["case"]["id"])


def answers(bench: Bench, case_id: int, language: str) -> list[dict[str, str]]:
    return bench.send("GET", f"/api/cases/{case_id}/sheet?lang={language}")["answers"]


def open_all(page: Page) -> None:
    page.wait_for_selector(".question")
    page.locator(".sheet-head .button").click()


def fits(page: Page) -> None:
    """Nobody should have to push the page sideways."""
    too_wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert too_wide <= 0, f"{page.url} is wider than the screen by {too_wide}"


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_sheet_says_what_the_server_answers(visit, bench, case_id, language):
    page = visit(f"#/case/{case_id}", language=language)
    expect(page.locator(".question")).to_have_count(8)
    for answer, line in zip(answers(bench, case_id, language), page.locator(".question").all(), strict=True):
        expect(line.locator(".question-headline")).to_have_text(answer["headline"])
        expect(line.locator(".question-asked")).to_have_text(answer["question"])
        if answer["state"] == "ready":
            mark = line.locator(".verdict")
            expect(mark).to_contain_text(answer["verdict_word"])
            expect(mark).to_contain_text(answer["mark"])


def test_an_open_question_shows_everything_behind_it(visit, bench, case_id, screens):
    page = visit(f"#/case/{case_id}")
    open_all(page)
    for answer in answers(bench, case_id, "en"):
        line = page.locator(f"#question-{answer['key']}")
        for one in answer["quantities"]:
            row = line.locator("tr", has=page.get_by_role("rowheader", name=one["label"])).first
            expect(row).to_contain_text(one["shown"])
            expect(row).to_contain_text(one["interval"])
            assert row.locator(".assumed").count() == int(one["assumed"])
        for one in answer["assumptions"]:
            item = line.locator(".assumptions li", has_text=one["what"]).first
            expect(item).to_contain_text(one["value"])
            expect(item.locator(".assumed")).to_be_visible()
        for text in [*answer["notes"], *answer["cautions"], *answer["sources"]]:
            expect(line.get_by_text(text, exact=True).first).to_be_visible()
    screens(page, "sheet-open")


def test_what_to_measure_next_stays_in_sight_and_leads_to_its_entry(visit, bench, case_id):
    page = visit(f"#/case/{case_id}")
    wanted = bench.send("GET", f"/api/cases/{case_id}/sheet")["next"]
    assert wanted
    links = page.locator(".next-list a")
    expect(links).to_have_text([need["reading"] for need in wanted])
    open_all(page)
    page.evaluate("scrollTo(0, document.body.scrollHeight / 2)")
    expect(links.first).to_be_in_viewport()
    links.first.click()
    expect(page).to_have_url(re.compile(rf"#/case/{case_id}/(enter|bench|space)"))


@pytest.mark.parametrize(
    ("look", "language", "size"),
    [("light", "en", None), ("dark", "de", TABLET)],
    ids=["desk", "dark-tablet"],
)
def test_every_view_is_clean(visit, case_id, clean, screens, look, size, language):
    more = {} if size is None else {"size": size}
    page = visit("#/cases", look=look, language=language, **more)
    page.wait_for_selector(".cases-table")
    clean(page)
    name = f"{look}-{language}-{'desk' if size is None else 'tablet'}"
    screens(page, f"cases-{name}")
    for part in ("", "/history", "/history/compare", "/history/conflict"):
        page.goto(re.sub("#.*", "", page.url) + f"#/case/{case_id}{part}")
        page.wait_for_selector(".question, .revision, .compare-choice, h2")
        page.wait_for_timeout(200)
        clean(page)
        screens(page, f"{part.strip('/').replace('/', '-') or 'sheet'}-{name}")
        fits(page)
    page.goto(re.sub("#.*", "", page.url) + f"#/case/{case_id}")
    open_all(page)
    clean(page)
    fits(page)
    screens(page, f"open-{name}")
    for window in ("who", "settings", "keys"):
        place = {"who": ".head-end .button >> nth=-2", "settings": ".head-end .button >> nth=-1"}
        page.locator(place.get(window, ".foot .button")).click()
        expect(page.locator("dialog")).to_be_visible()
        clean(page)
        page.keyboard.press("Escape")
        expect(page.locator("dialog")).to_have_count(0)


def tab_to(page: Page, selector: str, most: int = 60) -> None:
    """Press Tab until the focus is where it should be: nobody without a mouse could get there otherwise."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement?.matches(s) ?? false", selector):
            return
    raise AssertionError(f"{selector} is not reached by the keyboard")


def test_a_case_is_begun_answered_and_accepted_by_keyboard_alone(visit, bench):
    page = visit("#/cases")
    tab_to(page, ".new-case input[type=text]")
    page.keyboard.type("KEYS-1")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"#/case/\d+/enter"))
    found = re.search(r"/case/(\d+)", page.url)
    assert found is not None
    expect(page.locator("main h1")).to_be_focused()
    page.keyboard.press("s")
    expect(page).to_have_url(re.compile(rf"#/case/{found[1]}$"))
    tab_to(page, "#question-pin .fold-button")
    page.keyboard.press("Enter")
    tab_to(page, "#question-pin .accept button")
    page.keyboard.press("Enter")
    expect(page.locator("#question-pin .question-end")).to_contain_text("TS")
    sheet = bench.send("GET", f"/api/cases/{found[1]}/sheet")
    assert sheet["answers"][0]["accepted"]["who"] == "TS"


def test_the_skip_link_leads_past_the_head(visit):
    page = visit("#/cases")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    assert page.url.endswith("#/cases")


def test_what_was_accepted_is_out_of_date_once_it_reads_something_else(visit, bench, case_id):
    page = visit(f"#/case/{case_id}")
    page.locator("#question-pin .fold-button").click()
    page.locator("#question-pin .accept button").click()
    expect(page.locator("#question-pin .notice-note")).to_contain_text("TS")
    bench.edit(case_id, {"instrument.pin.ahead_mm": "101"})
    # The page hears of it by itself.
    expect(page.locator("#question-pin .out-of-date")).to_be_visible()
    page.locator("#question-pin .accept button").last.click()
    expect(page.locator("#question-pin .accept .notice")).to_have_count(0)
    assert answers(bench, case_id, "en")[0]["accepted"] is None


def test_history_shows_a_change_compares_and_takes_it_back(visit, bench, case_id, screens):
    before = answers(bench, case_id, "en")[0]["headline"]
    bench.edit(case_id, {"instrument.pin.ahead_mm": "88"})
    after = answers(bench, case_id, "en")[0]["headline"]
    assert before != after
    page = visit(f"#/case/{case_id}/history")
    newest = page.locator(".revision").first
    expect(newest).to_contain_text("instrument.pin.ahead_mm")
    expect(newest).to_contain_text("88")
    newest.locator("a.button").click()
    expect(page.locator(".compare")).to_contain_text(before)
    expect(page.locator(".compare")).to_contain_text(after)
    screens(page, "compare")
    page.go_back()
    page.locator(".revision").first.locator("button.button").click()
    expect(page.locator(".revision")).to_have_count(3)
    assert answers(bench, case_id, "en")[0]["headline"] == before


def seeded(page: Page, case_id: int, base: int, value: str) -> None:
    """Leave an entry in the browser as a tab would have left it that was closed while the server was down."""
    batch = {
        "key": "k1", "caseId": case_id, "base": base, "edits": [{"field": NOTE, "value": value}],
        "what": "entered", "who": "AB", "at": "2026-01-01T00:00:00Z", "state": "waiting",
    }  # fmt: skip
    page.evaluate("text => localStorage.setItem('mountproof.outbox.gone', text)", json.dumps([batch]))


def test_an_entry_left_in_the_browser_is_sent_when_the_server_is_there(visit, bench, case_id):
    page = visit("#/cases")
    seeded(page, case_id, 1, "typed while nothing answered")
    page.reload()
    expect.set_options(timeout=10_000)
    page.wait_for_function("localStorage.getItem('mountproof.outbox.gone') === null")
    page.goto(re.sub("#.*", "", page.url) + f"#/case/{case_id}/history")
    expect(page.locator(".revision").first).to_contain_text("typed while nothing answered")
    assert bench.send("GET", f"/api/cases/{case_id}")["entered"][NOTE] == "typed while nothing answered"


def test_what_is_typed_while_the_line_is_down_is_shown_as_not_saved_and_saved_later(visit, bench, case_id):
    page = visit(f"#/case/{case_id}/enter", expect="ERR_INTERNET_DISCONNECTED")
    note = page.get_by_label(re.compile("^note$", re.IGNORECASE))
    expect(note).to_have_value("No symptoms; wear of upper front teeth.")
    page.context.set_offline(True)
    note.fill("typed at the bench")
    page.keyboard.press("Tab")
    expect(page.locator(".unsaved")).to_contain_text("1")
    assert bench.send("GET", f"/api/cases/{case_id}")["entered"][NOTE] != "typed at the bench"
    page.locator(".unsaved .button").click()
    expect(page.locator("dialog")).to_contain_text("typed at the bench")
    page.keyboard.press("Escape")
    page.context.set_offline(False)
    expect(page.locator(".unsaved")).to_have_count(0, timeout=20_000)
    assert bench.send("GET", f"/api/cases/{case_id}")["entered"][NOTE] == "typed at the bench"


@pytest.mark.parametrize(("choice", "stands"), [("mine", "the value here"), ("theirs", "the value there")])
def test_two_values_stand_side_by_side_until_somebody_chooses(
    visit, bench, case_id, clean, screens, choice, stands
):
    bench.edit(case_id, {NOTE: "the value there"})
    page = visit("#/cases", expect="409")
    seeded(page, case_id, 1, "the value here")
    page.reload()
    page.wait_for_selector(".unsaved .button")
    page.goto(re.sub("#.*", "", page.url) + f"#/case/{case_id}/history/conflict")
    box = page.locator(".conflict")
    expect(box).to_contain_text("the value here")
    expect(box).to_contain_text("the value there")
    save = page.locator("main .button-main")
    expect(save).to_have_attribute("aria-disabled", "true")
    save.click(force=True)
    assert bench.send("GET", f"/api/cases/{case_id}")["entered"][NOTE] == "the value there"
    clean(page)
    screens(page, "conflict")
    box.locator("input").nth(0 if choice == "mine" else 1).check()
    save.click()
    expect(page.locator(".conflict")).to_have_count(0)
    expect(page.locator(".unsaved")).to_have_count(0)
    assert bench.send("GET", f"/api/cases/{case_id}")["entered"][NOTE] == stands


def test_a_case_is_found_by_words_state_and_order(visit, bench):
    for code in ("FIND-B", "FIND-A", "OTHER-C"):
        bench.new_case(code)
    page = visit("#/cases")
    page.keyboard.press("/")
    page.keyboard.type("find")
    links = page.locator(".case-link")
    expect(links).to_have_text(["FIND-A", "FIND-B"])
    page.locator(".cases-search select").nth(1).select_option("code")
    page.locator(".cases-search input").fill("")
    page.locator(".cases-search input").fill("FIND-B")
    expect(links).to_have_text(["FIND-B"])
    links.first.click()
    page.locator(".sheet-head select").select_option("done")
    page.keyboard.press("c")
    page.locator(".cases-search input").fill("find")
    page.locator(".cases-search select").nth(0).select_option("done")
    expect(links).to_have_text(["FIND-B"])


def test_the_list_goes_on_page_by_page(visit, bench):
    made = [bench.new_case(f"MANY-{at:03}") for at in range(55)]
    page = visit("#/cases")
    page.locator(".cases-search input").fill("many")
    expect(page.locator(".case-link")).to_have_count(50)
    page.locator("main [role=status] .button").click()
    expect(page.locator(".case-link")).to_have_count(len(made))


def test_a_bundle_is_brought_in_by_choosing_and_by_dropping(visit, bench, case_id, tmp_path):
    bundle = tmp_path / "bundle.zip"
    bundle.write_bytes(bench.api.get(f"/api/cases/{case_id}/bundle.zip").content)
    page = visit("#/cases", expect="422")
    page.set_input_files(".bring-in input", str(bundle))
    expect(page).to_have_url(re.compile(rf"#/case/{case_id}$"))
    page.go_back()
    page.wait_for_selector(".bring-in")
    page.evaluate(
        """text => {
            const carried = new DataTransfer();
            carried.items.add(new File([text], 'case.toml'));
            const event = new DragEvent('drop', { dataTransfer: carried, bubbles: true, cancelable: true });
            document.querySelector('.bring-in').dispatchEvent(event);
        }""",
        "this is no case [",
    )
    expect(page.locator(".new-case [role=alert]")).to_be_visible()


def test_files_of_a_case_are_handed_over(visit, case_id):
    page = visit(f"#/case/{case_id}", expect="422")
    for at, ending in enumerate((*[".pdf"] * 5, ".zip", ".toml", ".zip")):
        with page.expect_download() as told:
            page.locator(".exports .button").nth(at).click()
        assert told.value.suggested_filename.endswith(ending)
        assert Path(told.value.path()).stat().st_size > 100
    # Without scans there are no contacts to hand over: said, not a broken file.
    page.locator(".exports .button").nth(8).click()
    expect(page.locator(".exports [role=alert]")).to_be_visible()


def test_on_paper_everything_is_open(visit, case_id):
    page = visit(f"#/case/{case_id}")
    page.wait_for_selector(".question")
    expect(page.locator("#question-pin .quantities")).to_be_hidden()
    page.emulate_media(media="print")
    expect(page.locator("#question-pin .quantities")).to_be_visible()
    expect(page.locator(".head")).to_be_hidden()
    expect(page.locator(".exports")).to_be_hidden()


def test_work_on_scans_shows_how_far_it_is_and_is_stopped_and_begun_again(visit, bench, screens):
    page = visit("#/cases")
    page.locator(".new-case-code .button").nth(1).click()
    page.wait_for_selector(".sheet progress", timeout=60_000)
    screens(page, "working")
    expect(page.locator("#question-pin .verdict")).to_contain_text("agrees")
    page.locator(".progress .button").click()
    expect(page.locator(".question", has_text="stopped").first).to_be_visible(timeout=30_000)
    page.locator(".sheet-main > .notice-ask .button").first.click()
    expect(page.locator(".question", has_text="being worked out").first).to_be_visible()
    found = re.search(r"/case/(\d+)", page.url)
    assert found is not None
    page.locator(".progress .button").click()
    expect(page.locator(".question", has_text="stopped").first).to_be_visible(timeout=30_000)


def test_the_demo_is_stopped_while_it_is_made(visit, bench):
    page = visit("#/cases", expect="422")
    before = len(bench.send("GET", "/api/cases?most=200")["cases"])
    hold = bench.store.parent / "hold"
    hold.touch()
    try:
        page.locator(".new-case-code .button").nth(1).click()
        page.locator(".new-case .progress .button").click()
    finally:
        hold.unlink()
    expect(page.locator(".new-case .progress")).to_have_count(0, timeout=30_000)
    assert page.url.endswith("#/cases")
    assert page.locator(".new-case [role=alert]").count() == 0
    assert len(bench.send("GET", "/api/cases?most=200")["cases"]) == before


def test_the_language_changes_without_losing_the_place(visit, case_id):
    page = visit(f"#/case/{case_id}")
    page.locator("#question-pin .fold-button").click()
    page.get_by_role("button", name="DE Deutsch").click()
    expect(page.locator("main h1")).to_have_text("Die acht Antworten")
    expect(page.locator("#question-pin .fold-button")).to_have_attribute("aria-expanded", "true")
    assert page.evaluate("document.documentElement.lang") == "de"
    page.reload()
    expect(page.locator("main h1")).to_have_text("Die acht Antworten")
