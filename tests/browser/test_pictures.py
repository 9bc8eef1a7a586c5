"""Pictures behind questions 3 and 4 in a real browser: those of a real case, and all kinds of them from invented evidence."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from browser.conftest import DESKTOP, TABLET
from browser.running import Bench
from mountproof.answers.result import Answer, Verdict
from mountproof.surfaces.pictures.gallery import gallery
from mountproof.surfaces.web.shapes.pictures import drawing_out
from mountproof.surfaces.web.tongue import speaker
from surfaces.make_pictures import make_mounting, make_record

CASE = Path(__file__).parents[1] / "case" / "bench_case.toml"
#: Type on a picture that is smaller than this, in pixels of the screen, nobody reads at the bench.
SMALLEST_PX = 9.5


@pytest.fixture
def case_id(bench: Bench) -> int:
    """A case of readings with several records."""
    text = CASE.read_bytes()
    return int(bench.send("POST", "/api/cases/bring-in?name=case.toml", content=text)["case"]["id"])


def giving(body: str) -> Callable[[Route], None]:
    return lambda route: route.fulfill(body=body, content_type="application/json")


def invented(page: Page, language: str) -> dict[str, list[str]]:
    """Let the page get the pictures of invented evidence; return the titles it is to show."""
    titles = {}
    for question, evidence in (("record", make_record()), ("mounting", make_mounting())):
        answer = Answer(question, "q", "h", Verdict.AGREES, evidence=evidence)
        drawings = [drawing_out(one) for one in gallery(answer, speaker(language))]
        body = json.dumps({"question": question, "drawings": [one.model_dump() for one in drawings]})

        page.route(f"**/pictures/{question}", giving(body))
        titles[question] = [one.title for one in drawings]
    return titles


def open_question(page: Page, key: str) -> None:
    page.locator(f"#question-{key} .fold-button").click()


def smallest_type(page: Page) -> float:
    return float(
        page.evaluate(
            "Math.min(...[...document.querySelectorAll('.picture text')].map(text => {"
            " const svg = text.ownerSVGElement;"
            " return parseFloat(text.getAttribute('font-size')) * svg.getScreenCTM().a; }))"
        )
    )


@pytest.mark.parametrize(
    ("look", "language", "size"), [("light", "en", DESKTOP), ("dark", "de", TABLET)], ids=["light", "dark"]
)
def test_pictures_are_seen_read_and_told(visit, case_id, clean, screens, look, language, size):
    page = visit(f"#/case/{case_id}", look=look, language=language, size=size)
    titles = invented(page, language)
    for question, wanted in titles.items():
        open_question(page, question)
        shown = page.locator(f"#question-{question} .picture")
        expect(shown).to_have_count(len(wanted))
        expect(shown.locator("figcaption")).to_have_text(wanted)
        for one, title in zip(shown.all(), wanted, strict=True):
            expect(one.get_by_role("img", name=title)).to_be_visible()
    assert smallest_type(page) >= SMALLEST_PX
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    first = page.locator("#question-record .picture-table").first
    first.locator("summary").click()
    expect(first.get_by_role("table")).to_be_visible()
    clean(page)
    screens(page, f"pictures-{look}")


def test_a_case_shows_its_own_records_and_its_message_can_be_copied(visit, bench, case_id, screens):
    page = visit(f"#/case/{case_id}")
    drawn = bench.send("GET", f"/api/cases/{case_id}/pictures/record?lang=en")["drawings"]
    assert drawn, "four records are compared"
    open_question(page, "record")
    expect(page.locator("#question-record .picture figcaption")).to_have_text([one["title"] for one in drawn])
    open_question(page, "mounting")
    message = bench.send("GET", f"/api/cases/{case_id}/message?lang=en&to=dentist")
    place = page.locator("#question-mounting .message")
    place.get_by_role("combobox").select_option("dentist")
    expect(place.locator(".message-text")).to_contain_text(message["subject"])
    expect(place.locator(".message-text")).to_contain_text("Dear colleague")
    screens(page, "pictures-of-the-case")
    page.emulate_media(media="print")
    screens(page, "pictures-printed")
