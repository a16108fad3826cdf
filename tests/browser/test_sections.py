"""Sections below the front, the circuit, the address of a view, and charts as files."""

from __future__ import annotations

import base64
import io
import itertools
import math
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from playwright.sync_api import Locator, Page

from optimise.machine.evaluation import Evaluation
from optimise.machine.points import extend_points, retract_points
from optimise.report.content import Content
from optimise.study.space import fitted_machine
from tests.browser.conftest import PHONE, Opener, Screen, Shelf
from tests.browser.reading import (
    PAIRS,
    PICTURE,
    dot_of,
    known,
    owned,
    seen_marks,
    set_bound,
    settle,
    sheet_number,
    text_of,
    unfold_filters,
)
from tests.report.example import starter

ROWS = "#list tbody tr[data-index]"
SVG = "{http://www.w3.org/2000/svg}"


def section(content: Content, key: str) -> dict[str, object]:
    return next(dict(one) for one in content["sections"] if one["key"] == key)


def words_of(places: Locator) -> str:
    return " ".join(" ".join(places.all_text_contents()).split())


# --- sections -----------------------------------------------------------------------------------


BOXES = """all => all.map(one => {
    const { left, right, top, bottom } = one.getBoundingClientRect();
    return [one.textContent, left, right, top + 2, bottom - 2];
})"""


def overlapping(boxes: list[tuple[str, float, float, float, float]]) -> list[tuple[str, str]]:
    """Words that stand in each other's way."""
    return [
        (one[0], other[0])
        for one, other in itertools.combinations(boxes, 2)
        if one[1] < other[2] and other[1] < one[2] and one[3] < other[4] and other[3] < one[4]
    ]


def axis_titles(content: Content, chart: dict[str, Any]) -> list[str]:
    """Titles with their units of the axes that a chart has."""

    def titled(title: str, kind: str) -> str:
        unit = content["kinds"][kind]["us"]["unit"]
        return f"{title}, {unit}" if unit else title

    if chart["type"] == "stairs":
        return [titled(axis["title"], axis["kind"]) for axis in (chart["up"], chart["across"])]
    if chart["type"] != "curve":
        return []
    across = chart["across"]
    foot = across["title"] if across["clock"] else titled(across["title"], across["kind"])
    return [*(titled(panel["title"], panel["kind"]) for panel in chart["panels"]), foot]


def written_bar(content: Content, chart: dict[str, Any], value: float) -> str:
    return text_of(content, value, chart["kind"], "us")


def strip_ends(content: Content, chart: dict[str, Any]) -> list[str]:
    """Both ends of the scale of each reading, with their units."""
    ends = []
    for strip in chart["strips"]:
        known = [*strip["reading"], *strip["model"], strip["study"]]
        places = [value for value in known if value is not None]
        ends += [text_of(content, end, strip["kind"], "us") for end in (min(places), max(places))]
    return ends


