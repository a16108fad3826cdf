"""An accessibility audit of the whole page: no finding, at both widths and in both looks."""

from __future__ import annotations

from importlib import resources
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import DESK, PHONE, Opener
from tests.browser.reading import settle
from tests.browser.test_page import unfold

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RUN = """rules => axe.run(document, {
    runOnly: { type: "tag", values: rules }, resultTypes: ["violations"],
})"""


def audit(page: Page) -> list[str]:
    """What the audit finds, moderate findings included, each with where it stands."""
    source = resources.files("axe_playwright_python").joinpath("axe.min.js")
    page.evaluate(source.read_text(encoding="utf-8"))
    found: dict[str, Any] = page.evaluate(RUN, RULES)
    assert len(found["violations"]) < 100
    return [
        f"{one['impact']}: {one['id']}: {node['target'][0]}: {node['failureSummary'][:200]}"
        for one in found["violations"]
        for node in one["nodes"][:4]
    ]


def test_the_audit_finds_what_is_wrong(opened: Opener) -> None:
    page = opened("single")
    page.evaluate(
        """() => { const button = document.createElement("button");
        document.querySelector("main").append(button); }"""
    )
    assert any("button-name" in one for one in audit(page))


@pytest.mark.parametrize(
    ("screen", "scheme"),
    [(DESK, "light"), (PHONE, "dark")],
    ids=["desk-light", "phone-dark"],
)
def test_nothing_stands_in_the_way(opened: Opener, screen: dict[str, int], scheme: str) -> None:
    page = opened("starter", viewport=screen, color_scheme=scheme)
    page.locator("#list tbody tr[data-index]").nth(3).evaluate("row => row.click()")
    page.locator("#pin").evaluate("button => button.click()")
    unfold(page)
    settle(page)
    assert audit(page) == []


def test_nothing_stands_in_the_way_without_charts(opened: Opener) -> None:
    page = opened("starter", before="delete window.DecompressionStream", wait_for="#plain")
    assert audit(page) == []
