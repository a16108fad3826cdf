"""The page as a page: hostile words, small screens, missing powers of the browser, paper."""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from optimise.report.page import PLAIN_ROWS
from tests.browser.conftest import DESK, PHONE, Opener, Screen, Shelf, Standing
from tests.browser.reading import (
    PAIRS,
    PICTURE,
    dot_of,
    known,
    rows_of_csv,
    seen_marks,
    settle,
    sheet_number,
    sideways_scroll,
    text_of,
    unfold_filters,
    until,
)
from tests.report.example import AT, FORMULA, LINK, LONG, MARKUP, MINUS, PLUS, TAB

ROWS = "#list tbody tr[data-index]"
NO_UNPACKING = "delete window.DecompressionStream"


def unfold(page: Page) -> None:
    """Open whatever is folded and show every number."""
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    for button in page.locator("figure.chart .tools").get_by_role("button").all():
        if button.is_visible() and button.inner_text() == "Show numbers":
            button.click()
    for button in page.locator(".unfold").all():
        button.click()
    settle(page)


@pytest.fixture
def hostile(standing: Standing, screen: Screen) -> Iterator[Page]:
    """The page of a study with hostile words, as it is when it is opened."""
    yield standing.lend(screen, "hostile")
    standing.opener.quiet()


def test_hostile_words_stay_words(hostile: Page) -> None:
    page = hostile
    page.locator(ROWS).first.click()
    page.locator("#pin").click()
    unfold(page)
    assert page.evaluate("document.images.length") == 0
    assert page.locator("script").count() == 3
    hrefs = page.locator("a").evaluate_all("links => links.map(link => link.getAttribute('href'))")
    assert [href for href in hrefs if not href.startswith("#")] == []
    assert page.locator("h1").inner_text().startswith(MARKUP)
    assert MARKUP in page.locator("#sheet").inner_text()
    assert LINK in page.locator("main").inner_text()
    assert "<i>$</i>" in page.locator("#pair-time-outlay").text_content()  # type: ignore[operator]
    assert page.locator("main b:text-is('starter'), main i:text-is('$')").count() == 0
    assert sideways_scroll(page) == 0


def test_long_names_keep_their_place(hostile: Page, screen: Screen) -> None:
    page = hostile
    assert page.locator("h1").bounding_box()["height"] < 500  # type: ignore[index]
    wide = page.locator("h1, .foreign").evaluate_all(
        "all => all.filter(one => one.clientWidth && one.scrollWidth > one.clientWidth + 1).length"
    )
    assert wide == 0
    names = page.locator("bdi.foreign", has_text=LONG[:200])
    assert names.count() > 0
    for name in names.all():
        box = name.bounding_box()
        if box is not None:
            assert box["height"] < (250 if screen is PHONE else 200)
    assert page.locator("#sheet").bounding_box()["width"] < 500  # type: ignore[index]


def test_pointing_at_hostile_names_shows_text(hostile: Page) -> None:
    page = hostile
    page.mouse.move(*dot_of(page, "pair-time-outlay", 0))
    page.locator("#tip").wait_for(state="visible")
    assert (
        page.locator(
            "#tip *:not(b):not(dl):not(dt):not(dd):not(div):not(ul):not(li):not(bdi)"
        ).count()
        == 0
    )


def test_formulas_are_disarmed_in_csv(hostile: Page, shelf: Shelf, tmp_path: Path) -> None:
    page = hostile
    content = shelf.content("hostile")
    with page.expect_download() as waiting:
        page.locator("#save-front").click()
    waiting.value.save_as(tmp_path / "front.csv")
    _, *rows = rows_of_csv(tmp_path / "front.csv")
    assert len(rows) == content["designs"]["count"]
    names = {cell for row in rows for cell in row[1:14]}
    assert not [name for name in names if name[:1] in ("=", "+", "-", "@", "\t", "\r", "\n")]
    used = {
        category["names"][at]
        for category, column in zip(content["categories"], content["designs"]["parts"], strict=True)
        for at in column
    }
    risky = used & {FORMULA, PLUS, AT, MINUS, TAB}
    assert risky
    for name in risky:
        assert f"'{name}" in names
    for name in used & {MARKUP, LINK, LONG}:
        assert name in names


