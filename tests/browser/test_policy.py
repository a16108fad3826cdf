"""The page's own policy, tried in a browser: what a hostile word might do once it were markup."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import ClassVar
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import READY, Shelf
from tests.browser.reading import until

NOTING = """
window.refused = [];
addEventListener("securitypolicyviolation", one => refused.push(one.effectiveDirective));
"""
ATTEMPTS = {
    "words run as code": ("script-src", "try { eval('ran = true'); } catch {}"),
    "words made a function": ("script-src", "try { new Function('ran = true')(); } catch {}"),
    "a script of its own": (
        "script-src-elem",
        "const one = document.createElement('script'); one.textContent = 'ran = true';"
        "document.body.append(one);",
    ),
    "a script from elsewhere": (
        "script-src-elem",
        "const one = document.createElement('script'); one.src = 'ELSEWHERE';"
        "document.body.append(one);",
    ),
    "an attribute that acts": (
        "script-src-attr",
        "const one = document.createElement('button'); one.setAttribute('onclick', 'ran = true');"
        "document.body.append(one); one.click();",
    ),
    "an address that acts": (
        "script-src-elem",
        "const one = document.createElement('a'); one.href = 'javascript:ran = true';"
        "document.body.append(one); one.click();",
    ),
    "data sent away": ("connect-src", "fetch('ELSEWHERE').catch(() => {});"),
    "a picture from elsewhere": ("img-src", "new Image().src = 'ELSEWHERE';"),
    "a frame": (
        "frame-src",
        "const one = document.createElement('iframe'); one.src = 'ELSEWHERE';"
        "document.body.append(one);",
    ),
    "a form sent away": (
        "form-action",
        "const one = document.createElement('form'); one.action = 'ELSEWHERE';"
        "document.body.append(one); one.submit();",
    ),
    "another base for addresses": (
        "base-uri",
        "const one = document.createElement('base'); one.href = 'ELSEWHERE';"
        "document.head.append(one);",
    ),
}


class Elsewhere(BaseHTTPRequestHandler):
    """A place on the network that notes who comes."""

    visits: ClassVar[list[str]] = []

    def do_GET(self) -> None:
        self.visits.append(self.path)
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere) as server:
        threading.Thread(target=server.serve_forever).start()
        address = f"http://127.0.0.1:{server.server_port}/"
        with urlopen(f"{address}heard") as answer:
            assert answer.status == 204
        yield address
        server.shutdown()


@pytest.fixture(scope="module")
def page(plain_browser: Browser, shelf: Shelf) -> Iterator[Page]:
    context = plain_browser.new_context()
    found = context.new_page()
    found.add_init_script(NOTING)
    found.goto(shelf.page("starter").as_uri())
    found.wait_for_selector(READY, state="attached")
    yield found
    context.close()


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_the_browser_refuses(page: Page, shelf: Shelf, elsewhere: str, attempt: str) -> None:
    """Code, scripts, frames, forms and whatever would reach the network, tried one by one."""
    directive, script = ATTEMPTS[attempt]
    page.evaluate("refused.length = 0")
    script = script.replace("ELSEWHERE", f"{elsewhere}{directive}")
    page.evaluate(f"() => setTimeout(() => {{ {script} }})")
    until(page, "refused.length > 0")
    assert page.evaluate("refused") == [directive]
    assert page.evaluate("typeof ran") == "undefined"
    assert page.url == shelf.page("starter").as_uri()
    assert Elsewhere.visits == ["/heard"]


def test_a_script_with_one_letter_more_does_not_run(
    plain_browser: Browser, shelf: Shelf, tmp_path: Path
) -> None:
    """The hash is that of the very script; without it the tables stand in."""
    text = shelf.page("starter").read_text(encoding="utf-8")
    start = '<script>"use strict";\n'
    assert text.count(start) == 1
    path = tmp_path / "changed.html"
    path.write_text(text.replace(start, start + " "), encoding="utf-8")
    context = plain_browser.new_context()
    page = context.new_page()
    page.add_init_script(NOTING)
    page.goto(path.as_uri())
    until(page, "refused.length > 0")
    assert page.evaluate("refused") == ["script-src-elem"]
    assert page.locator(READY).count() == 0
    assert page.locator("#message").is_visible()
    context.close()
