"""A tablet is let in, works, and is taken out: at the desk and on the tablet, in real browsers."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from browser.conftest import TABLET
from browser.running import Bench, running_bench


@pytest.fixture(scope="module")
def lan(tmp_path_factory, page_folder) -> Iterator[Bench]:
    """A server that tablets reach."""
    with running_bench(tmp_path_factory.mktemp("lan") / "store", page_folder, "--lan") as running:
        yield running


def network(bench: Bench) -> str:
    return bench.address.replace("127.0.0.1", "127.0.0.2")


@pytest.fixture
def tablet(context_of):
    """Open a page on a tablet that nobody let in."""

    def open_page(address: str, **how):
        page = context_of(size=TABLET, has_touch=True, **how).new_page()
        page.goto(address)
        page.wait_for_selector("main h1")
        return page

    return open_page


@pytest.mark.parametrize("language", ["en", "de"])
def test_pairing_by_the_picture(visit, tablet, lan, clean, screens, language):
    desk = visit("#/devices", on=lan, language=language)
    desk.get_by_role("button", name=re.compile("Make a code|Code erzeugen")).click()
    code = desk.locator(".pairing-code").inner_text()
    assert re.fullmatch(r"[2-9A-Z]{4}-[2-9A-Z]{4}", code)
    expect(desk.locator(".pairing-address")).to_have_text(network(lan))
    assert desk.locator(".pairing-picture").evaluate("one => one.complete && one.naturalWidth > 20")
    expect(desk.get_by_role("timer")).to_contain_text(re.compile("[45]:[0-5][0-9]"))
    clean(desk)
    screens(desk, f"desk-code-{language}")

    other = tablet(f"{network(lan)}/#/devices/pair/{code}", language=language)
    expect(other.get_by_label("Code")).to_have_value(code)
    clean(other)
    screens(other, f"tablet-pair-{language}")
    other.get_by_label("Name").fill(f"Tablet {language}")
    other.get_by_role("button", name=re.compile("Pair this device|Dieses Gerät koppeln")).click()
    expect(other.locator("main h1")).to_have_text(re.compile("Cases|Fälle"))
    assert "pair" not in other.url

    expect(desk.locator(".pairing")).to_have_count(0)
    row = desk.get_by_role("row", name=re.compile(f"Tablet {language}"))
    expect(row).to_be_visible()
    clean(desk)
    screens(desk, f"desk-list-{language}")

    other.goto(f"{network(lan)}/#/devices")
    expect(other.locator("main")).to_contain_text(f"Tablet {language}")
    clean(other)
    screens(other, f"tablet-own-{language}")

    row.get_by_role("button").click()
    expect(desk.get_by_role("dialog")).to_be_visible()
    clean(desk)
    desk.get_by_role("dialog").get_by_role("button", name=re.compile("^(Take out|Hinausnehmen)$")).click()
    expect(row).to_have_count(0)
    # At once, and without anybody touching the tablet: its stream ends, and it says that it is out.
    expect(other.locator("main h1")).to_have_text(
        re.compile("not been let in|nicht zugelassen"), timeout=10_000
    )
    clean(other)
    screens(other, f"tablet-out-{language}")


def test_a_wrong_code_is_told_and_what_was_typed_stays(visit, tablet, lan):
    desk = visit("#/devices", on=lan)
    desk.get_by_role("button", name="Make a code").click()
    right = desk.locator(".pairing-code").inner_text()
    other = tablet(network(lan))
    button = other.get_by_role("button", name="Pair this device")
    expect(button).to_have_attribute("aria-disabled", "true")
    other.get_by_label("Code").fill("AAAA-AAAA" if right != "AAAA-AAAA" else "BBBB-BBBB")
    other.get_by_label("Name").fill("at the sink")
    button.click()
    expect(other.get_by_role("alert")).to_contain_text("this code does not open")
    expect(other.get_by_label("Name")).to_have_value("at the sink")
    other.get_by_label("Code").fill(right.lower().replace("-", " "))
    other.keyboard.press("Enter")
    expect(other.locator("main h1")).to_have_text("Cases")
    other.goto(f"{network(lan)}/#/devices")
    other.get_by_role("button", name="Take this device out").click()
    other.get_by_role("dialog").get_by_role("button", name="Take this device out").click()
    expect(other.locator("main h1")).to_have_text(re.compile("not been let in"))
    expect(desk.locator("main")).not_to_contain_text("at the sink")


def test_a_code_is_closed_and_grows_old(visit, lan):
    page = visit("#/devices", on=lan)
    page.clock.install()
    page.get_by_role("button", name="Make a code").click()
    expect(page.get_by_role("timer")).to_be_visible()
    # By key: with a clock of the test's own, frames come too seldom for a pointer to find the button at rest.
    page.get_by_role("button", name="Close the code").press("Enter")
    expect(page.get_by_role("timer")).to_have_count(0)
    page.get_by_role("button", name="Make a code").click()
    expect(page.get_by_role("timer")).to_be_visible()
    # As after a computer that slept: the moment counts, not how often the page looked.
    page.clock.fast_forward(299_000)
    page.clock.run_for(2_000)
    expect(page.get_by_role("timer")).to_have_count(0)
    expect(page.locator("main")).to_contain_text("The code is over")


def test_without_a_network_the_page_says_how_to_open_it(visit, clean, screens):
    page = visit("#/devices", language="en")
    expect(page.locator("main")).to_contain_text("mountproof open --lan")
    expect(page.get_by_role("button", name="Make a code")).to_have_count(0)
    clean(page)
    screens(page, "alone")


def test_a_browser_at_the_desk_without_the_key_is_told_the_way_in(context_of, bench, clean, screens):
    page = context_of().new_page()
    page.goto(f"{bench.address}/#/cases")
    expect(page.locator("main h1")).to_have_text(re.compile("not been let in"))
    expect(page.locator("main")).to_contain_text("key=")
    expect(page.get_by_label("Code")).to_have_count(0)
    clean(page)
    screens(page, "desk-without-key")


def test_another_page_cannot_read_the_bench(context_of, bench, tmp_path):
    """With its cookie in the same browser: neither from another port of this host, nor in a frame, nor by a script."""
    context = context_of()
    page = context.new_page()
    page.goto(bench.opening)
    page.wait_for_selector("main h1")
    evil = context.new_page()
    evil.route(
        "http://127.0.0.1:1/*", lambda route: route.fulfill(body="<h1>evil</h1>", content_type="text/html")
    )
    evil.goto("http://127.0.0.1:1/")
    read = """async address => {
        try { const got = await fetch(address + '/api/cases', { credentials: 'include' }); return await got.text(); }
        catch (error) { return 'blocked'; }
    }"""
    assert evil.evaluate(read, bench.address) == "blocked"
    made = """async address => {
        await fetch(address + '/api/cases', { method: 'POST', mode: 'no-cors', credentials: 'include',
            headers: { 'Content-Type': 'text/plain' }, body: '{"code": "EVIL"}' }).catch(() => null);
    }"""
    before = bench.send("GET", "/api/cases")
    evil.evaluate(made, bench.address)
    assert bench.send("GET", "/api/cases") == before
    frame = """address => new Promise(done => { const frame = document.createElement('iframe'); frame.src = address;
        frame.onload = () => { try { done(frame.contentDocument === null ? 'closed' : frame.contentDocument.body.innerText); }
            catch (error) { done('closed'); } }; document.body.append(frame); })"""
    assert "Mountproof" not in evil.evaluate(frame, bench.address)
    script = """address => new Promise(done => { const one = document.createElement('script'); one.src = address + '/api/cases';
        one.onload = () => done('ran'); one.onerror = () => done('blocked'); document.head.append(one); })"""
    assert evil.evaluate(script, bench.address) == "blocked"
    assert page.evaluate("document.cookie") == ""
