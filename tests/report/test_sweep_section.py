"""The sweeps of the page: which they are, whose figures they show, and where advice flips."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimise.columns import Array
from optimise.machine.evaluation import Evaluation
from optimise.machine.sheet import sheet_of
from optimise.report import sweep_section as sweep_section_module
from optimise.report.charts import Group, Section, Stairs
from optimise.report.sources import Sources
from optimise.report.sweep_answer import sweep_answer
from optimise.report.sweep_section import sweep_section
from optimise.report.sweep_words import KNEE, NOW, STOP, advice, doubt_sentences
from optimise.report.text import round_money
from optimise.search.front import find_front
from optimise.search.sweep import sweep
from optimise.search.usual_sweeps import gain_of_parts, usual_dimensions
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import fitted_machine, space_of
from optimise.study.starter import write_starter
from tests.report.example import empty_study, kept_content, starter

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def sources() -> Sources:
    study = starter()
    space = space_of(study)
    return Sources(study, space, find_front(space, study.setting))


@pytest.fixture(scope="module")
def section(sources: Sources) -> Section:
    found = sweep_section(sources)
    assert found is not None
    return found


def chart_of(group: Group) -> Any:
    (chart,) = group["charts"]
    return chart


def figures(row: list[Any]) -> list[float]:
    return [cell[1] for cell in row if isinstance(cell, list)]


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_usual_sweeps_follow_the_rule_that_is_stated(name: str) -> None:
    study = load_study(STUDIES / name)
    *lists, turned = usual_dimensions(study)
    assert len(lists) == 2
    gains = {}
    base = float(Evaluation(fitted_machine(study), study.setting).split_period)
    for category in study.lists:
        put_on = [
            dataclasses.replace(study, fitted={**study.fitted, category: part})
            for part in study.allowed[category]
        ]
        periods = [float(Evaluation(fitted_machine(o), o.setting).split_period) for o in put_on]
        gains[category] = max(base - min(periods), 0.0)
    assert {one.key for one in lists} == set(sorted(gains, key=lambda key: -gains[key])[:2])
    assert gain_of_parts(study, "pump") == pytest.approx(gains["pump"])
    assert turned.key in ("rod.diameter", "bore.diameter")
    assert turned.category not in {one.key for one in lists}
    assert turned.values is not None
    sizes = np.asarray(study.lists[turned.category].parts.diameter)
    assert (turned.values[0], turned.values[-1]) == (sizes.min(), sizes.max())


def test_figures_are_those_of_the_command(sources: Sources, section: Section) -> None:
    assert len(section["groups"]) == len(sources.sweeps) == 3
    for group, found in zip(section["groups"], sources.sweeps, strict=True):
        answer = sweep_answer(found)
        (table,) = group["tables"]
        assert len(table["rows"]) == len(answer["points"])
        for row, point in zip(table["rows"], answer["points"], strict=True):
            cycle, outlay = point["cycle"], [point["cost"]["outlay"]] if answer["stops"] else []
            assert figures(row)[: 6 + len(outlay)] == pytest.approx(
                [cycle["extend_s"], cycle["retract_s"], cycle["total_s"], point["force_N"],
                 point["work"]["pieces_per_h"], *outlay, point["useful_saved_s"]],
                rel=1e-5, abs=1e-9,
            )  # fmt: skip
            crossed = point["crossed"] + point["crossed_advisory"]
            assert len(str(row[-1]).split()) == len(crossed)
        said = " ".join(str(note[0]["us"]) for note in group["notes"])
        for sentence in answer["advice"]:
            assert sentence in said


def test_stairs_stop_and_limits_stand_in_the_chart(sources: Sources, section: Section) -> None:
    for group, found in zip(section["groups"][:2], sources.sweeps, strict=False):
        chart: Stairs = chart_of(group)
        assert chart["type"] == "stairs"
        (stop,) = sweep_answer(found)["stops"]
        walked = [chart["spots"][at] for at in chart["steps"]]
        assert [spot["x"] for spot in walked] == pytest.approx(
            [one["outlay"] for one in stop["stairs"]]
        )
        assert all(spot["kept"] for spot in walked)
        for role, stair in ((STOP, stop["worth_stair"]), (KNEE, stop["knee_stair"])):
            assert [role in spot["roles"] for spot in walked] == [
                nth == stair for nth in range(len(walked))
            ]
        assert sum(NOW in spot["roles"] for spot in chart["spots"]) == 1
        named = {one["letter"]: one["name"] for one in chart["limits"]}
        titles = {one.limit.name: one.limit.title for one in found.sheet.limits}
        for spot, point in zip(chart["spots"], sweep_answer(found)["points"], strict=False):
            assert spot["kept"] is point["feasible"]
            words = {named[letter].removesuffix(" (advisory)") for letter in spot["limits"]}
            assert words == {titles[one] for one in point["crossed"] + point["crossed_advisory"]}
            assert bool(spot["limits"]) or spot["kept"]


def test_crossings_are_marked_on_the_curve(sources: Sources, section: Section) -> None:
    chart = chart_of(section["groups"][2])
    assert chart["type"] == "curve"
    answer = sweep_answer(sources.sweeps[2])
    assert answer["crossings"]
    marks = [one for one in chart["marks"] if one["sign"] != NOW]
    expected = sorted((one["value"], one["kept"]) for one in answer["crossings"])
    assert [one["value"] for one in marks] == pytest.approx(
        [value for value, _ in expected], rel=1e-5
    )
    sides = {"below": "above ", "above": "below "}
    assert [one["before"] for one in marks] == [sides[kept] for _, kept in expected]
    for point in answer["points"]:
        (value,) = point["at"]
        inside = any(band["start"] < value < band["end"] for band in chart["bands"])
        edge = any(value in (band["start"], band["end"]) for band in chart["bands"])
        assert inside is not point["feasible"] or edge


def per_piece(study: Study, results: Mapping[str, Array]) -> Array:
    """Time per piece that is split, by pieces an hour."""
    use = study.setting.work.utilisation * study.setting.pieces_per_stroke
    return np.asarray(3600.0 * use / results["work.pieces_per_h"])


def test_the_whole_list_stops_by_the_same_rule(sources: Sources, section: Section) -> None:
    (chart,) = section["charts"]
    walked = [chart["spots"][at] for at in chart["steps"]]
    x, y = (np.array([spot[key] for spot in walked]) for key in ("x", "y"))
    assert np.all(np.diff(x) > 0.0)
    assert np.all(np.diff(y) < 0.0)
    base = sheet_of(fitted_machine(sources.study), sources.study.setting).results
    left = float(base["work.second_worth"]) * (y[0] - y) - x
    (best,) = [nth for nth, spot in enumerate(walked) if STOP in spot["roles"]]
    assert left[best] == pytest.approx(left.max(), abs=0.01)
    (table,) = section["tables"]
    assert table["designs"][0] == walked[best]["design"]
    if walked[best]["design"] is None and best > 0:
        assert walked[best]["name"] in str(table["rows"][0][-1])
    results = sources.answer.sheet.results
    for spot in walked:
        if spot["design"] is not None:
            assert spot["y"] == pytest.approx(
                per_piece(sources.study, results)[spot["design"]], rel=1e-5
            )
            assert results["force_N"][spot["design"]] >= base["force_N"] * (1.0 - 1e-9)


def test_no_machine_that_keeps_the_limits_leaves_more_than_the_stop_of_the_whole_list(
    sources: Sources, section: Section
) -> None:
    """The stop is sought among all machines, so also off the front by cycle without a log."""
    (chart,) = section["charts"]
    (stop,) = [spot for spot in chart["spots"] if STOP in spot["roles"]]
    study = sources.study
    base = sheet_of(fitted_machine(study), study.setting).results
    worth = float(base["work.second_worth"])

    def left(period: np.ndarray, outlay: np.ndarray) -> np.ndarray:
        return worth * (float(per_piece(study, base)) - period) - outlay

    for results in (
        sources.steps.front.sheet.results,
        sources.answer.sheet.results,
        sources.steps.plan.sheet.results if sources.steps.plan else {},
    ):
        strong = results["force_N"] >= base["force_N"] * (1.0 - 1e-9)
        best = left(per_piece(study, results)[strong], results["cost.outlay"][strong]).max()
        assert best <= left(np.array(stop["y"]), np.array(stop["x"])) + 0.02 * worth


def test_without_a_worth_only_the_knee_speaks() -> None:
    study = starter()
    money = dataclasses.replace(study.setting.money, hourly_worth=0.0)
    poor = dataclasses.replace(study, setting=dataclasses.replace(study.setting, money=money))
    space = space_of(poor)
    section = sweep_section(Sources(poor, space, find_front(space, poor.setting)))
    assert section is not None
    assert "does not say what a saved hour is worth" in str(section["sentence"][0])
    spots = [spot for one in section["groups"][:2] for spot in chart_of(one)["spots"]]
    spots += section["charts"][0]["spots"]
    roles = {role for spot in spots for role in spot["roles"]}
    assert (STOP in roles, KNEE in roles) == (False, True)
    assert [row[0] for row in section["tables"][0]["rows"]] == ["Knee", "Least time"]


def test_an_empty_front_still_shows_what_one_thing_brings() -> None:
    found = {section["key"]: section for section in kept_content(empty_study)["sections"]}
    section = found["sweep"]
    assert section["charts"] == []
    for group in section["groups"][:2]:
        assert chart_of(group)["steps"] == []
        assert not any(spot["kept"] for spot in chart_of(group)["spots"])
        said = [note[0]["us"] for note in group["notes"]]
        assert said[0] == "No machine of this sweep keeps every hard limit."


def test_sweeps_of_ones_own_stand_in_place_of_the_usual_ones(
    tmp_path: Path, sources: Sources
) -> None:
    path = tmp_path / "mine"
    write_starter(path)
    study = load_study(path)
    wanted = (["pump", "rod"], ["oil.grade=32 | 46"], ["rod", "surroundings.altitude=0..2000 m"])
    sweeps = [sweep(path, (), study, texts, None) for texts in wanted]
    section = sweep_section(Sources(study, sources.space, sources.answer, sweeps=sweeps))
    assert section is not None
    titles = [one["title"] for one in section["groups"]]
    assert titles == ["Pump and rod", "Oil grade", "Rod and altitude"]
    both, words, line = section["groups"]
    points = len(study.allowed["pump"]) * len(study.allowed["rod"])
    assert len(chart_of(both)["spots"]) == points
    assert words["charts"] == line["charts"] == []
    assert len(words["tables"][0]["rows"]) == 2
    assert any("Letters of limits" in str(note[0]) for note in line["notes"])
    assert "limits aside" not in str(section["sentence"][0])


def test_a_long_table_is_cut_to_the_stairs(sources: Sources, tmp_path: Path) -> None:
    write_starter(tmp_path / "mine")
    study = load_study(tmp_path / "mine")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sweep_section_module, "LISTED_POINTS", 3)
        found = sweep(tmp_path / "mine", (), study, ["pump", "rod"], None)
        section = sweep_section(Sources(study, sources.space, sources.answer, sweeps=[found]))
    assert section is not None
    (table,) = section["groups"][0]["tables"]
    assert table["title"] == "Pump and rod: the stairs"
    assert len(table["rows"]) == len(found.stops[0].stairs)


def test_sentences_keep_their_small_letters_and_units() -> None:
    path = STUDIES / "kvarnby"
    study = load_study(path)
    warm = sweep(path, (), study, ["surroundings.air_temperature=-20..40 degC"], None)
    (_, edges) = advice(warm)
    assert "°C viscosity at the steady temperature is crossed (cool the oil" in edges
    pumps = sweep(path, (), study, ["pump"], None)
    for sentence in [*advice(pumps), *doubt_sentences(pumps, pumps.stops[0])]:
        _, _, after = sentence.partition(", but crosses ")
        assert after == after.lower() or "Stop time" in after
    high = sweep(path, (), study, ["surroundings.altitude=0..2000 m"], None)
    us = dataclasses.replace(high, study=dataclasses.replace(study, system="us"))
    assert "0 ft to 6562 ft" in advice(us)[0]


def test_money_for_a_second_is_round() -> None:
    assert round_money([0.0096]) == 1000
    assert round_money([0.5, 0.0002]) == 100
    assert round_money([]) == 100
