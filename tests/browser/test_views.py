"""Every view in every look, language and size: nothing that axe finds, nothing wider than the screen, a picture of each;
and a walk through each with the keyboard alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from browser.conftest import DESKTOP, TABLET
from browser.running import Bench, running_bench
from mountproof.case.store import Store
from mountproof.surfaces.demo_case import make_demo

SIZES = {"desktop": DESKTOP, "tablet": TABLET}
#: Every view, by the name of its picture; 1 is the demo case with its scans, 2 an empty one.
VIEWS = {
    "cases": "#/cases",
    "pours": "#/pours",
    "practice": "#/practice",
    "devices": "#/devices",
    "sheet": "#/case/1",
    "enter": "#/case/1/enter",
    "bench": "#/case/1/bench",
    "space": "#/case/1/space",
    "history": "#/case/1/history",
    "empty-sheet": "#/case/2",
    "empty-enter": "#/case/2/enter",
    "empty-space": "#/case/2/space",
    "nowhere": "#/no/such/view",
    "no-case": "#/case/999",
}
WINDOWS = ("who", "settings", "keys")
ASKED_AGAIN = r"status of 404"


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory, page_folder) -> Iterator[Bench]:
    """A bench with the demo case and an empty one, its answers all there."""
    folder = tmp_path_factory.mktemp("views")
    make_demo(folder / "demo", triangles=6_000)
    with Store(folder / "store") as store:
        store.import_folder(folder / "demo", "TS")
    with running_bench(folder / "store", page_folder, "--lan") as running:
        running.new_case("EMPTY-1")
        running.api.get("/api/cases/1/report.pdf")
        yield running


def arrive(page: Page, bench: Bench, address: str) -> None:
    """Go to a view as a link there would, and wait until it has come to rest."""
    page.evaluate("address => { location.hash = address; }", address)
    page.wait_for_function("() => document.querySelector('main h1') !== null")
    page.wait_for_timeout(250)
    page.wait_for_function("() => document.querySelector('main [aria-busy=true]') === null")


#: Every pair of look, language and size occurs.
PAIRS = [
    ("light", "en", "desktop"),
    ("light", "de", "tablet"),
    ("dark", "en", "tablet"),
    ("dark", "de", "desktop"),
]


@pytest.mark.parametrize(("look", "language", "size"), PAIRS)
def test_every_view(visit, stocked, clean, screens, look, language, size):
    page = visit(on=stocked, look=look, language=language, size=SIZES[size], expect=ASKED_AGAIN)
    wrong = []
    for name, address in VIEWS.items():
        arrive(page, stocked, address)
        screens(page, f"{name}-{size}-{look}-{language}")
        try:
            clean(page)
        except AssertionError as error:
            wrong.append(f"{name}: {error}")
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wide > 0:
            wrong.append(f"{name}: {wide} px wider than the screen")
        if page.evaluate("document.querySelectorAll('main h1').length") != 1:
            wrong.append(f"{name}: not one heading")
        if language not in page.evaluate("document.documentElement.lang"):
            wrong.append(f"{name}: not in {language}")
    assert not wrong, "\n\n".join(wrong)


NOT_WALKED = """() => {
    const shown = one => one.checkVisibility({ visibilityProperty: true, opacityProperty: false })
        && one.getClientRects().length > 0;
    const found = [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')]
        .filter(one => one.tabIndex >= 0 && !one.disabled && shown(one) && one.closest('[inert]') === null);
    // Of the buttons of one choice the tab key reaches only one.
    const radios = new Set();
    return found.filter(one => {
        if (one.type !== 'radio') return true;
        const group = `${one.form?.id} ${one.name}`;
        if (radios.has(group)) return false;
        radios.add(group);
        return true;
    }).filter(one => !window.walked?.has(one)).map(one => one.outerHTML.slice(0, 160));
}"""
FOCUSED = """() => {
    const one = document.activeElement;
    if (one === null || one === document.body) return null;
    window.walked ??= new Set();
    // A field for a day has several places of its own; the browser draws what is around them.
    const inner = window.last === one;
    const again = window.walked.has(one) && !inner;
    window.walked.add(one);
    window.last = one;
    const style = getComputedStyle(one);
    const box = one.getBoundingClientRect();
    const name = one.getAttribute('aria-label') ?? one.textContent?.trim() ?? '';
    const labels = [...(one.labels ?? [])].map(label => label.textContent).join(' ');
    const others = (one.getAttribute('aria-labelledby') ?? '').split(' ');
    const told = others.map(id => document.getElementById(id)?.textContent ?? '').join(' ');
    const ringed = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    return {
        again, ringed: inner || ringed || style.boxShadow !== 'none',
        named: [name, labels, told, one.title].join('').trim() !== '',
        seen: box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight
            && box.right > 0 && box.left < innerWidth,
        html: one.outerHTML.slice(0, 160),
    };
}"""


def walk(page: Page) -> list[str]:
    """Go through a view with the tab key, and return what is wrong on the way."""
    page.evaluate("() => { delete window.walked; delete window.last; }")
    page.locator(".skip").focus()
    wrong, walked = [], 0
    for _ in range(600):
        at = page.evaluate(FOCUSED)
        if at is None or at["again"]:
            break
        walked += 1
        wrong += [f"not {what}: {at['html']}" for what in ("ringed", "named", "seen") if not at[what]]
        page.keyboard.press("Tab")
    else:
        wrong.append("the walk has no end")
    if walked <= 5:
        wrong.append("it ends too soon")
    return wrong + [f"not reached: {one}" for one in page.evaluate(NOT_WALKED)]


def test_a_walk_with_the_tab_key(visit, stocked):
    """Everything that can be reached is, once, in sight, with a ring around it and a name; and there is a way out."""
    page = visit(on=stocked, expect=ASKED_AGAIN)
    wrong = []
    for name, address in VIEWS.items():
        arrive(page, stocked, address)
        wrong += [f"{name}: {one}" for one in walk(page)]
    assert not wrong, "\n".join(wrong)


def test_the_walk_is_awake(visit, stocked):
    """It sees what cannot be reached, has no ring, no name, or is out of sight."""
    page = visit("#/cases", on=stocked)
    page.evaluate(
        """() => {
            const main = document.querySelector('main');
            const made = (style, text) => {
                const one = document.createElement('button');
                one.textContent = text;
                Object.assign(one.style, style);
                main.append(one);
                return one;
            };
            made({ outline: 'none', boxShadow: 'none' }, 'no ring');
            made({}, '');
            made({ position: 'fixed', left: '-500px' }, 'out of sight');
            made({}, 'trap').addEventListener('focus', event => event.target.blur());
        }"""
    )
    said = "\n".join(walk(page))
    for what in ("not ringed", "not named", "not seen", "not reached"):
        assert what in said, said


def test_the_first_step_leads_past_the_head(visit, stocked):
    page = visit("#/cases", on=stocked)
    page.evaluate("() => document.activeElement?.blur()")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.closest('main') !== null")


@pytest.mark.parametrize("look", ["light", "dark"])
def test_windows(visit, stocked, clean, screens, look):
    """Each window holds the focus, closes on Escape, and gives the focus back."""
    page = visit("#/cases", on=stocked, look=look)
    buttons = page.locator("header button, footer button")
    opened = 0
    for at in range(buttons.count()):
        button = buttons.nth(at)
        if button.get_attribute("lang") is not None:
            continue
        button.focus()
        page.keyboard.press("Enter")
        page.wait_for_timeout(100)
        window = page.locator("dialog[open]")
        if window.count() == 0:
            continue
        opened += 1
        clean(page)
        screens(page, f"window-{opened}-{look}", whole=False)
        for _ in range(12):
            page.keyboard.press("Tab")
            assert page.evaluate(
                "document.activeElement === document.body || document.activeElement.closest('dialog') !== null"
            )
        page.keyboard.press("Escape")
        expect(window).to_have_count(0)
        expect(button).to_be_focused()
    assert opened >= len(WINDOWS)
