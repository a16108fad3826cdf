"""The bench: the model in the page against the Python model, and what a person does with it."""

from __future__ import annotations

import dataclasses
import json
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page

from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.model_script import COUNTERPARTS
from optimise.report.page import SCRIPTS, page_script, render_page
from optimise.report.translator import translate
from optimise.study.load import load_study
from optimise.study.space import Space, machine_of
from tests.browser.conftest import READY, Opener, Shelf
from tests.browser.reading import sideways_scroll, text_of, until
from tests.browser.test_access import audit
from tests.report.example import content_of, starter

STUDIES = Path(__file__).parents[2] / "studies"
MACHINES = 1000
AGREEMENT = 1e-6
"""Relative difference allowed; the flow balance closes to 1e-10, steady oil to 1e-6 K. Half a
percent is asked for."""
OF_THE_BOUND = 1e-7
"""The same for a margin, which may be nothing: a share of the bound."""
FIGURES = """rows => JSON.stringify(rows.map(row => {
    const { results, limits } = document.getElementById("bench").figuresOf(row);
    const plain = value => Number.isFinite(value) ? value : String(value);
    return {
        results: [...results].map(([key, value]) => [key, plain(value)]),
        limits: limits.map(({ value, bound, margin }) => [value, bound, margin].map(plain)),
    };
}))"""


def numbers(values: list[Any]) -> NDArray[np.float64]:
    words = {"NaN": np.nan, "Infinity": np.inf, "-Infinity": -np.inf}
    return np.array([words[value] if isinstance(value, str) else value for value in values])


