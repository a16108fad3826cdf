"""An accessibility audit of the whole page: no finding, at both widths and in both looks."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Opener
from tests.browser.reading import settle
from tests.browser.test_page import unfold

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
CONTRAST = "color-contrast"
"""By far the dearest rule, about a millisecond or two for each text. Texts whose elements, and the
three around them, are of the same classes and look alike are judged once."""
RUN = """async ([within, tags, contrast]) => {
    const roots = [...document.querySelectorAll(within)];
    const kinds = new Map();
    for (const root of roots) {
        const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
        while (walker.nextNode()) {
            const one = walker.currentNode.parentElement;
            if (!walker.currentNode.data.trim() || one.getClientRects().length === 0) continue;
            const line = [];
            for (let at = one; at && line.length < 4; at = at.parentElement) {
                line.push(`${at.tagName}.${at.getAttribute("class") ?? ""}`);
            }
            const { color, fontSize, fontWeight } = getComputedStyle(one);
            const kind = [...line, color, fontSize, fontWeight].join(" ");
            if (!kinds.has(kind)) kinds.set(kind, one);
        }
    }
    const resultTypes = ["violations"];
    const run = (include, options) => axe.run({ include }, { resultTypes, ...options });
    const rules = { [contrast]: { enabled: false } };
    const whole = { runOnly: { type: "tag", values: tags }, rules };
    const found = [];
    if (tags.length) found.push(await run(roots, whole));
    if (kinds.size) found.push(await run([...kinds.values()], { runOnly: [contrast] }));
    return [found.flatMap(({ violations }) => violations), kinds.size];
}"""


def audit(page: Page, within: str = "html", tags: Sequence[str] = TAGS) -> list[str]:
    """What the audit finds, moderate findings included, each with where it stands.

    Without tags contrast alone is judged.
    """
    if not page.evaluate("typeof axe === 'object'"):
        source = resources.files("axe_playwright_python").joinpath("axe.min.js")
        page.evaluate(source.read_text(encoding="utf-8"))
    violations: list[dict[str, Any]]
    violations, kinds = page.evaluate(RUN, [within, list(tags), CONTRAST])
    assert kinds > 0
    return [
        f"{one['impact']}: {one['id']}: {node['target'][0]}: {node['failureSummary'][:200]}"
        for one in violations
        for node in one["nodes"][:4]
    ]


WRONG = {
    "button-name": "<button></button>",
    "color-contrast": "<p style='color: #aaa; background: #fff'>Hard to read.</p>",
    "target-size": "<button style='width: 9px; height: 9px; padding: 0'>a</button>"
    "<button style='width: 9px; height: 9px; padding: 0'>b</button>",
}


@pytest.mark.parametrize("rule", WRONG)
def test_the_audit_finds_what_is_wrong(opened: Opener, tmp_path: Path, rule: str) -> None:
    path = tmp_path / "wrong.html"
    path.write_text(
        f"<!doctype html><html lang='en'><title>wrong</title><main><h1>Wrong</h1>{WRONG[rule]}",
        encoding="utf-8",
    )
    found = audit(opened(path=path, wait_for="main"))
    assert found
    assert all(f": {rule}: " in one for one in found)


def test_nothing_stands_in_the_way(page: Page) -> None:
    page.locator("#list tbody tr[data-index]").nth(3).evaluate("row => row.click()")
    page.locator("#pin").evaluate("button => button.click()")
    unfold(page)
    settle(page)
    assert audit(page) == []
    page.locator(".switch input[value=dark]").check(force=True)
    settle(page)
    assert audit(page, tags=()) == []


def test_nothing_stands_in_the_way_without_charts(opened: Opener) -> None:
    page = opened("starter", before="delete window.DecompressionStream", wait_for="#plain")
    assert audit(page) == []
