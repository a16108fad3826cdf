"""Sections of the page against what they are made of."""

from __future__ import annotations

import dataclasses
import json
import re
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from optimise.errors import CallError
from optimise.machine.day import warm_up
from optimise.machine.transient import simulate_cycle
from optimise.report import sources as sources_module
from optimise.report.charts import Piece, Section, amount, table_of
from optimise.report.cycle_words import kept_points
from optimise.report.next_steps import Wish, next_steps
from optimise.report.sections import sections_of
from optimise.report.sources import Sources
from optimise.search.front import find_front
from optimise.study.space import fitted_machine, searched_space, space_of
from tests.report.example import empty_study, kept_content, starter


@pytest.fixture(scope="module")
def sources() -> Sources:
    study = starter()
    space = space_of(study)
    return Sources(study, space, find_front(space, study.setting))


@pytest.fixture(scope="module")
def found(sources: Sources) -> dict[str, Section]:
    return {section["key"]: section for section in sections_of(sources)}


def line(section: Section, chart: str, name: str) -> tuple[np.ndarray, np.ndarray]:
    [curve] = [one for one in section["charts"] if one["key"] == chart]
    [series] = [one for panel in curve["panels"] for one in panel["series"] if one["name"] == name]
    return np.array(series["x"]), np.array(series["y"])


def test_all_is_plain_data_without_a_hole(found: dict[str, Section]) -> None:
    assert list(found) == ["steps", "sweep", "cycle", "day", "sure"]
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert all(section["sentence"] or section["charts"] for section in found.values())


def test_the_plan_is_that_of_steps(sources: Sources, found: dict[str, Section]) -> None:
    study = sources.study
    plan = next_steps(study, Wish()).plan
    assert plan is not None
    outlay, time = line(found["steps"], "plan", "order of the plan")
    assert outlay == pytest.approx(plan.sheet.results["cost.outlay"], rel=1e-5)
    assert time == pytest.approx(plan.sheet.results["work.split_period_s"], rel=1e-5)
    best_outlay, best_time = line(found["steps"], "plan", "quickest for the money")
    for spent, seconds in zip(outlay, time, strict=True):
        reached = best_time[best_outlay <= spent * (1.0 + 1e-9)]
        assert reached.min() <= seconds * (1.0 + 1e-5)
    [table] = [one for one in found["steps"]["tables"] if one["title"].startswith("The plan")]
    assert table["designs"] == [-1 - nth for nth in range(1, len(plan.rows))]


def test_single_parts_stand_by_the_seconds_off_a_piece_for_the_money(
    found: dict[str, Section],
) -> None:
    [table] = [one for one in found["steps"]["tables"] if one["title"].startswith("Single parts")]
    heads = [title for title, _ in table["head"]]
    alone = table["rows"]
    assert len(alone) >= 3

    def figure(row: list[Any], title: str) -> float:
        _, value = row[heads.index(title)]
        return float(value)

    seconds = [figure(row, "Off a piece") for row in alone]
    money = [figure(row, "Outlay") for row in alone]
    rates = [one / other for one, other in zip(seconds, money, strict=True)]
    assert rates == sorted(rates, reverse=True)
    [last] = [title for title in heads if title.startswith("Off a piece for each")]
    each = float(last.split()[-2].replace(",", ""))
    for row, rate in zip(alone, rates, strict=True):
        assert figure(row, last) == pytest.approx(each * rate, rel=1e-4)


def test_the_traces_are_those_of_the_simulation(found: dict[str, Section]) -> None:
    study = starter()
    trace = simulate_cycle(fitted_machine(study), study.setting)
    times, position = line(found["cycle"], "cycle-idle", "way out of the ram")
    pressure = line(found["cycle"], "cycle-idle", "pump")[1]
    assert len(times) < 0.5 * len(trace.times)
    asked = np.linspace(0.0, float(trace.times[-1]), 400)
    room = 0.01 * float(trace.position.max())
    off = np.interp(asked, times, position) - np.interp(asked, trace.times, trace.position)
    assert np.abs(off).max() < room
    off = np.interp(asked, times, pressure) - np.interp(asked, trace.times, trace.pump_pressure)
    assert np.abs(off).max() < 0.01 * trace.highest_pump_pressure


def test_the_day_is_that_of_the_day_command(found: dict[str, Section]) -> None:
    study = starter()
    day = warm_up(fitted_machine(study), study.setting)
    times, oil = line(found["day"], "day", "oil")
    asked = np.linspace(float(day.times[0]), float(day.times[-1]), 300)
    off = np.interp(asked, times, oil) - np.interp(asked, day.times, day.temperature)
    assert np.abs(off).max() < 0.5
    peak = next(
        piece[1] for piece in found["day"]["charts"][0]["sentence"] if isinstance(piece, list)
    )
    assert peak == pytest.approx(float(day.peak_temperature), abs=0.01)


def test_shares_are_shares(found: dict[str, Section]) -> None:
    bars = [one for section in found.values() for one in section["charts"] if one["type"] == "bars"]
    assert len(bars) >= 3
    for chart in bars:
        values = [bar["value"] for bar in chart["bars"]]
        assert values == sorted(values, reverse=True)
        assert all(0.0 < value <= 1.0 for value in values)
        if chart["key"].startswith("energy"):
            assert sum(values) == pytest.approx(1.0, abs=0.02)