@pytest.mark.parametrize("name", ["starter", "empty", "single", "hostile"])
def test_a_phone_needs_no_sideways_scroll(opened: Opener, name: str) -> None:
    page = opened(name, viewport=PHONE, has_touch=True, is_mobile=True)
    settle(page)
    assert sideways_scroll(page) == 0
    page.locator(ROWS).first.tap()
    settle(page)
    assert sheet_number(page) == 1
    assert sideways_scroll(page) == 0
    assert page.locator("#dock").is_visible()
    assert "Machine 1" in page.locator("#dock").inner_text()


def test_a_tap_on_a_dot_of_a_phone_chooses_it(opened: Opener, shelf: Shelf) -> None:
    page = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    count = shelf.content("starter")["designs"]["count"]
    for chart in PAIRS:
        assert seen_marks(page, chart) == count
    dot_of(page, "pair-time-force", 10)
    settle(page)
    page.touchscreen.tap(*dot_of(page, "pair-time-force", 10))
    settle(page)
    assert sheet_number(page) > 0
    page.locator("#dock").tap()
    settle(page)
    top = page.locator("#sheet").bounding_box()
    assert top is not None
    assert top["y"] < PHONE["height"] / 2


def test_without_webgl_the_flat_charts_stay(page: Page, shelf: Shelf) -> None:
    solid = page.locator("#solid")
    assert "has no WebGL" in solid.locator(".message").first.inner_text()
    assert solid.locator("canvas").count() == 0
    assert seen_marks(page, PAIRS[0]) == shelf.content("starter")["designs"]["count"]


COLOURS = (
    "async address => {"
    + PICTURE
    + """
    const data = await pixelsOf(address);
    const seen = new Set();
    for (let at = 0; at < data.length; at += 4) seen.add(data.slice(at, at + 3).join());
    return seen.size;
}"""
)


EYE = "(() => { const { x, y, z } = document.querySelector('.solid-box')._fullLayout.scene._scene\
.getCamera().eye; return [x, y, z]; })()"
DRAWN = "document.querySelector('.solid-box').data && !document.querySelector('[aria-busy]')"


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"], scope="module")
def in_space(
    solid_browser: Browser, shelf: Shelf, request: pytest.FixtureRequest
) -> Iterator[Page]:
    """The page with the front drawn in space; drawing it is dear."""
    opener = Opener(solid_browser, shelf)
    page = opener(viewport=request.param)
    page.locator("#solid .solid-box").scroll_into_view_if_needed()
    page.locator("#solid canvas").first.wait_for(state="attached", timeout=30_000)
    until(page, DRAWN)
    yield page
    opener.close()


def test_the_front_stands_in_space(in_space: Page, shelf: Shelf, tmp_path: Path) -> None:
    page, content = in_space, shelf.content("starter")
    box = page.locator("#solid .solid-box")
    counts = box.evaluate("box => box.data.map(trace => trace.x.length)")
    assert content["plan"] is not None
    assert counts == [content["designs"]["count"], 1, 0, 1 + content["plan"]["count"]]
    axes = box.evaluate(
        "({ layout: { scene } }) => ['x', 'y', 'z'].map(one => scene[`${one}axis`].title.text)"
    )
    assert axes == ["Cycle time, s", f"Outlay, {content['study']['currency']}", "Force, lbf"]
    with page.expect_download() as got:
        page.get_by_role("button", name="Save as PNG: space").click()
    got.value.save_as(tmp_path / "space.png")
    picture = base64.b64encode((tmp_path / "space.png").read_bytes()).decode()
    assert page.evaluate(COLOURS, f"data:image/png;base64,{picture}") > 50