def test_every_section_is_drawn(page: Page, shelf: Shelf, screen: Screen) -> None:
    content = shelf.content("starter")
    assert [one["key"] for one in content["sections"]] == [
        "steps",
        "sweep",
        "lineup",
        "cycle",
        "day",
        "sure",
    ]
    for one in content["sections"]:
        place = page.locator(f"#section-{one['key']}")
        assert place.locator("h2").inner_text() == one["title"]
        for chart in [chart for part in (one, *one["groups"]) for chart in part["charts"]]:
            figure = place.locator(f"#curve-{chart['key']}")
            figure.scroll_into_view_if_needed()
            settle(page)
            titles = figure.locator(".axis-title").all_text_contents()
            assert titles == axis_titles(content, chart)
            if chart["type"] == "stairs":
                kept = sum(spot["kept"] for spot in chart["spots"])
                assert figure.locator("circle.spot.kept").count() == kept
                assert figure.locator("path.spot.crossed").count() == len(chart["spots"]) - kept
                roles = [", ".join(spot["roles"]) for spot in chart["spots"] if spot["roles"]]
                assert figure.locator(".spot-role").all_text_contents() == roles
                edge = figure.locator("svg").bounding_box()
                for words in figure.locator(".spot-role").all():
                    box = words.bounding_box()
                    assert box is not None
                    assert edge is not None
                    assert edge["x"] <= box["x"]
                    assert box["x"] + box["width"] <= edge["x"] + edge["width"]
                continue
            if chart["type"] == "bars":
                bars = [written_bar(content, chart, bar["value"]) for bar in chart["bars"]]
                assert figure.locator(".row-bar + text").all_text_contents() == bars
                continue
            if chart["type"] == "strips":
                ends = figure.locator(".strip-end").all_text_contents()
                assert ends == strip_ends(content, chart)
                assert figure.locator(".strip.reading").count() == len(chart["strips"])
                assert figure.locator(".strip.model").count() == len(chart["strips"])
                continue
            lines = figure.locator("path.series")
            assert lines.count() == sum(len(panel["series"]) for panel in chart["panels"])
            for path in lines.all():
                d = path.get_attribute("d") or ""
                assert d.startswith("M")
                assert "NaN" not in d
                box = path.bounding_box()
                assert box is not None
                assert box["width"] > 0.3 * screen["width"] / 2
            panels = chart["panels"]
            names = [one["name"] for panel in panels for one in panel["series"]]
            assert figure.locator(".legend-item").all_text_contents() == names
            heads = [f"{panel['title']}: " for panel in panels] if len(panels) > 1 else []
            assert figure.locator(".legend-panel > b").all_text_contents() == heads
            words = figure.locator(".level-name, .band-name, .mark-number, .axis-title")
            assert overlapping(words.evaluate_all(BOXES)) == []


CUT = """() => [...document.querySelectorAll("figure.chart svg")].flatMap(svg => {
    const edge = svg.getBoundingClientRect(), { id } = svg.closest("figure");
    return [...svg.querySelectorAll("text")]
        .map(text => [text.textContent, text.getBoundingClientRect()])
        .filter(([, box]) => box.left < edge.left - 0.25 || box.right > edge.right + 0.25)
        .map(([words]) => `${id}: ${words}`);
})"""


def test_no_figure_is_cut_at_the_edge_of_a_chart(opened: Opener) -> None:
    """Of all charts, where money runs to millions; at desk, phone and small phone."""
    page = opened("dear")
    for width, system in ((1280, "us"), (360, "us"), (390, "metric")):
        page.set_viewport_size({"width": width, "height": 844})
        page.locator(f"input[value={system}]").check(force=True)
        settle(page)
        assert page.evaluate(CUT) == [], (width, system)
        options = page.locator("#section-steps .option")
        assert options.all_inner_texts() == ["--no-such-option", "--fitted"]
        assert options.evaluate_all("all => all.map(one => one.getClientRects().length)") == [1, 1]
        options.first.evaluate("one => { one.parentElement.style.display = 'block'; }")
        options.first.evaluate("one => { one.parentElement.style.width = '4rem'; }")
        assert options.evaluate_all("all => all.map(one => one.getClientRects().length)") == [1, 1]
    figures = page.locator("#curve-lineup svg text").all_text_contents()
    assert any(re.fullmatch(r"\d+(\u202f\d{3}){2}", words) for words in figures)


def test_a_step_of_the_plan_opens_its_sheet_and_stands_in_the_charts(
    page: Page, shelf: Shelf
) -> None:
    content = shelf.content("starter")
    plan = content["plan"]
    assert plan is not None
    for chart in PAIRS:
        assert page.locator(f"#{chart} .plan-step").count() == plan["count"]
    last = plan["count"] - 1
    page.locator("#section-steps table").first.locator("tbody button").nth(last).click()
    settle(page)
    assert page.locator("#sheet-title").inner_text() == f"Step {last + 1} of the plan"
    time = content["columns"][plan["results"]["cycle.total_s"]]
    value = time[last] if isinstance(time, list) else time
    assert page.locator(".headline").inner_text() == text_of(content, value, "time", "us")
    assert page.locator("#sheet .message").count() == 0
    place = page.locator("#pair-time-outlay .plan-step").nth(last).bounding_box()
    ring = page.locator("#pair-time-outlay circle.chosen").bounding_box()
    assert place is not None
    assert ring is not None
    assert abs(place["x"] + place["width"] / 2 - ring["x"] - ring["width"] / 2) < 1.0
    page.locator("#pin").click()
    assert "Step" in page.locator("#compare thead").inner_text()