def test_words_stand_in_both_unit_systems(found: dict[str, Section]) -> None:
    said = [note[0] for note in found["cycle"]["notes"]]
    assert len(said) == 2
    for words in said:
        assert isinstance(words, dict)
        assert "psi" in words["us"]
        assert "bar" in words["metric"]
        assert "psi" not in words["metric"]


def test_a_section_that_fails_says_why(sources: Sources, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_study: object) -> None:
        raise CallError("the ram cannot be followed")

    monkeypatch.setattr(sources_module, "cycles_of", fails)
    fresh = Sources(sources.study, sources.space, sources.answer, sources.knowledge)
    found = {section["key"]: section for section in sections_of(fresh)}
    assert found["cycle"]["sentence"] == [
        "This could not be worked out: the ram cannot be followed"
    ]
    assert found["day"]["charts"]


def test_single_parts_are_ranked_by_what_the_table_shows(sources: Sources) -> None:
    [section] = [one for one in sections_of(sources) if one["key"] == "steps"]
    [table] = [one for one in section["tables"] if one["title"].startswith("Single parts")]
    heads = [head[0] for head in table["head"]]
    saved, outlay = heads.index("Off a piece"), heads.index("Outlay")
    alone: Any = table["rows"]
    unit = int(heads[-1].split()[-2].replace(",", ""))
    rates = [row[saved][1] / row[outlay][1] for row in alone]
    assert len(rates) > 3 and rates == sorted(rates, reverse=True)
    assert [row[-1][1] / unit for row in alone] == pytest.approx(rates, rel=1e-4)


def test_an_empty_front_leaves_out_what_needs_one() -> None:
    keys = [section["key"] for section in kept_content(empty_study)["sections"]]
    assert {"steps", "sweep", "cycle", "day", "sure"} <= set(keys)


def test_steps_start_from_the_machine_asked_about() -> None:
    study = starter()
    rod = next(name for name in study.lists["rod"].names if name != study.owned["rod"])
    asked = dataclasses.replace(study, fitted={**study.fitted, "rod": rod})
    space = searched_space(asked)
    answer = find_front(space, asked.setting)
    found = Sources(asked, space, answer).steps
    assert found.space.names(found.steps.owned)["rod"] == rod
    assert found.plan is None or all(
        found.space.names(row)["rod"] == rod for row in found.plan.rows
    )


@pytest.mark.parametrize("seed", range(20))
def test_thinned_columns_stay_within_their_tolerance(seed: int) -> None:
    chance = np.random.default_rng(seed)
    times = np.sort(chance.uniform(0.0, 10.0, 300))
    times[150] = times[149]
    columns = [np.cumsum(chance.normal(size=300)) * size for size in (1.0, 1e6)]
    columns[0][150:] += 5.0
    scale = [float(np.ptp(column)) for column in columns]
    kept = kept_points([times, *columns], scale, 0.02)
    assert (kept[0], kept[-1]) == (0, 299)
    assert np.all(np.diff(kept) > 0)
    for first, last in pairwise(kept):
        for place in range(first + 1, last):
            span = times[last] - times[first]
            share = (times[place] - times[first]) / span if span > 0.0 else 0.0
            for column, size in zip(columns, scale, strict=True):
                straight = column[first] + share * (column[last] - column[first])
                assert abs(column[place] - straight) <= 0.02 * size * (1.0 + 1e-9)


def test_a_column_in_which_no_row_says_anything_is_left_out() -> None:
    heads = [("Part", ""), ("A second more costs", "money"), ("Why", ""), ("Outlay", "money")]
    rows: list[list[Piece]] = [
        ["", "", {"us": "", "metric": ""}, amount("money", 5.0)],
        ["", "", {"us": "", "metric": ""}, amount("money", float("nan"))],
    ]
    table = table_of("Parts", heads, rows)
    assert table["head"] == [["Part", ""], ["Outlay", "money"]]
    assert [len(row) for row in table["rows"]] == [2, 2]
    rows[0][1] = amount("money", 7.0)
    assert [words for words, _ in table_of("Parts", heads, rows)["head"]] == [
        "Part", "A second more costs", "Outlay",
    ]  # fmt: skip


def test_quantities_in_sentences_have_their_thousands_grouped_and_names_stay(
    found: dict[str, Section],
) -> None:
    names = [name for prices in starter().lists.values() for name in prices.names]
    said = [
        words for words in said_in(list(found.values())) if re.search(r"\d{4,}|\d,\d{3}", words)
    ]
    assert [words for words in said if re.search(r"\d,\d{3} (lbf|psi)", words)]
    for words in said:
        rest = words
        for name in sorted(names, key=len, reverse=True):
            rest = rest.replace(name, "")
        assert not re.search(r"(?<![\d.,])\d{4,} (lbf|psi|USD|rpm|bar|kN)", rest), words


def said_in(part: object) -> list[str]:
    """All that is said once for each unit system, for US ones."""
    if isinstance(part, dict):
        if part.keys() == {"us", "metric"}:
            return [part["us"]]
        return [words for one in part.values() for words in said_in(one)]
    return [words for one in part for words in said_in(one)] if isinstance(part, list) else []