MEETS_THE_POINTER = """box => {
    const { left, top, width, height } = box.getBoundingClientRect();
    return box.contains(document.elementFromPoint(left + width / 2, top + height / 2));
}"""


def test_a_click_in_space_chooses_a_machine(in_space: Page, shelf: Shelf) -> None:
    """What the chart library tells of a click: which series, and the how manieth of it."""
    page, plan = in_space, shelf.content("starter")["plan"]
    assert plan is not None
    box = page.locator(".solid-box")
    box.scroll_into_view_if_needed()
    assert box.evaluate(MEETS_THE_POINTER)
    click = """(box, [series, at]) =>
        box.emit("plotly_click", { points: [{ curveNumber: series, pointNumber: at }] })"""
    for series, at, title in (
        (0, 7, "Machine 8"),
        (3, plan["count"], f"Step {plan['count']} of the plan"),
    ):
        page.locator(".solid-box").evaluate(click, [series, at])
        assert page.locator("#sheet-title").inner_text() == title


def test_keys_turn_the_view_in_space_and_what_is_chosen_and_filtered_is_seen(
    in_space: Page, shelf: Shelf
) -> None:
    page, content = in_space, shelf.content("starter")
    page.locator("#solid .solid-box").focus()
    x, y, z = page.evaluate(EYE)
    away, around, up = math.hypot(x, y, z), math.atan2(y, x), math.asin(z / math.hypot(x, y, z))
    for key, turn, tilt, nearer in (
        ("ArrowLeft", -7.5, 0.0, 1.0),
        ("ArrowRight", 7.5, 0.0, 1.0),
        ("ArrowUp", 0.0, 7.5, 1.0),
        ("ArrowDown", 0.0, -7.5, 1.0),
        ("+", 0.0, 0.0, 1.0 / 1.15),
        ("ArrowRight", 7.5, 0.0, 1.0),
    ):
        page.keyboard.press(key)
        around, up, away = around + math.radians(turn), up + math.radians(tilt), away * nearer
        x, y, z = (
            away * math.cos(up) * math.cos(around),
            away * math.cos(up) * math.sin(around),
            away * math.sin(up),
        )
        near = f"{EYE}.every((at, nth) => Math.abs(at - [{x}, {y}, {z}][nth]) < 1e-6)"
        until(page, near)
    page.locator(ROWS).first.evaluate("row => row.click()")
    page.locator("#filter-money").evaluate(
        "field => { field.value = '700'; field.dispatchEvent(new Event('input')); }"
    )
    left = sum(
        known(content, "cost.outlay", index) <= 700.5
        for index in range(content["designs"]["count"])
    )
    assert 0 < left < content["designs"]["count"]
    until(page, f"document.querySelector('.solid-box').data[0].x.length === {left}")
    until(page, "document.querySelector('.solid-box').data[2].x.length === 1")
    until(page, f"!document.querySelector('[aria-busy]') && {near}")
    assert page.evaluate("document.querySelectorAll('script').length") == 4


def test_without_scripts_there_are_tables(opened: Opener, shelf: Shelf) -> None:
    page = opened(java_script_enabled=False, wait_for="#plain")
    content = shelf.content("starter")
    assert page.locator("#message").is_visible()
    assert "need scripts" in page.locator("#message").inner_text()
    assert not page.locator("#live").is_visible()
    rows = page.locator("#plain tbody").first.locator("tr")
    assert rows.count() == PLAIN_ROWS
    assert rows.first.is_visible()
    time = text_of(content, known(content, "cycle.total_s", 0), "time", "us")
    assert time in rows.first.inner_text()
    plain = page.locator("#plain").inner_text()
    for limit in content["limits"]:
        assert limit["title"] in plain
    assert sideways_scroll(page) == 0


