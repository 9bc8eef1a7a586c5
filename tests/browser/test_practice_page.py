"""All cases of the store together in a real browser: reached from the list, charts and tables as the server tells them."""

from __future__ import annotations

import pytest

from browser.conftest import TABLET


@pytest.fixture(scope="module")
def filled(bench):
    """Cases enough for limits, the last one off; a course of three people."""
    for i in range(24):
        water = 24.0 + 0.05 * ((i * 7) % 5) + (2.0 if i == 23 else 0.0)
        course = ('course = "spring"\nby = "' + "ABC"[i % 3] + '"\n') if i in (3, 4, 5) else ""
        text = (
            f'schema_version = 1\ncode = "K{i:02d}"\ndate = 2026-03-{1 + i:02d}\n{course}\n[bench]\npowder_g = 100\n'
            f"water_ml = {water:.2f}\n\n[bench.sheet]\nwater_ml_per_100g = 24\n"
        )
        bench.send("POST", "/api/cases/bring-in?name=case.toml", content=text.encode())
    return bench


@pytest.mark.parametrize(("look", "language"), [("light", "en"), ("dark", "de")])
def test_the_page_is_reached_from_the_list_and_shows_what_is_seen(
    visit, clean, screens, filled, look, language
):
    page = visit("#/cases", look=look, language=language, size=TABLET)
    page.locator("main a[href='#/practice']").press("Enter")
    page.locator(".pictures svg").first.wait_for()
    found = filled.send("GET", f"/api/practice?lang={language}")
    said = page.locator("main").inner_text()
    found = found["together"]
    assert all(one in said for one in found["sentences"])
    assert page.locator(".pictures section").count() == len(found["charts"]) == 1
    assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]
    screens(page, f"practice-{look}-{language}")
    clean(page)
