"""What the page tests stand on: a page built from the sources, a real server, a real browser.

Fixtures
  bench        a server with an empty store, one for each module (``running.Bench``)
  visit        ``visit("#/cases", look="dark", language="de", size=TABLET)`` opens the page, let in; what goes wrong in
               the page (errors, refused content) fails the test
  screens      ``screens(page, "name")`` keeps a picture in out/screens
  clean        ``clean(page)`` fails with every fault that axe finds
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    ViewportSize,
    expect,
    sync_playwright,
)

from browser.running import ROOT, Bench, built_page, running_bench

# A slow machine answers late while it closes surfaces.
expect.set_options(timeout=20_000)

#: A desk, and a tablet held upright.
DESKTOP: ViewportSize = {"width": 1280, "height": 900}
TABLET: ViewportSize = {"width": 800, "height": 1100}
_FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
]
_AXE = ROOT / "web" / "node_modules" / "axe-core" / "axe.min.js"
#: What axe is asked for: WCAG 2.2 A and AA, and what it calls good practice.
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
#: Said by Chromium without a graphics card, and no fault of the page.
_OF_THE_BROWSER = re.compile(
    r"GPU stall|GL Driver Message|Automatic fallback to software WebGL|swiftshader", re.I
)


def chromium_path() -> str:
    """Return the browser of this system, or fail with what to do."""
    for name in (os.environ.get("MOUNTPROOF_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name) if name else None
        if found is not None:
            return found
    pytest.fail("no Chromium here: apt-get install chromium, or name one in MOUNTPROOF_CHROMIUM")


@pytest.fixture(scope="session")
def page_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page, built from the sources as they stand."""
    return built_page(tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory, page_folder: Path) -> Iterator[Bench]:
    """A server with an empty store."""
    with running_bench(tmp_path_factory.mktemp("bench") / "store", page_folder) as running:
        yield running


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A browser without a window. One for each module: while it runs, no other loop can run in this thread."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium_path(), args=_FLAGS, chromium_sandbox=False
        )
        yield browser
        browser.close()


@pytest.fixture
def context_of(chromium: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Make a browser profile of its own: ``context_of(look="dark", language="de", size=TABLET, who="AB")``."""
    contexts: list[BrowserContext] = []

    def make(
        look: str = "light", language: str = "en", size: ViewportSize = DESKTOP, who: str = "TS", **more: Any
    ) -> BrowserContext:
        context = chromium.new_context(
            viewport=size, locale="de-DE" if language == "de" else "en-GB", timezone_id="UTC", **more
        )
        chosen = {"look": look, "language": language, "who": who}
        # Only what is not chosen yet: a test may choose otherwise, and load the page again.
        context.add_init_script(
            f"for (const [name, value] of Object.entries({json.dumps(chosen)}))"
            " { const key = `mountproof.${name}`;"
            " if (localStorage.getItem(key) === null) localStorage.setItem(key, value); }"
        )
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()


@pytest.fixture
def visit(bench: Bench, context_of: Callable[..., BrowserContext]) -> Iterator[Callable[..., Page]]:
    """Open the page at an address, let in like a person who opened the program. See the module's first lines."""
    wrong: list[str] = []
    allowed: list[re.Pattern[str]] = [_OF_THE_BROWSER]

    def heard(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            wrong.append(f"{message.type}: {message.text}")

    def open_page(
        address: str = "", *, on: Bench | None = None, expect: str | None = None, **how: Any
    ) -> Page:
        """``expect`` is a pattern of what the browser's console may say in this test."""
        if expect is not None:
            allowed.append(re.compile(expect))
        server = bench if on is None else on
        page = context_of(**how).new_page()
        page.on("console", heard)
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        page.goto(server.opening)
        page.goto(f"{server.address}/{address}")
        page.wait_for_selector("main h1")
        return page

    yield open_page
    said = [one for one in wrong if not any(pattern.search(one) for pattern in allowed)]
    assert not said, "the browser complained:\n" + "\n".join(said)


@pytest.fixture
def screens(request: pytest.FixtureRequest) -> Callable[..., Path]:
    """Keep a picture of the whole page: ``out/screens/<module>/<name>.png``."""
    folder = ROOT / "out" / "screens" / Path(str(request.node.path)).stem.removeprefix("test_")
    folder.mkdir(parents=True, exist_ok=True)

    def keep(page: Page, name: str, *, whole: bool = True) -> Path:
        path = folder / f"{re.sub(r'[^A-Za-z0-9_.-]+', '-', name)}.png"
        page.screenshot(path=path, full_page=whole, animations="disabled")
        return path

    return keep


@pytest.fixture
def clean() -> Callable[[Page], None]:
    """Fail with every fault that axe finds in the page as it stands."""

    def check(page: Page) -> None:
        # Evaluated from outside, so the page's content policy holds as it is.
        page.evaluate(_AXE.read_text(encoding="utf-8"))
        found = page.evaluate("tags => axe.run(document, { runOnly: { type: 'tag', values: tags } })", _RULES)
        assert found["passes"], "axe looked at nothing"
        said = [
            f"{one['id']} ({one['impact']}): {one['help']}\n  "
            + "\n  ".join(f"{node['html'][:200]}\n    {node['failureSummary']}" for node in one["nodes"][:5])
            for one in found["violations"]
        ]
        assert not said, f"{page.url}:\n" + "\n".join(said)

    return check