def test_without_unpacking_there_are_tables(opened: Opener) -> None:
    page = opened(before=NO_UNPACKING, wait_for="#plain:not([hidden])")
    until(page, "document.getElementById('message').innerText.includes('cannot unpack')")
    assert page.locator("#plain tbody tr").first.is_visible()
    assert not page.locator("#live").is_visible()


def test_where_the_script_runs_the_plain_tables_step_back(page: Page) -> None:
    assert not page.locator("#plain").is_visible()
    assert not page.locator("#message").is_visible()


BACKGROUND = "() => getComputedStyle(document.body).backgroundColor"


def brightness(page: Page) -> int:
    colour: str = page.evaluate(BACKGROUND)
    return sum(int(part) for part in colour.removeprefix("rgb(").removesuffix(")").split(","))


def test_light_and_dark_follow_the_system_and_the_switch(page: Page) -> None:
    for scheme, other, is_light in (("light", "Dark", True), ("dark", "Light", False)):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.locator(".switch label", has_text="Auto").click()
        assert (brightness(page) > 600) == is_light
        assert (brightness(page) < 150) != is_light
        page.locator(".switch label", has_text=other).click()
        assert (brightness(page) < 150) == is_light
        assert (brightness(page) > 600) != is_light
    page.emulate_media(color_scheme="light")


KEPT_WITH_NEXT = "all => all.map(one => getComputedStyle(one).breakAfter)"


def test_paper_shows_what_a_screen_folds_away(page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    folded = page.locator(".section-table tr[hidden]").count()
    assert folded > 0
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print", color_scheme="dark")
    settle(page)
    assert brightness(page) > 600
    assert not page.locator("#filters").is_visible()
    assert not page.locator("#switches").is_visible()
    assert page.locator("#sheet .more-limits .limit").first.is_visible()
    assert page.locator(ROWS).nth(49).is_visible()
    assert page.locator(".section-table tr[hidden]").count() == 0
    assert set(page.locator("main :is(h2, h3)").evaluate_all(KEPT_WITH_NEXT)) == {"avoid"}
    page.emulate_media(media="screen", color_scheme="dark")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert brightness(page) < 150
    assert not page.locator("#sheet .more-limits .limit").first.is_visible()
    assert page.locator(".section-table tr[hidden]").count() == folded
    page.emulate_media(media="screen", color_scheme="light")


FINGER = 40
"""Least height and width of what is pressed on a phone [CSS px]; WCAG 2.2 AA asks for 24."""
NARROW = """least => {
    const inline = one => one.closest("p, li") && getComputedStyle(one).display === "inline";
    const found = [];
    for (const one of document.querySelectorAll("button, a, input, select, summary")) {
        const { width, height } = (one.closest("label") ?? one).getBoundingClientRect();
        if (width < 2 || inline(one) || one.matches(".skip, .switch input")) continue;
        const sort = one.matches(".sort");
        if (height < least || (width < least && !sort && !one.matches(".contents a"))) {
            found.push(`${width} x ${height} ${one.outerHTML.slice(0, 120)}`);
        }
    }
    return found;
}"""


def test_a_finger_has_room(standing: Standing) -> None:
    page = standing.lend(PHONE)
    page.locator(ROWS).nth(3).click()
    page.locator("#pin").click()
    unfold_filters(page)
    unfold(page)
    assert page.evaluate(NARROW, FINGER) == []


def test_everything_pressed_has_a_name(page: Page) -> None:
    page.locator(ROWS).first.click()
    page.locator("#pin").click()
    nameless = page.evaluate(
        """() => [...document.querySelectorAll("button, a, input, summary")]
            .filter(one => one.getClientRects().length > 0)
            .filter(one => !(one.textContent || "").trim() && !one.getAttribute("aria-label")
                && !(one.labels && one.labels.length > 0))
            .map(one => one.outerHTML.slice(0, 120))"""
    )
    assert nameless == []
