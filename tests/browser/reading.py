"""What a person reads on the page, and what the content says it should be."""

from __future__ import annotations

import csv
import io
import time
from pathlib import Path

from playwright.sync_api import Page

from optimise.report.content import Content, Designs, Figure, figure
from optimise.report.figures import written
from optimise.units import System

PAIRS = ("pair-time-outlay", "pair-time-force", "pair-outlay-force")


def result(content: Content, key: str, index: int, designs: Designs | None = None) -> Figure:
    machines = designs or content["designs"]
    return figure(content, machines["results"][key], index)


def known(content: Content, key: str, index: int) -> float:
    value = result(content, key, index)
    assert value is not None
    return value


def owned(content: Content, key: str) -> float:
    value = result(content, key, 0, content["owned"])
    assert value is not None
    return value


def text_of(content: Content, value: Figure, kind: str, system: System) -> str:
    return written(value, content["kinds"][kind][system], system)


def part_names(content: Content, index: int) -> list[str]:
    return [
        category["names"][column[index]]
        for category, column in zip(content["categories"], content["designs"]["parts"], strict=True)
    ]


def owned_names(content: Content) -> list[str]:
    return [category["names"][category["owned"]] for category in content["categories"]]


DRAWN = """svg => {
    const drawn = [];
    for (const mark of svg.querySelectorAll("path.mark")) {
        const { visibility, strokeWidth } = getComputedStyle(mark);
        if (visibility !== "visible" || parseFloat(strokeWidth) < 1) continue;
        const d = mark.getAttribute("d") ?? "";
        for (const [, x, y] of d.matchAll(/M([-\\d.]+),([-\\d.]+)h0/g)) {
            drawn.push([Number(x), Number(y)]);
        }
    }
    return drawn;
}"""


def drawn_dots(page: Page, chart: str) -> list[tuple[float, float]]:
    """Places of all dots that are drawn in a chart, in its own pixels."""
    found = page.locator(f"#{chart} .canvas-box svg").evaluate(DRAWN)
    return [(x, y) for x, y in found]


def seen_marks(page: Page, chart: str) -> int:
    """Dots that can be seen."""
    return len(drawn_dots(page, chart))


def dot_of(page: Page, chart: str, index: int) -> tuple[float, float]:
    """Middle of a machine's dot on the screen; the chart must have drawn a dot there."""
    svg = page.locator(f"#{chart} .canvas-box svg")
    svg.scroll_into_view_if_needed()
    x, y = svg.evaluate("(svg, index) => [svg.places.x[index], svg.places.y[index]]", index)
    assert any(abs(x - px) < 0.06 and abs(y - py) < 0.06 for px, py in drawn_dots(page, chart))
    box = svg.bounding_box()
    assert box is not None
    return box["x"] + x, box["y"] + y


def until(page: Page, expression: str, seconds: float = 20.0) -> None:
    """Wait until an expression holds; the page's policy forbids the driver to wait by itself."""
    last = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < last, f"never came true: {expression}"
        page.wait_for_timeout(50)


def settle(page: Page) -> None:
    """Let two frames pass, and the pause after which charts out of view follow."""
    page.evaluate(
        """() => new Promise(done => setTimeout(
            () => requestAnimationFrame(() => requestAnimationFrame(done)), 80))"""
    )


def unfold_filters(page: Page) -> None:
    """Show all filters: on a phone they stand behind a button."""
    button = page.locator("#filters .fold")
    if button.is_visible() and button.get_attribute("aria-expanded") == "false":
        button.click()


def set_bound(page: Page, kind: str, number: float | None) -> None:
    unfold_filters(page)
    page.locator(f"#filter-{kind}").fill("" if number is None else f"{number:g}")
    settle(page)


def sheet_number(page: Page) -> int:
    """Number of the machine whose sheet is open, 0 for the one owned."""
    title = page.locator("#sheet-title").inner_text()
    return 0 if title == "The machine you have" else int(title.removeprefix("Machine "))


def sheet_figure(page: Page, key: str) -> str:
    return page.locator(f'#sheet tr[data-result="{key}"] td').first.inner_text()


def sideways_scroll(page: Page) -> int:
    pixels: int = page.evaluate(
        "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return pixels


def rows_of_csv(path: Path) -> list[list[str]]:
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.endswith(b"\r\n")
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


PICTURE = """const pixelsOf = async address => {
    const image = new Image();
    image.src = address;
    await image.decode();
    const size = { width: image.width, height: image.height };
    const pen = Object.assign(document.createElement("canvas"), size).getContext("2d");
    pen.drawImage(image, 0, 0);
    return pen.getImageData(0, 0, image.width, image.height).data;
};"""
"""Bytes of a picture by its address, for scripts of tests."""