def unfold_all(page: Page, table: dict[str, Any]) -> None:
    """Show all rows of a table, by the button that says how many there are."""
    count = len(table["rows"])
    if table["shown"] == count:
        return
    button = page.get_by_role("button", name=f"Show all {count}: {table['title']}")
    assert button.get_attribute("aria-expanded") == "false"
    button.click()


def test_a_long_table_is_unfolded_and_folded_again(page: Page, shelf: Shelf) -> None:
    tables: list[dict[str, Any]] = section(shelf.content("starter"), "steps")["tables"]  # type: ignore[assignment]
    table = next(one for one in tables if one["shown"] < len(one["rows"]))
    rows = page.get_by_role("region", name=table["title"]).get_by_role("row")
    assert rows.count() == 1 + table["shown"] == 9
    unfold_all(page, table)
    assert rows.count() == 1 + len(table["rows"])
    last = table["rows"][-1][0]
    assert rows.last.get_by_role("rowheader").inner_text() == last
    page.get_by_role("button", name=f"Show the first 8 only: {table['title']}").click()
    assert rows.count() == 9


SAYS_NOTHING = """cells => cells.filter(cell => !cell.textContent.trim())
    .map(cell => cell.dataset.head)"""


def test_single_parts_tell_what_each_brings_and_what_stops_it(
    page: Page, shelf: Shelf, screen: Screen
) -> None:
    """Out, back, force, heat and money of each part; on a phone every figure has its words."""
    content = shelf.content("starter")
    tables = {one["title"]: one for one in section(content, "steps")["tables"]}  # type: ignore[attr-defined]
    kinds = [next(key for key in tables if key.startswith(words)) for words in (
        "Single parts that are good", "Parts that are stopped alone", "Parts that are no good",
    )]  # fmt: skip
    for title in kinds:
        table = tables[title]
        place = page.get_by_role("region", name=title)
        assert place.get_by_role("row").count() == 1 + table["shown"] > 1
        unfold_all(page, table)
        shown = place.get_by_role("row").all()[1:]
        assert len(shown) == len(table["rows"])
        heads = [words for words, _ in table["head"]]
        if not title.startswith("Parts that are no good"):
            assert {
                "Off the way out", "Off the way back", "Force added", "Heat added", "Outlay",
            } <= set(heads)  # fmt: skip
        if title.startswith("Parts"):
            assert all(row[heads.index("Alone it")]["us"] for row in table["rows"])
        for row, cells in zip(shown, table["rows"], strict=True):
            texts = row.get_by_role("cell").all_inner_texts()
            for text, cell, (_, kind) in zip(texts, cells[1:], table["head"][1:], strict=False):
                if isinstance(cell, list):
                    assert text_of(content, cell[1], kind, "us") in text
        box, room = place.bounding_box(), place.evaluate("box => box.scrollWidth")
        assert box is not None
        if screen is PHONE:
            assert room <= box["width"] + 1.0
            first = shown[0].get_by_role("cell").first
            words = first.evaluate("cell => getComputedStyle(cell, '::before').content")
            assert words == f'"{heads[1]}"'
    if screen is PHONE:
        assert page.locator(".section-table .wide td:visible").evaluate_all(SAYS_NOTHING) == []


def test_limits_crossed_are_read_as_letter_and_in_words(page: Page, shelf: Shelf) -> None:
    group = section(shelf.content("starter"), "sweep")["groups"][0]  # type: ignore[index]
    chart = group["charts"][0]
    figure = page.locator(f"#curve-{chart['key']}")
    figure.scroll_into_view_if_needed()
    settle(page)
    legend = figure.locator(".letters li").all_text_contents()
    assert legend == [f"{one['letter']} {one['name']}" for one in chart["limits"]]
    figure.locator("svg").focus()
    page.keyboard.press("End")
    order = sorted(chart["spots"], key=lambda spot: (spot["x"], -spot["y"]))
    named = {one["letter"]: one["name"] for one in chart["limits"]}
    said = page.locator("#said").inner_text()
    assert said.startswith(order[-1]["name"])
    for letter in order[-1]["limits"]:
        assert named[letter] in said
    figure.get_by_role("button", name="Show numbers").click()
    rows = figure.locator(".numbers tbody tr")
    assert rows.count() == len(chart["spots"])
    assert order[0]["name"] in rows.first.inner_text()