def assert_alike(
    what: str, here: NDArray[np.float64], model: NDArray[np.float64], allowed: float = 0.0
) -> None:
    model = np.broadcast_to(model, here.shape)
    unknown = ~np.isfinite(model)
    assert np.array_equal(here[unknown], model[unknown], equal_nan=True), what
    known = ~unknown
    worst = np.abs(here[known] - model[known]) - AGREEMENT * np.abs(model[known]) - allowed
    assert np.all(worst <= 0.0), f"{what}: {here[known][worst.argmax()]}"


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_the_page_gives_the_figures_of_the_model(
    opened: Opener, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page of a demonstration with its whole lists, a front of one and nothing below it."""
    monkeypatch.setattr("optimise.report.content.sections_of", lambda sources: [])
    study = load_study(STUDIES / name)
    owned_only = {category: (part,) for category, part in study.owned.items()}
    content = content_of(dataclasses.replace(study, allowed=owned_only))
    path = tmp_path / "page.html"
    path.write_text(render_page(content), encoding="utf-8")
    page = opened(path=path)
    space = Space(list(study.lists.values()))
    chance = np.random.default_rng(1)
    rows = np.stack([chance.integers(0, size, MACHINES) for size in space.sizes], axis=1)
    sheet: Sheet = sheet_of(space.machine(rows), study.setting)
    machines = json.loads(page.evaluate(FIGURES, rows.tolist()))
    assert [key for key, _ in machines[0]["results"]] == list(sheet.results)
    for at, (key, values) in enumerate(sheet.results.items()):
        assert_alike(key, numbers([one["results"][at][1] for one in machines]), values)
    assert len(machines[0]["limits"]) == len(sheet.limits)
    for at, reading in enumerate(sheet.limits):
        margin = (reading.margin, OF_THE_BOUND)
        for column, (values, allowed) in enumerate(
            ((reading.value, 0.0), (reading.bound, 0.0), margin)
        ):
            here = numbers([one["limits"][at][column] for one in machines])
            assert_alike(reading.limit.name, here, values, allowed)
    stages = sheet.results["stage.retract_high"]
    assert np.isnan(sheet.results["cycle.total_s"]).any()
    assert ((stages > 0.0) & (stages < 1.0)).any()


SEMANTICS = """
from dataclasses import dataclass, replace
from functools import cached_property
import numpy as np

WORDS = {"a": 1.0, "b": 2.0}
STEPS = (lambda x: x + 1.0, lambda x: x * 2.0)


@dataclass(frozen=True)
class Pair:
    one: float
    other: float = 5.0
    rest: tuple = ()

    def __add__(self, more):
        return Pair(self.one + more.one, self.other + more.other, self.rest + more.rest)

    @property
    def total(self):
        return self.one + self.other


class Counter:
    def __init__(self, start, *, step=1.0):
        self.start, self.step = start, step
        self.asked = 0.0

    @cached_property
    def answer(self):
        self.asked = self.asked + 1.0
        return self.start + self.step


def nothing(x):
    if x > 1.0:
        return x


def counted(values):
    seen = 0.0

    def look(value):
        nonlocal seen
        seen = seen + value

    for value in values:
        look(value)
    return seen


def first_over(values, bound=2.0):
    for value in values:
        if not value > bound:
            continue
        return value
    return None


def asked():
    pair = replace(Pair(1.0, rest=(7.0,)), other=3.0) + Pair(other=1.0, one=2.0, rest=(8.0, 9.0))
    counter = Counter(2.0, step=0.5)
    both = counter.answer + counter.answer
    switch = 3.0
    low, high = sorted_pair(4.0, switch)
    return [
        pair.one, pair.other, pair.total, pair.rest[-1], len(pair.rest), pair.rest[1:][0],
        both, counter.asked, low, high, nothing(0.0) is None, nothing(2.0),
        sum(WORDS[key] for key in WORDS if key != "b"), [step(3.0) for step in STEPS][1],
        counted((1.0, 2.0, 3.0)), first_over([1.0, 3.0]), first_over([1.0]) is None,
        first_over([4.0, 5.0], bound=4.5), 0.0 or 6.0, not (1.0 and ()), not (),
        np.where(np.isnan(np.nan) & ~(switch > 5.0), np.fmin(np.nan, 2.0), 0.0),
        float(np.maximum(-1.0, -np.inf)), 2.0 ** 3 if high > low else -1.0, (0.5,) * 2,
        list(zip((1.0, 2.0), [3.0, 4.0], strict=True)), list(reversed(range(3))),
        max(1.0, 2.0, 1.5), f"{'x'}y".lower(), next(x for x in (1.0, 2.0) if x > 1.0),
        {key: 2.0 * WORDS[key] for key in WORDS}["b"],
    ]


def sorted_pair(one, other):
    if one > other:
        one, other = other, one
    return one, other
"""


LANE = resources.files("optimise.report").joinpath("assets/scripts/lane.js").read_text("utf-8")


def blank(opened: Opener, folder: Path) -> Page:
    path = folder / "blank.html"
    path.write_text("<!doctype html><title>blank</title><p>blank</p>", encoding="utf-8")
    return opened(path=path, wait_for="p")


def test_the_subset_means_the_same_in_both_languages(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(tmp_path)
    (tmp_path / "meanings.py").write_text(SEMANTICS, encoding="utf-8")
    import meanings  # type: ignore[import-not-found]

    script = translate(["meanings.asked"], ("meanings",), COUNTERPARTS)
    here = blank(opened, tmp_path).evaluate(
        f"() => {{ {LANE}\n{script}\nreturn meanings$asked(); }}"
    )

    def plain(value: object) -> object:
        return [plain(one) for one in value] if isinstance(value, (tuple, list)) else value

    assert here == plain(meanings.asked())


def test_no_number_is_refused_where_one_must_be(opened: Opener, tmp_path: Path) -> None:
    page = blank(opened, tmp_path)
    for wrong in ("add(1, null)", "mul(true, 2)", "where(1, 2, 3)", "below([], 1)", "same({}, {})",
                  "both(1, true)", "full(2, 0)", "known({}.x)", "max()"):  # fmt: skip
        said = page.evaluate(
            f"() => {{ {LANE}\ntry {{ return lane.{wrong}; }}"
            " catch (error) { return error.name; } }"
        )
        assert said == "TypeError", wrong


def bench_figure(page: Page, key: str) -> list[str]:
    return page.locator(f'#bench tr[data-result="{key}"] td').all_inner_texts()


def crossing_part() -> tuple[str, int]:
    """A part of the starter that alone makes the machine owned cross a hard limit."""
    study = starter()
    for category, prices in study.lists.items():
        for at, name in enumerate(prices.names):
            sheet = sheet_of(machine_of(study, {category: name}), study.setting)
            crossed = [one for one in sheet.limits if not one.kept and one.limit.kind == "hard"]
            if len(crossed) >= 2:
                return category, at
    raise AssertionError("no part of the starter crosses a limit")


def test_a_part_is_put_on_and_taken_off(page: Page, shelf: Shelf) -> None:
    study, content = starter(), shelf.content("starter")
    before = bench_figure(page, "cycle.total_s")
    place = content["owned"]["results"]["cycle.total_s"]
    mine = content["columns"][place]
    assert not isinstance(mine, list)
    assert before == [text_of(content, mine, "time", study.system), "±0"]
    assert page.locator("#bench-back").is_disabled()
    assert page.locator("#bench-take").is_disabled()

    category, at = crossing_part()
    select = page.get_by_label(category.replace("_", " ").capitalize(), exact=True)
    assert select.bounding_box()["height"] >= 44  # type: ignore[index]
    select.select_option(str(at))
    sheet = sheet_of(machine_of(study, {category: study.lists[category].names[at]}), study.setting)
    for key, kind in (
        ("cycle.extend_s", "time"),
        ("cycle.total_s", "time"),
        ("cycle.loaded_total_s", "time"),
        ("force_N", "force"),
        ("oil.steady_degC", "temperature"),
        ("work.pieces_per_h", "count"),
        ("cost.outlay", "money"),
    ):
        figure = float(sheet.results[key])
        assert bench_figure(page, key)[0] == text_of(content, figure, kind, study.system)
    crossed = [one for one in sheet.limits if not one.kept]
    hard = [one for one in crossed if one.limit.kind == "hard"]
    warning = page.locator("#bench .crossed-hard").inner_text()
    assert "Do not run it like this" in warning
    for one in hard:
        assert one.limit.title in warning
        assert one.limit.advice in warning
    assert f"{len(hard)} hard limits crossed" in page.locator(".bench-strip").inner_text()
    page.locator("#bench .more-limits summary").first.click()
    until(page, "() => document.querySelector('#bench .more-limits .limit') !== null")
    shown = page.locator("#bench .limit").evaluate_all("all => all.map(one => one.dataset.limit)")
    margins = {one.limit.name: float(one.margin) for one in sheet.limits}
    order = [margins[name] for name in shown if name != "solution_found"]
    assert order == sorted(order)
    assert len(shown) == len(sheet.limits)
    assert "new" in page.locator(f'.bench-part[data-category="{category}"]').inner_text().lower()
    assert sideways_scroll(page) == 0
    assert audit(page, "#bench") == []

    until(page, "() => location.hash.includes('try=')")
    fragment = page.evaluate("location.hash")
    figures = bench_figure(page, "cycle.total_s")
    page.reload()
    page.wait_for_selector(READY, state="attached")
    assert page.evaluate("location.hash") == fragment
    assert bench_figure(page, "cycle.total_s") == figures
    page.locator("#bench-back").click()
    assert bench_figure(page, "cycle.total_s") == before
    assert page.locator(f"#bench-{category}").input_value() == str(
        study.lists[category].names.index(study.owned[category])
    )


def test_the_chosen_machine_is_taken(page: Page, shelf: Shelf) -> None:
    content = shelf.content("starter")
    page.locator("#list tbody tr[data-index]").nth(3).click()
    on_sheet = page.locator('#sheet tr[data-result="cycle.total_s"] td').first.inner_text()
    page.locator("#bench-take").click()
    assert bench_figure(page, "cycle.total_s")[0] == on_sheet
    for figure in ("force_N", "oil.steady_degC", "cost.outlay", "work.pieces_per_h"):
        there = page.locator(f'#sheet tr[data-result="{figure}"] td').first.inner_text()
        assert bench_figure(page, figure)[0] == there
    assert page.locator("#bench-take").is_disabled()
    page.locator("#bench-back").click()
    page.locator("#try-parts").click()
    assert page.evaluate("document.activeElement.id") == "bench-title"
    assert bench_figure(page, "cycle.total_s")[0] == on_sheet
    other = "metric" if content["study"]["units"] == "us" else "us"
    page.locator(f'input[name=units][value="{other}"]').check(force=True)
    there = page.locator('#sheet tr[data-result="force_N"] td').first.inner_text()
    assert bench_figure(page, "force_N")[0] == there


def test_lists_say_what_each_part_would_change(page: Page) -> None:
    study = starter()
    page.locator("#bench").scroll_into_view_if_needed()
    until(page, "() => document.getElementById('bench').dataset.hinted === 'yes'")
    mine = sheet_of(machine_of(study, {}), study.setting)
    category, at = crossing_part()
    name = study.lists[category].names[at]
    sheet = sheet_of(machine_of(study, {category: name}), study.setting)
    hard = [one for one in sheet.limits if not one.kept and one.limit.kind == "hard"]
    words = page.locator(f"#bench-{category} option").nth(at).inner_text()
    change = float(sheet.results["cycle.total_s"] - mine.results["cycle.total_s"])
    assert words.startswith(name[:20])
    assert words.endswith(f"crosses {len(hard)}")
    assert f"{abs(change):.2f}" in words or abs(change) < 0.005


WRITTEN_MS = 250
"""After this pause the page has written its address."""


def test_what_makes_no_machine_is_left_out_of_an_address(page: Page, shelf: Shelf) -> None:
    mark = shelf.content("starter")["mark"]
    last = [len(category["names"]) - 1 for category in shelf.content("starter")["categories"]]
    page.evaluate("hash => { location.hash = hash; }", f"of={mark}&try={'.'.join(map(str, last))}")
    until(page, "() => !document.getElementById('bench-back').disabled")
    for wrong in ("1.2", f"{last[0] + 1}" + ".0" * 12, "-1" + ".0" * 12):
        page.wait_for_timeout(WRITTEN_MS)
        page.evaluate("hash => { location.hash = hash; }", f"of={mark}&try={wrong}")
        until(page, "() => document.getElementById('bench-back').disabled")
        page.wait_for_timeout(WRITTEN_MS)
        page.locator("#bench-engine").select_option(str(last[0]))
        assert page.locator("#bench-back").is_enabled()


def test_the_run_time_stands_before_the_model() -> None:
    assert "lane" in SCRIPTS
    script = page_script()
    assert script.index("const lane =") < script.index("class parts$Machine")
