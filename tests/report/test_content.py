"""Data of the page against the answer that it came from."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from optimise.machine.limits import limits_of
from optimise.machine.sheet import sheet_of
from optimise.report.content import Content, Designs, figure, report_content, rounded
from optimise.search.front import FrontAnswer, find_front
from optimise.study.model import Study
from optimise.study.space import Space, owned_machine, space_of
from tests.report.example import COMMAND, empty_study, kept_content, single_study, starter


@pytest.fixture(scope="module")
def study() -> Study:
    return starter()


@pytest.fixture(scope="module")
def space(study: Study) -> Space:
    return space_of(study)


@pytest.fixture(scope="module")
def answer(study: Study, space: Space) -> FrontAnswer:
    return find_front(space, study.setting)


@pytest.fixture(scope="module")
def content(study: Study, space: Space, answer: FrontAnswer) -> Content:
    return report_content(study, space, answer, COMMAND)


def numbers_in(tree: Any) -> Iterator[float]:
    if isinstance(tree, dict):
        for value in tree.values():
            yield from numbers_in(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from numbers_in(value)
    elif isinstance(tree, float):
        yield tree


def test_run_time_leaves_no_trace(
    study: Study, space: Space, answer: FrontAnswer, content: Content
) -> None:
    slower = dataclasses.replace(answer, seconds=answer.seconds + 100.0)
    assert report_content(study, space, slower, COMMAND) == content


def test_it_is_plain_json_without_a_hole(content: Content) -> None:
    assert json.loads(json.dumps(content, allow_nan=False)) == content


def test_figures_have_six_significant_digits(content: Content) -> None:
    for number in numbers_in(content["columns"]):
        assert float(f"{number:.6g}") == number


def test_no_column_is_kept_twice(content: Content) -> None:
    columns = [json.dumps(column) for column in content["columns"]]
    assert len(set(columns)) == len(columns)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_becomes_none(value: float) -> None:
    assert rounded(value) is None


def test_designs_have_the_figures_of_the_answer(content: Content, answer: FrontAnswer) -> None:
    designs = content["designs"]
    assert designs["count"] == len(answer.indices)
    for key, values in answer.sheet.results.items():
        place = designs["results"][key]
        shown = [figure(content, place, index) for index in range(designs["count"])]
        assert np.allclose(np.array(shown, dtype=float), values, rtol=1e-4, atol=0.0)
    for places, reading in zip(designs["limits"], answer.sheet.limits, strict=True):
        for what in ("value", "bound", "margin"):
            values = getattr(reading, what)
            for index in (0, designs["count"] - 1):
                assert figure(content, places[what], index) == rounded(float(values[index]))


def test_binding_limits_are_named(content: Content, answer: FrontAnswer) -> None:
    names = [content["limits"][at]["name"] for at in content["designs"]["binding"]]
    assert names == [str(name) for name in answer.sheet.binding]


def part_names(content: Content, designs: Designs, index: int) -> dict[str, str]:
    return {
        category["key"]: category["names"][column[index]]
        for category, column in zip(content["categories"], designs["parts"], strict=True)
    }


def test_designs_have_the_parts_of_the_answer(
    content: Content, space: Space, answer: FrontAnswer
) -> None:
    for index, row in enumerate(answer.indices):
        assert part_names(content, content["designs"], index) == space.names(row)


def test_parts_are_found_where_the_search_was_kept_to_some(study: Study) -> None:
    allowed = {
        category: tuple(name for name in names[::-1] if name == study.owned[category])
        if category in ("engine", "tank")
        else names[::-1]
        for category, names in study.allowed.items()
    }
    narrow = dataclasses.replace(study, allowed=allowed)
    space = space_of(narrow)
    answer = find_front(space, narrow.setting)
    content = report_content(narrow, space, answer, COMMAND)
    assert 0 < content["designs"]["count"] == len(answer.indices)
    for index, row in enumerate(answer.indices):
        assert part_names(content, content["designs"], index) == space.names(row)


def test_the_machine_owned_costs_nothing_and_has_its_own_sheet(
    content: Content, study: Study
) -> None:
    owned = content["owned"]
    sheet = sheet_of(owned_machine(study), study.setting)
    assert owned["count"] == 1
    assert part_names(content, owned, 0) == study.owned
    assert figure(content, owned["results"]["cost.outlay"], 0) == 0.0
    for key, value in sheet.results.items():
        assert figure(content, owned["results"][key], 0) == rounded(float(value))
    for category in content["categories"]:
        assert category["outlays"][category["owned"]] == 0.0


def test_every_limit_of_the_setting_is_there(content: Content, study: Study) -> None:
    limits = limits_of(study.setting)
    assert [entry["name"] for entry in content["limits"]] == [limit.name for limit in limits]
    for entry, limit in zip(content["limits"], limits, strict=True):
        assert (entry["kind"], entry["source"], entry["advice"]) == (
            limit.kind,
            limit.source,
            limit.advice,
        )
        assert entry["unit"] in content["kinds"]


def test_picks_are_what_they_are_called(content: Content, answer: FrontAnswer) -> None:
    results = answer.sheet.results
    machines = list(
        zip(results["cycle.total_s"], results["force_N"], results["cost.outlay"], strict=True)
    )
    own = content["owned"]["results"]
    own_time = figure(content, own["cycle.total_s"], 0)
    own_force = figure(content, own["force_N"], 0)
    assert own_time is not None
    assert own_force is not None
    picks = content["picks"]
    assert picks["quickest"] is not None
    assert picks["strongest"] is not None
    assert picks["cheapest"] is not None
    assert machines[picks["quickest"]][0] == min(time for time, _, _ in machines)
    assert machines[picks["strongest"]][1] == max(force for _, force, _ in machines)
    better = [
        outlay
        for time, force, outlay in machines
        if time <= 0.9 * own_time and force >= own_force * (1.0 - 1e-4)
    ]
    assert machines[picks["cheapest"]][2] == min(better)


def test_an_empty_front_says_what_is_in_the_way() -> None:
    content = kept_content(empty_study)
    assert content["designs"]["count"] == 0
    assert content["picks"] == {"cheapest": None, "quickest": None, "strongest": None}
    first = content["blocking"][0]
    assert (first["title"], first["crossed"]) == ("Half a second", 1.0)
    assert 0.0 < first["alone"] < 1.0
    nearest = content["nearest"]
    assert nearest is not None
    assert nearest["count"] > 0
    margins = [figure(content, nearest["least_margin"], at) for at in range(nearest["count"])]
    assert all(margin is not None and margin < 0.0 for margin in margins)


def test_nearest_machines_are_there_for_an_empty_front_only(content: Content) -> None:
    assert content["nearest"] is None


def test_a_front_of_one_machine_has_single_figures() -> None:
    content = kept_content(single_study)
    assert content["designs"]["count"] == 1
    assert content["picks"]["cheapest"] is None
    assert content["picks"]["quickest"] == content["picks"]["strongest"] == 0