def test_the_machine_to_stop_at_opens_its_sheet(page: Page, shelf: Shelf) -> None:
    place = page.locator("#section-sweep .section-table").first
    table = section(shelf.content("starter"), "sweep")["tables"][0]  # type: ignore[index]
    at = next(nth for nth, design in enumerate(table["designs"]) if design is not None)
    place.locator("tbody button").first.click()
    settle(page)
    assert sheet_number(page) == table["designs"][at] + 1


def test_models_by_number_are_whole(page: Page) -> None:
    figure = page.locator("#curve-lineup")
    figure.scroll_into_view_if_needed()
    settle(page)
    figure.locator("svg").focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    assert page.locator("#said").inner_text().startswith("Models at most: 2: shop and buyers")
    words = words_of(page.locator("#section-lineup"))
    assert "none: no machine of these lists is quick enough for them" in words
    marks = figure.locator(".marks-list").inner_text()
    assert re.search(r"best for shop and buyers together: [12]$", marks, re.MULTILINE)


def test_figures_in_sentences_follow_the_units(page: Page) -> None:
    cycle, day = page.locator("#section-cycle"), page.locator("#section-day")
    assert " psi" in words_of(cycle.locator("li"))
    assert "°F" in words_of(day.locator("figcaption"))
    page.locator("input[value=metric]").check(force=True)
    settle(page)
    assert " bar" in words_of(cycle.locator("li"))
    assert " psi" not in words_of(cycle)
    assert "°C" in words_of(day.locator("figcaption"))
    assert words_of(day.locator(".axis-title")).startswith("Temperature, °C")
    said = page.locator("#sections .both").all_text_contents()
    assert not [words for words in said if re.search(r"\d,\d{3}(?!\d)", words)]
    assert [words for words in said if re.search(r"\d\u202f\d{3}", words)]


def test_a_number_and_its_unit_stand_on_one_line(page: Page) -> None:
    said = "\n".join(page.locator("#sections .both").all_text_contents())
    for unit in ("psi", "USD", "s", "%", "h"):
        assert not re.search(rf"\d {unit}(?!\w)", said), unit
        assert re.search(rf"\d\u00a0{unit}(?!\w)", said) or unit in ("h", "psi"), unit


def test_a_curve_is_read_by_pointer_and_by_keys(page: Page) -> None:
    svg = page.locator("#curve-day svg")
    svg.scroll_into_view_if_needed()
    settle(page)
    box = svg.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 80)
    page.locator("#tip").wait_for(state="visible")
    assert re.match(r"\d\d:\d\d", page.locator("#tip .tip-title").inner_text())
    assert "oil" in page.locator("#tip").inner_text()
    page.mouse.move(5, 5)
    svg.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    said = page.locator("#said").inner_text()
    assert re.match(r"\d\d:\d\d: oil .*°F, air", said)


