"""A browser for the session, and pages that must stay quiet: no error, no request, no dialogue."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

from optimise.report.content import Content
from optimise.report.page import render_page
from tests.report.example import (
    dear_content,
    empty_study,
    hostile_study,
    kept_content,
    made_up,
    single_study,
    starter_content,
)

CHROMIUM = "/usr/bin/chromium"
"""Debian's browser. Where it is missing these tests fail; they are never skipped."""
PLAIN = ["--no-sandbox", "--disable-3d-apis"]
SOLID = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
Screen = dict[str, int]
DESK: Screen = {"width": 1280, "height": 900}
PHONE: Screen = {"width": 390, "height": 844}
READY = "html[data-ready]"


@pytest.fixture(scope="session")
def driver() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def plain_browser(driver: Playwright) -> Iterator[Browser]:
    """Without WebGL."""
    browser = driver.chromium.launch(executable_path=CHROMIUM, args=PLAIN)
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def solid_browser(driver: Playwright) -> Iterator[Browser]:
    """With WebGL, drawn by software."""
    browser = driver.chromium.launch(executable_path=CHROMIUM, args=SOLID)
    yield browser
    browser.close()


CONTENTS: dict[str, Callable[[], Content]] = {
    "starter": starter_content,
    "hostile": lambda: kept_content(hostile_study),
    "empty": lambda: kept_content(empty_study),
    "single": lambda: kept_content(single_study),
    "dear": dear_content,
    "large": lambda: made_up(5000),
}


@dataclass
class Shelf:
    """Contents by name, and the page of each as a file on the disk."""

    folder: Path
    contents: dict[str, Content] = field(default_factory=dict)

    def content(self, name: str) -> Content:
        if name not in self.contents:
            self.contents[name] = CONTENTS[name]()
        return self.contents[name]

    def page(self, name: str) -> Path:
        path = self.folder / f"{name}.html"
        if not path.exists():
            path.write_text(render_page(self.content(name)), encoding="utf-8")
        return path


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    return Shelf(tmp_path_factory.mktemp("pages"))


class Opener:
    """Opens pages from the disk and notes whatever a quiet page would not do."""

    def __init__(self, browser: Browser, shelf: Shelf) -> None:
        self.browser = browser
        self.shelf = shelf
        self.contexts: list[BrowserContext] = []
        self.noise: list[str] = []

    def __call__(
        self,
        name: str = "starter",
        *,
        wait_for: str = READY,
        before: str = "",
        path: Path | None = None,
        fragment: str = "",
        **options: Any,
    ) -> Page:
        context = self.browser.new_context(**{"viewport": DESK, **options})
        self.contexts.append(context)
        page = context.new_page()
        target = (path or self.shelf.page(name)).as_uri()

        def requested(url: str) -> None:
            if url.partition("#")[0] != target and not url.startswith("blob:null"):
                self.noise.append(f"request {url[:200]}")

        def said(kind: str, text: str) -> None:
            if kind == "error":
                self.noise.append(f"console {text}")

        page.on("request", lambda request: requested(request.url))
        page.on("console", lambda message: said(message.type, message.text))
        page.on("pageerror", lambda error: self.noise.append(f"error {error}"))
        page.on("dialog", lambda dialog: (self.noise.append("dialogue"), dialog.dismiss()))
        if before:
            page.add_init_script(before)
        page.goto(target + fragment)
        page.wait_for_selector(wait_for, state="attached")
        return page

    def quiet(self) -> None:
        """No page has made a noise since this was last asked."""
        noise, self.noise = self.noise, []
        assert noise == []

    def close(self) -> None:
        for context in self.contexts:
            context.close()
        self.quiet()


LOOK = """() => JSON.stringify([
    document.querySelectorAll("details[open]").length,
    document.querySelectorAll("[aria-expanded=true]").length,
    document.querySelector("#list thead").innerText,
    document.querySelector("#list .position").innerText,
    [...document.querySelectorAll(".pairs button")].filter(one => !one.hidden).length,
    { ...document.documentElement.dataset },
    matchMedia("print").matches, matchMedia("(prefers-color-scheme: dark)").matches,
    innerWidth, innerHeight,
])"""
"""What the address of a view does not hold."""


class Standing:
    """Pages that stay open, one to a name and width: opening one costs a second or two.

    Before each test the address puts selection, filters, pins, bench and units back; a page that
    looks otherwise than when it was opened is loaded anew.
    """

    def __init__(self, browser: Browser, shelf: Shelf) -> None:
        self.opener = Opener(browser, shelf)
        self.pages: dict[tuple[str, int], tuple[Page, str]] = {}
        self.lent = 0

    def lend(self, screen: Screen, name: str = "starter") -> Page:
        key = name, screen["width"]
        if key not in self.pages:
            opened = self.opener(name, viewport=screen)
            self.pages[key] = opened, opened.evaluate(LOOK)
        page, look = self.pages[key]
        mark = self.opener.shelf.content(name)["mark"]
        self.lent += 1
        self._reset(page, f"#of={mark}&from={self.lent}")
        if page.evaluate(LOOK) != look:
            page.emulate_media(media="screen", color_scheme="light")
            page.reload()
            page.wait_for_selector(READY, state="attached")
            assert page.evaluate(LOOK) == look
        return page

    @staticmethod
    def _reset(page: Page, blank: str) -> None:
        page.mouse.move(0, 0)
        page.evaluate(
            """async hash => {
                document.activeElement?.blur();
                location.hash = hash;
                await new Promise(done => addEventListener("hashchange", done, { once: true }));
                document.getElementById("said").textContent = "";
                scrollTo(0, 0);
                await new Promise(done => setTimeout(done, 160));
            }""",
            blank,
        )


@pytest.fixture(scope="session")
def standing(plain_browser: Browser, shelf: Shelf) -> Iterator[Standing]:
    pages = Standing(plain_browser, shelf)
    yield pages
    pages.opener.close()


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def screen(request: pytest.FixtureRequest) -> Screen:
    """Desk and phone: a test that asks for a page runs on both."""
    screen: Screen = request.param
    return screen


@pytest.fixture
def page(standing: Standing, screen: Screen) -> Iterator[Page]:
    """The page of the starter, as it is when it is opened."""
    yield standing.lend(screen)
    standing.opener.quiet()


@pytest.fixture
def opened(plain_browser: Browser, shelf: Shelf) -> Iterator[Opener]:
    opener = Opener(plain_browser, shelf)
    yield opener
    opener.close()
