"""The sheet of one machine, the comparison, and the files that the page makes."""

from __future__ import annotations

import copy
import itertools
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page

from optimise.report.content import Content, figure
from optimise.report.page import render_page
from tests.browser.conftest import PHONE, Opener, Screen, Shelf
from tests.browser.reading import (
    known,
    owned,
    owned_names,
    part_names,
    result,
    rows_of_csv,
    set_bound,
    settle,
    sheet_figure,
    sheet_number,
    sideways_scroll,
    text_of,
)
from tests.report.example import starter

ROWS = "#list tbody tr[data-index]"


def test_differences_from_the_machine_owned_are_shown(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    for key, kind in (("cycle.extend_s", "time"), ("force_N", "force"), ("cost.outlay", "money")):
        change = known(content, key, 0) - owned(content, key)
        scale = content["kinds"][kind]["us"]
        words = text_of(content, abs(change) + scale["offset"], kind, "us")
        cells = page.locator(f'#sheet tr[data-result="{key}"] td').all_inner_texts()
        assert cells == [
            text_of(content, known(content, key, 0), kind, "us"),
            ("−" if change < 0 else "+") + words,
        ]


def test_new_parts_are_marked(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    mine, its = owned_names(content), part_names(content, 0)
    new = [
        category["key"]
        for category, one, other in zip(content["categories"], mine, its, strict=True)
        if one != other
    ]
    marked = page.locator("#sheet .parts tr.new").evaluate_all(
        "rows => rows.map(row => row.dataset.category)"
    )
    assert marked == new
    spent = page.locator("#sheet .parts tr.new td").all_inner_texts()
    money = sum(float(text.removesuffix("\u00a0USD").replace(",", "")) for text in spent)
    assert abs(money - known(content, "cost.outlay", 0)) <= len(new) * 0.5 + 0.5


def test_a_part_shows_what_its_outlay_is_made_of(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    stands = page.locator("#sheet .parts tr .account").all_inner_texts()
    for category, text in zip(content["categories"], stands, strict=True):
        at = category["owned"]
        list_price = text_of(content, category["prices"][at], "money", "us")
        sold = text_of(content, category["resales"][at], "money", "us")
        worth = f", sells for {sold}" if category["resales"][at] else ""
        assert text == f"list {list_price}{worth}"
    page.locator(ROWS).first.click()
    names = dict(
        zip((c["key"] for c in content["categories"]), part_names(content, 0), strict=True)
    )
    lists, rate = starter().lists, starter().money.labour_rate
    for row in page.locator("#sheet .parts tr.new").all():
        category = row.get_attribute("data-category")
        assert category is not None
        at = lists[category].names.index(names[category])
        hours = float(np.asarray(lists[category].parts.fitting_time)[at]) / 3600.0
        text = row.locator(".account").inner_text()
        assert text.startswith("list ")
        assert ("\u00a0h" in text) == (hours > 0.0)
        assert (text_of(content, rate, "money", "us") in text) or hours == 0.0


def test_every_limit_has_a_bar_the_closest_first(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    page.locator("#sheet .more-limits > summary").click()
    names = page.locator("#sheet .limit").evaluate_all(
        "limits => limits.map(limit => limit.dataset.limit)"
    )
    assert sorted(names) == sorted(limit["name"] for limit in content["limits"])
    assert page.locator("#sheet .limit .bar .fill").count() == len(names)
    margins = {
        limit["name"]: figure(content, places["margin"], 0)
        for limit, places in zip(content["limits"], content["designs"]["limits"], strict=True)
    }
    shown = [margins[name] for name in names if name != "solution_found"]
    assert shown == sorted(shown, key=lambda margin: margin if margin is not None else -1e9)
    assert names[-1] == "solution_found"


def test_bars_are_signed_and_crossed_limits_stand_out(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    page.locator("#sheet .more-limits > summary").click()
    crossed = [
        limit["name"]
        for limit, places in zip(content["limits"], content["designs"]["limits"], strict=True)
        if (figure(content, places["margin"], 0) or 0.0) < 0.0
    ]
    assert crossed
    shown = page.locator("#sheet .limit.crossed").evaluate_all(
        "limits => limits.map(limit => limit.dataset.limit)"
    )
    assert sorted(shown) == sorted(crossed)
    sides = page.locator("#sheet .limit").evaluate_all(
        """limits => limits.map(limit => {
            const fill = limit.querySelector(".fill").getBoundingClientRect();
            const zero = limit.querySelector(".zero").getBoundingClientRect();
            return [limit.dataset.limit, fill.left + fill.width / 2 - zero.left - zero.width / 2];
        })"""
    )
    for name, side in sides:
        assert (side < 0.0) == (name in crossed), name


def test_a_limit_opens_to_value_bound_source_and_advice(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    at = next(at for at, limit in enumerate(content["limits"]) if limit["name"] == "ram_speed_back")
    facts, places = content["limits"][at], content["designs"]["limits"][at]
    page.locator("#sheet .more-limits > summary").click()
    limit = page.locator('#sheet .limit[data-limit="ram_speed_back"]')
    limit.locator("summary").click()
    words = limit.inner_text()
    for what in ("value", "bound"):
        value = figure(content, places[what], 0)  # type: ignore[literal-required]
        assert text_of(content, value, facts["unit"], "us") in words
    for text in (facts["source"], facts["advice"], "hard limit", facts["sense"]):
        assert text in words


def test_the_seconds_add_up(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    for index in (None, 0):
        if index is not None:
            page.locator(ROWS).first.click()
        texts = page.locator("#sheet .seconds:not(.waterfall) .seconds-value").all_inner_texts()
        *parts, total = (float(text.removesuffix("\u00a0s")) for text in texts)
        assert len(parts) == 4
        assert abs(sum(parts) - total) < 0.021
        key = "work.piece_period_s"
        piece = owned(content, key) if index is None else known(content, key, index)
        assert abs(total - piece) < 0.006
    bars = page.locator("#sheet .seconds-bar .here").evaluate_all(
        "bars => bars.map(bar => { const box = bar.getBoundingClientRect();"
        " return [box.left, box.right]; })"
    )
    for (_, end), (start, _) in itertools.pairwise(bars[:4]):
        assert abs(start - end) < 1.0


def slow_return() -> Content:
    from tests.report.example import starter_content

    content = copy.deepcopy(starter_content())
    content["columns"].append(0.0)
    content["owned"]["results"]["stage.retract_high"] = len(content["columns"]) - 1
    return content


def test_a_slow_return_is_explained(opened: Opener, tmp_path: Path) -> None:
    content = slow_return()
    path = tmp_path / "slow.html"
    path.write_text(render_page(content), encoding="utf-8")
    page = opened(path=path)
    words = page.locator("#sheet .why").inner_text()
    stage = [limit["name"] for limit in content["limits"]].index("retract_stage")
    bound = figure(content, content["owned"]["limits"][stage]["bound"], 0)
    ratio = text_of(content, owned(content, "flow.return_ratio"), "count", "us")
    for text in (
        text_of(content, owned(content, "pressure.retract_demand_Pa"), "pressure", "us"),
        text_of(content, bound, "pressure", "us"),
        f"sends back {ratio} times the oil",
    ):
        assert text in words


def test_a_return_at_full_flow_needs_no_excuse(page: Page) -> None:
    assert page.locator("#sheet .why").count() == 0


def test_up_to_four_machines_stand_side_by_side(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    for row in (0, 5, 9, 14, 20):
        page.locator(ROWS).nth(row).click()
        page.locator("#pin").click()
    assert "Take one off first" in page.locator("#said").inner_text()
    assert "Machine 21" not in page.locator("#compare").inner_text()
    heads = page.locator("#compare thead th").all_inner_texts()
    assert [" ".join(head.split()) for head in heads] == [
        "◆ yours",
        "A Machine 1 ×",
        "B Machine 6 ×",
        "C Machine 10 ×",
        "D Machine 15 ×",
    ]
    pinned = [known(content, "force_N", index) for index in (0, 5, 9, 14)]
    forces = [owned(content, "force_N"), *pinned]
    cells = page.locator("#compare tbody tr", has_text="Force at relief").locator("td")
    assert cells.all_inner_texts() == [text_of(content, force, "force", "us") for force in forces]
    best = cells.evaluate_all("cells => cells.map(cell => cell.className === 'best')")
    assert best == [force == max(forces) for force in forces]
    parts = page.locator("#compare").inner_text()
    for name in part_names(content, 14):
        assert name in parts
    for chart in ("pair-time-outlay", "pair-outlay-force"):
        assert page.locator(f"#{chart} .pin-letter").all_text_contents() == ["A", "B", "C", "D"]
    page.get_by_role("button", name="Take off Machine 6").click()
    assert page.locator("#compare thead th").count() == 4
    assert "Machine 6" not in page.locator("#compare").inner_text()


def test_what_is_wider_than_a_phone_says_so_and_keeps_its_names(page: Page, screen: Screen) -> None:
    for row in (0, 5, 9, 14):
        page.locator(ROWS).nth(row).click()
        page.locator("#pin").click()
    for place, hint, head in (
        ("#compare .scroller", "#compare .swipe", "#compare tbody th"),
        ("#list .scroller", "#list .swipe", f"{ROWS} th"),
    ):
        assert page.locator(hint).is_visible() == (screen is PHONE)
        room = page.locator(place).evaluate("box => box.scrollWidth - box.clientWidth")
        if screen is not PHONE:
            assert room <= 0
            continue
        assert room > 100
        before = page.locator(head).first.bounding_box()
        page.locator(place).evaluate("box => { box.scrollLeft = 100; }")
        assert page.locator(head).first.bounding_box() == before
    assert sideways_scroll(page) == 0


def test_units_change_everywhere(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    before = sheet_figure(page, "force_N")
    page.locator(".switch label", has_text="Metric").click()
    settle(page)
    assert sheet_figure(page, "force_N") == text_of(
        content, known(content, "force_N", 0), "force", "metric"
    )
    assert sheet_figure(page, "force_N") != before
    assert "kN" in page.locator("#pair-time-force .axes").text_content()  # type: ignore[operator]
    assert "kN" in page.locator("#list thead").inner_text()
    assert "kN" in page.locator(".lead").inner_text()
    set_bound(page, "force", 150.0)
    left = sum(
        known(content, "force_N", index) >= 149_950.0
        for index in range(content["designs"]["count"])
    )
    assert page.locator("#shown-count").inner_text().startswith(f"{left} of ")


@pytest.mark.parametrize("system", ["us", "metric"])
def test_script_and_server_write_figures_alike(page: Page, shelf: Shelf, system: str) -> None:
    content = shelf.content("starter")
    page.locator(".switch label", has_text="Metric").click()
    if system == "us":
        page.locator(".switch label", has_text="US").click()
    figures = page.locator(".q[data-value]").evaluate_all(
        "all => all.map(one => [Number(one.dataset.value), one.dataset.kind, one.textContent])"
    )
    assert len(figures) > 400
    for value, kind, text in figures:
        assert text == text_of(content, value, kind, system), (value, kind)  # type: ignore[arg-type]


def test_the_front_is_saved_as_it_is_filtered_and_sorted(
    page: Page, shelf: Shelf, tmp_path: Path
) -> None:
    content = shelf.content("starter")
    set_bound(page, "money", 700.0)
    page.locator("#list th button", has_text="Force").click()
    with page.expect_download() as waiting:
        page.locator("#save-front").click()
    assert waiting.value.suggested_filename == "starter-front.csv"
    waiting.value.save_as(tmp_path / "front.csv")
    header, *rows = rows_of_csv(tmp_path / "front.csv")
    count = content["designs"]["count"]
    left = [index for index in range(count) if known(content, "cost.outlay", index) <= 700.5]
    assert sorted(int(row[0]) - 1 for row in rows) == left
    forces = [float(row[header.index("Force at relief [lbf]")]) for row in rows]
    assert forces == sorted(forces, reverse=True)
    index = int(rows[0][0]) - 1
    assert rows[0][1:14] == part_names(content, index)
    out = float(rows[0][header.index("Out [s]")])
    assert out == pytest.approx(known(content, "cycle.extend_s", index), rel=1e-5)
    margin = figure(content, content["designs"]["least_margin"], index)
    assert margin is not None
    assert float(rows[0][header.index("Least margin [%]")]) == pytest.approx(
        100.0 * margin, abs=1e-3
    )
    kelvin = known(content, "oil.steady_degC", index)
    oil = float(rows[0][header.index("Steady oil temperature [°F]")])
    assert oil == pytest.approx((kelvin - 273.15) * 1.8 + 32.0, abs=0.001)


def test_the_parts_list_of_a_machine_is_saved(page: Page, shelf: Shelf, tmp_path: Path) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    with page.expect_download() as waiting:
        page.locator("#save-parts").click()
    assert waiting.value.suggested_filename == "starter-parts-1.csv"
    waiting.value.save_as(tmp_path / "parts.csv")
    header, *rows = rows_of_csv(tmp_path / "parts.csv")
    assert header == [
        "Category",
        "Part",
        "New",
        "Price [USD]",
        "Hours of work",
        "Old part brings [USD]",
        "Outlay [USD]",
    ]
    assert [row[1] for row in rows] == part_names(content, 0)
    assert sum(float(row[6]) for row in rows) == pytest.approx(
        known(content, "cost.outlay", 0), rel=1e-4
    )
    lists = starter().lists
    for category, row in zip(content["categories"], rows, strict=True):
        prices = lists[category["key"]]
        at = prices.names.index(row[1])
        assert float(row[3]) == pytest.approx(
            np.broadcast_to(prices.parts.price, len(prices.names))[at]
        )
        labour = float(row[4]) * starter().money.labour_rate
        whole = float(row[3]) + labour - float(row[5]) if row[2] == "yes" else 0.0
        assert float(row[6]) == pytest.approx(whole, abs=0.01)
    mine = owned_names(content)
    assert [row[2] for row in rows] == [
        "no" if name == own else "yes"
        for name, own in zip(part_names(content, 0), mine, strict=True)
    ]


def test_an_empty_front_says_what_stops_it_and_what_comes_near(
    opened: Opener, shelf: Shelf
) -> None:
    page = opened("empty")
    content = shelf.content("empty")
    assert "No machine of this list keeps every limit" in page.locator(".lead").inner_text()
    rows = page.locator("#blocking tbody tr")
    assert rows.count() == len(content["blocking"])
    first = content["blocking"][0]
    cells = rows.first.locator("th, td").all_inner_texts()
    assert cells == [
        first["title"],
        text_of(content, first["crossed"], "share", "us"),
        text_of(content, first["alone"], "share", "us"),
    ]
    nearest = content["nearest"]
    assert nearest is not None
    assert page.locator(ROWS).count() == nearest["count"]
    assert page.locator("#front figure.chart").count() == 0
    page.locator(ROWS).first.click()
    assert sheet_number(page) == 1
    assert sheet_figure(page, "cycle.total_s") == text_of(
        content, result(content, "cycle.total_s", 0, nearest), "time", "us"
    )
    assert page.locator('#sheet .limit.crossed[data-limit="half a second"]').count() == 1