def test_keys_walk_along_the_stepped_line(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator("#pair-time-outlay svg").focus()
    page.keyboard.press("Home")
    settle(page)
    first = sheet_number(page) - 1
    page.keyboard.press("ArrowRight")
    settle(page)
    second = sheet_number(page) - 1
    assert known(content, "cycle.total_s", second) > known(content, "cycle.total_s", first)
    assert known(content, "cost.outlay", second) < known(content, "cost.outlay", first)
    page.keyboard.press("ArrowLeft")
    settle(page)
    assert sheet_number(page) - 1 == first


def test_keys_filter_along_an_axis(page: Page, shelf: Shelf) -> None:
    count = shelf.content("starter")["designs"]["count"]
    page.locator("#parallel canvas").focus()
    page.keyboard.press("ArrowRight")
    assert page.locator("#said").inner_text() == f"Out: all; {count} machines"
    for _ in range(8):
        page.keyboard.press("ArrowUp")
    settle(page)
    left = seen_marks(page, PAIRS[0])
    assert 0 < left < count
    assert page.locator("#said").inner_text().endswith(f"; {left} machines")
    assert page.locator("#parallel .chip").inner_text().startswith("Out ")
    page.keyboard.press("ArrowDown")
    settle(page)
    assert seen_marks(page, PAIRS[0]) >= left
    page.keyboard.press("Delete")
    settle(page)
    assert seen_marks(page, PAIRS[0]) == count


def test_contents_lead_to_every_part(page: Page) -> None:
    page.locator("#contents a", has_text="Oil over the day").click()
    settle(page)
    top = page.locator("#section-day").bounding_box()
    assert top is not None
    assert 0 <= top["y"] < PHONE["height"] / 2
    assert page.evaluate("document.activeElement.id") == "title-day"


# --- circuit ------------------------------------------------------------------------------------


def test_the_circuit_carries_the_numbers_of_the_machine(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    settle(page)
    for stroke in ("out", "back"):
        words = page.locator(f"#circuit-{stroke} svg .note").all_text_contents()
        places = content["designs"]["points"][stroke]
        for name, kind in (
            ("pump", "pressure"),
            ("cap", "pressure"),
            ("rod", "pressure"),
            ("tank_port", "pressure"),
            ("pump_flow", "flow"),
            ("cap_flow", "flow"),
            ("rod_flow", "flow"),
        ):
            column = content["columns"][places[name]]
            value = column[0] if isinstance(column, list) else column
            assert text_of(content, value, kind, "us") in words, (stroke, name)
        assert sum("ft/s" in word for word in words) == 5
    page.locator("input[value=metric]").check(force=True)
    settle(page)
    assert any("bar" in word for word in page.locator("#circuit-out .note").all_text_contents())


def test_the_hose_at_the_rod_end_carries_the_flow_of_the_model(page: Page) -> None:
    """In drawing and table, out and back, against the model and the bore of the hose."""
    study = starter()
    machine = fitted_machine(study)
    evaluation = Evaluation(machine, study.setting)
    bore = float(np.asarray(machine.work_hoses.inner_diameter).item())
    for stroke, points in (
        ("out", extend_points(evaluation)),
        ("back", retract_points(evaluation)),
    ):
        flow = float(np.asarray(points.rod_flow).item())
        gallons = flow * 60.0 / 3.785411784e-3
        feet = flow / (math.pi / 4.0 * bore**2) / 0.3048
        figure = page.locator(f"#circuit-{stroke}")
        notes = figure.locator('svg .note[x="472"]:is([y="128"], [y="143"])').all_text_contents()
        shown = [float(note.partition("\u00a0")[0]) for note in notes]
        assert shown == pytest.approx([gallons, feet], rel=0.006), stroke
        figure.get_by_role("button", name="Show numbers").click()
        cells = figure.locator("tbody tr", has_text="Rod end").locator("td").all_inner_texts()
        first = 0 if stroke == "out" else 3
        assert [float(cell) for cell in cells[first : first + 2]] == pytest.approx(
            [gallons, feet], rel=0.006
        ), stroke


def test_velocity_in_a_hose_is_its_flow_over_its_bore(page: Page, shelf: Shelf) -> None:
    page.locator("#circuit-back").get_by_role("button", name="Show numbers").click()
    cells = page.locator("#circuit-back tbody tr", has_text="Cap end").locator("td")
    flow, velocity = (float(cells.nth(at).inner_text()) for at in (3, 4))
    hose = next(one for one in shelf.content("starter")["categories"] if one["key"] == "work_hoses")
    name = hose["names"][hose["owned"]]
    inches = re.search(r"([\d/]+) in", name)
    assert inches is not None
    over, _, under = inches.group(1).partition("/")
    bore = float(over) / float(under or 1) * 0.0254
    area = 3.141592653589793 / 4 * bore**2
    metres = flow * 3.785411784e-3 / 60 / area
    assert velocity == pytest.approx(metres / 0.3048, rel=0.02)


# --- address ------------------------------------------------------------------------------------


def written_address(page: Page) -> str:
    page.wait_for_timeout(400)
    address: str = page.evaluate("location.hash")
    return address


def test_an_address_opens_the_same_view(
    page: Page, opened: Opener, shelf: Shelf, screen: Screen
) -> None:
    page.locator(ROWS).nth(2).click()
    page.locator("#pin").click()
    set_bound(page, "money", 2000)
    set_bound(page, "share", 0.5)
    unfold_filters(page)
    page.locator(".parts-filter summary").click()
    boxes = page.locator(".parts-filter input[type=checkbox]")
    boxes.last.uncheck()
    page.locator("#filter-alike").check()
    page.locator("#parallel canvas").focus()
    for key in ("ArrowRight", "ArrowUp", "ArrowUp", "ArrowRight", "ArrowUp"):
        page.keyboard.press(key)
    page.locator("input[value=metric]").check(force=True)
    settle(page)
    assert page.locator("#parallel .chip").count() == 2
    title = page.locator("#sheet-title").inner_text()
    left = seen_marks(page, PAIRS[0])
    address = written_address(page)
    assert 0 < left < shelf.content("starter")["designs"]["count"]
    again = opened(fragment=address, viewport=screen)
    settle(again)
    assert again.locator("#sheet-title").inner_text() == title
    assert seen_marks(again, PAIRS[0]) == left
    assert again.locator("html").get_attribute("data-units") == "metric"
    for place in ("#compare thead", "#shown-count", "#parallel .chips"):
        assert again.locator(place).inner_text() == page.locator(place).inner_text()
    assert not again.locator(".parts-filter input[type=checkbox]").last.is_checked()
    assert again.locator("#filter-alike").is_checked()
    assert written_address(again) == address


def test_a_fresh_page_has_a_plain_address(page: Page) -> None:
    assert written_address(page) == ""
    page.locator(ROWS).first.click()
    assert "machine=1" in written_address(page)
    page.locator("#own").click()
    assert written_address(page) == ""


@pytest.mark.parametrize(
    "words",
    [
        "machine=99999999&beside=Q1.A77.A1.B1.Bx&budget=NaN&force=1e999",
        "machine=step99&without-pump=0.0.-1.999999.x&axis-cycle.total_s=1&units=stone",
        "machine=<img src=x onerror=alert(1)>&budget=%3Cscript%3E&beside=%00",
    ],
)
def test_an_address_of_nonsense_does_no_harm(page: Page, shelf: Shelf, words: str) -> None:
    mark = shelf.content("starter")["mark"]
    page.evaluate("hash => { location.hash = hash; }", f"#of={mark}&{words}")
    settle(page)
    assert sheet_number(page) == 0
    assert page.locator("html").get_attribute("data-units") == "us"
    assert seen_marks(page, PAIRS[0]) > 0


def test_an_address_of_another_study_or_front_is_not_used(page: Page, shelf: Shelf) -> None:
    other = shelf.content("large")
    study = shelf.content("starter")["study"]["fingerprint"]
    assert other["study"]["fingerprint"] == study
    page.evaluate("hash => { location.hash = hash; }", f"#of={other['mark']}&machine=2")
    settle(page)
    assert sheet_number(page) == 0
    assert "another study" in page.locator("#said").inner_text()


# --- files and paper ----------------------------------------------------------------------------


def test_charts_are_saved_as_drawings_and_pictures(page: Page, tmp_path: Path) -> None:
    """One of each form as a drawing; as pictures, which are made of the drawings, two of them."""
    for chart in (
        "pair-time-outlay",
        "curve-cycle-loaded",
        "curve-enough",
        "curve-energy-idle",
        "curve-plan",
        "circuit-back",
        "timeline",
    ):
        figure = page.locator(f"#{chart}")
        figure.scroll_into_view_if_needed()
        settle(page)
        with page.expect_download() as got:
            figure.get_by_role("button", name="Save as SVG").click()
        path = tmp_path / f"{chart}.svg"
        got.value.save_as(path)
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        assert root.tag == f"{SVG}svg"
        assert root.find(f".//{SVG}text") is not None
        lines = [one for one in root.iter() if one.tag in (f"{SVG}path", f"{SVG}rect")]
        assert len(lines) >= (2 if chart in ("curve-enough", "curve-plan") else 4)
        assert all("var(" not in (one.get("style") or "") for one in root.iter())
        first = figure.locator("svg text").first.evaluate(
            "text => { const { fontSize, fontFamily } = getComputedStyle(text); "
            "return [fontSize, fontFamily.split(',')[0].replaceAll('\"', '')]; }"
        )
        words = root.find(f".//{SVG}text")
        assert words is not None
        assert all(part in words.get("style", "") for part in (f"font-size: {first[0]}", first[1]))
        under = figure.evaluate(LEGEND)
        legend = root.find(f"{SVG}g[@class='legend']")
        assert legend is not None
        assert "".join("".join(legend.itertext()).split()) == under["words"]
        assert len(legend.findall(f"{SVG}line") + legend.findall(f"{SVG}rect")) == under["signs"]
        if chart == "curve-plan":
            assert ("orderoftheplan" in under["words"], under["signs"]) == (True, 2)
        tall = max(float(one.get("y") or 0) for one in legend) if len(legend) else 0
        whole = figure.locator("svg").evaluate("svg => svg.viewBox.baseVal.height")
        assert float(root.get("height") or 0) > whole + tall - 1
        if chart not in ("pair-time-outlay", "circuit-back"):
            continue
        with page.expect_download() as got:
            figure.get_by_role("button", name="Save as PNG").click()
        picture = tmp_path / f"{chart}.png"
        got.value.save_as(picture)
        assert picture.read_bytes().startswith(b"\x89PNG")
        assert picture.stat().st_size > 5_000
    with page.expect_download() as got:
        page.locator("#parallel").get_by_role("button", name="Save as PNG").click()
    assert got.value.suggested_filename.endswith("-parallel.png")
    got.value.save_as(tmp_path / "parallel.png")
    picture = base64.b64encode((tmp_path / "parallel.png").read_bytes()).decode()
    named, explained, clear = page.evaluate(BAND, f"data:image/png;base64,{picture}")
    assert clear == 0, "the page's ground is under it"
    assert named > 150, "axes have their names"
    assert explained > 150, "there is a legend under them"


BAND = (
    "async address => {"
    + PICTURE
    + """
    const data = await pixelsOf(address);
    const ground = data.slice(0, 3);
    const unlike = some => {
        let count = 0;
        for (let at = 0; at < some.length; at += 4) {
            count += ground.some((one, nth) => Math.abs(one - some[at + nth]) > 60);
        }
        return count;
    };
    const width = document.querySelector("#parallel canvas").width + 32;
    const [head, foot] = [data.slice(0, 4 * 30 * width), data.slice(-4 * 40 * width)];
    const clear = [...head, ...foot].filter((one, at) => at % 4 === 3 && one < 255);
    return [unlike(head), unlike(foot), clear.length];
}"""
)
"""Pixels of the topmost 30 and the lowest 40 rows unlike the corner; seen through."""

LEGEND = """figure => {
    const under = figure.querySelectorAll(".marks-list, .legend:not(.swipe)");
    const texts = [...under].map(one => {
        const copy = one.cloneNode(true);
        copy.querySelectorAll(".tip-zoom").forEach(hint => hint.remove());
        return copy;
    });
    return {
        words: texts.map(one => one.textContent.replaceAll(/\\s/g, "")).join(""),
        signs: texts.flatMap(one => [...one.querySelectorAll("[aria-hidden], .swatch")])
            .filter(one => one.textContent === "" && one.childElementCount === 0).length,
    };
}"""
"""What stands under a chart to read it by: words without their blanks, and number of signs."""


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", io.BytesIO(pdf).read()))


LETTERS = """() => Math.min(...["out", "back"].flatMap(stroke => {
    const svg = document.querySelector(`#circuit-${stroke} svg`);
    const points = 0.75 * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    return [...svg.querySelectorAll("text")].map(
        one => points * parseFloat(getComputedStyle(one).fontSize));
}))"""
"""Smallest letters of the circuit's drawings in points, where a pixel is 1/96 in as on paper."""


def test_the_sheet_prints_on_one_page_with_letters_that_can_be_read(
    page: Page, shelf: Shelf, screen: Screen
) -> None:
    page.evaluate("() => { window.print = () => dispatchEvent(new Event('beforeprint')); }")
    page.locator(ROWS).nth(1).click()
    page.locator("#print-sheet").click()
    settle(page)
    page.emulate_media(media="print")
    content = shelf.content("starter")
    assert page.locator("#sheet-title").is_visible()
    assert page.locator("#circuit-out svg").is_visible()
    assert not page.locator("#list").is_visible()
    words = page.locator("body").inner_text()
    assert content["study"]["title"] in words
    assert "not a certificate" in words
    for paper, wide in (("A4", 210.0), ("Letter", 215.9)):
        page.locator("#print-sheet").evaluate("button => button.click()")
        page.set_viewport_size({"width": int((wide - 2 * 11.0) / 25.4 * 96.0), "height": 900})
        assert page.evaluate(LETTERS) >= 6.0
        assert pages_of(page.pdf(format=paper)) == 1
    page.set_viewport_size(screen)
    page.emulate_media(media="screen")


def test_the_waterfall_leads_from_yours_to_this_machine(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    texts = page.locator("#sheet .waterfall .seconds-value").all_inner_texts()
    before, *changes, after = (
        float(text.removesuffix("\u00a0s").replace("−", "-").replace("±", "")) for text in texts
    )
    assert len(changes) == 4
    assert before + sum(changes) == pytest.approx(after, abs=0.03)
    assert after == pytest.approx(known(content, "work.piece_period_s", 0), abs=0.006)


def test_what_a_part_adds_is_hatched_and_what_it_takes_away_is_plain(
    page: Page, shelf: Shelf
) -> None:
    content = shelf.content("starter")
    keys = ("cycle.retract_s", "cycle.reversal_s", "cycle.loaded_total_s", "work.piece_period_s")

    def seconds(values: list[float]) -> list[float]:
        back, reversals, loaded, piece = values
        return [loaded - back - reversals, reversals, back, piece - loaded]

    mine = seconds([owned(content, key) for key in keys])

    def most_and_least(index: int) -> tuple[float, float]:
        here = seconds([known(content, key, index) for key in keys])
        changes = [one - other for one, other in zip(here, mine, strict=True)]
        return max(changes), -min(changes)

    index = max(range(content["designs"]["count"]), key=lambda one: min(most_and_least(one)))
    page.evaluate("hash => { location.hash = hash; }", f"#of={content['mark']}&machine={index + 1}")
    settle(page)
    rows = page.locator("#sheet .waterfall .fall:not(.sum)").evaluate_all(
        """rows => rows.map(row => [row.querySelector(".seconds-value").textContent[0],
            getComputedStyle(row.querySelector(".seconds-bar i")).backgroundImage])"""
    )
    assert {"+", "−"} <= {sign for sign, _ in rows}
    for sign, image in rows:
        assert image.startswith("repeating-linear-gradient") == (sign == "+")


def test_hands_and_ram_share_the_time_that_the_model_says(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator(ROWS).first.click()
    settle(page)
    words = page.locator("#timeline figcaption p").inner_text()
    assert text_of(content, content["hands_s"], "time", "us") in words
    assert text_of(content, known(content, "work.hidden_s", 0), "time", "us") in words
    groups = page.locator("#timeline svg .row-name").all_text_contents()
    assert groups == ["The machine you have", "Machine 1"]
    bars = page.locator("#timeline svg .stretch").evaluate_all(
        "bars => bars.map(bar => [Number(bar.getAttribute('x')),"
        " Number(bar.getAttribute('width'))])"
    )
    (first, _), *_, (hands, long) = bars[5:]
    scale = (hands + long - first) / known(content, "work.piece_period_s", 0)
    reversal, back = known(content, "cycle.reversal_s", 0), known(content, "cycle.retract_s", 0)
    out = known(content, "cycle.loaded_total_s", 0) - reversal - back
    seconds = [width / scale for _, width in bars[5:]]
    expected = [reversal / 2, out, reversal / 2, back, content["hands_s"]]
    assert seconds == pytest.approx(expected, abs=1.01 / scale)
    ends = [x + width for x, width in bars[5:8]]
    assert ends == pytest.approx([x for x, _ in bars[6:9]], abs=1.01)


def test_a_dot_can_still_be_chosen_where_a_step_stands_near(page: Page) -> None:
    page.mouse.click(*dot_of(page, "pair-time-outlay", 0))
    settle(page)
    assert page.locator("#sheet-title").inner_text() != "The machine you have"
