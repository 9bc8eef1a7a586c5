"""The page comes up: in the looks, languages and sizes asked for, and with no key it says how to get one."""

from __future__ import annotations

from browser.conftest import DESKTOP, TABLET


def test_the_list_of_cases_comes_up(visit, screens):
    page = visit("#/cases")
    assert page.locator("main h1").count() == 1
    screens(page, "cases")


def test_a_look_and_a_language_are_as_asked_for(visit):
    page = visit("#/cases", look="dark", language="de", size=TABLET)
    assert page.evaluate("document.documentElement.lang") == "de"
    assert page.evaluate("document.documentElement.dataset.look") == "dark"
    assert page.viewport_size != DESKTOP
