"""The two demonstration studies: sound, large, and worth asking the tool about."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import CATEGORIES
from optimise.machine.sheet import sheet_of
from optimise.search.front import FrontAnswer, find_front
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import machine_of, owned_machine, space_of

STUDIES = Path(__file__).parents[2] / "studies"
NAMES = ("alder-yard", "kvarnby")
READINGS = {
    "extend_time": "cycle.extend_s",
    "retract_time": "cycle.retract_s",
    "cycle_time": "cycle.total_s",
    "loaded_cycle_time": "cycle.loaded_total_s",
    "oil_temperature": "oil.steady_degC",
    "extend_pressure": "pressure.extend_pump_Pa",
    "retract_pressure": "pressure.retract_pump_Pa",
}


@pytest.fixture(scope="module", params=NAMES)
def study(request: pytest.FixtureRequest) -> Study:
    return load_study(STUDIES / request.param)


@pytest.fixture(scope="module")
def front(study: Study) -> FrontAnswer:
    return find_front(space_of(study), study.setting)


def owned_result(study: Study, key: str) -> float:
    return float(sheet_of(owned_machine(study), study.setting).results[key])


def test_says_first_that_it_is_invented(study: Study) -> None:
    first = (study.folder / "study.toml").read_text(encoding="utf-8").partition("\n")[0]
    assert first.startswith("# Invented: shop, machine, prices and measurements are made up")
    assert "Invented" in study.notes


def test_states_currency_date_and_title(study: Study) -> None:
    assert study.currency
    assert study.price_date
    assert study.title


def test_the_two_differ_in_units_currency_and_climate() -> None:
    us, metric = (load_study(STUDIES / name) for name in NAMES)
    assert (us.system, metric.system) == ("us", "metric")
    assert us.currency != metric.currency
    assert us.setting.surroundings.air_temperature > metric.setting.surroundings.air_temperature
    assert metric.setting.surroundings.cold_oil_temperature == pytest.approx(258.15)
    assert us.setting.oil != metric.setting.oil


def test_holds_a_thousand_million_machines_over_all_categories(study: Study) -> None:
    space = space_of(study)
    assert space.size >= 10**9
    assert sum(size > 1 for size in space.sizes) >= 12


def test_owned_parts_stand_in_the_lists_and_cost_nothing(study: Study) -> None:
    assert set(study.owned) == set(CATEGORIES)
    for category, prices in study.lists.items():
        at = prices.names.index(study.owned[category])
        outlays = np.asarray(prices.parts.outlay)
        assert outlays[at] == 0.0
        assert (np.delete(outlays, at) > 0.0).all(), category
    assert owned_result(study, "cost.outlay") == 0.0


def test_owned_machine_keeps_every_hard_limit_at_a_sensible_oil_temperature(study: Study) -> None:
    sheet = sheet_of(owned_machine(study), study.setting)
    crossed = [
        reading.limit.name
        for reading in sheet.limits
        if reading.limit.kind == "hard" and not bool(reading.kept)
    ]
    assert crossed == []
    assert 60.0 <= float(sheet.results["oil.steady_degC"]) - 273.15 <= 75.0


def test_readings_are_near_the_model_but_not_copied_from_it(study: Study) -> None:
    assert 5 <= len(study.measurements) <= 7
    offsets = []
    for reading in study.measurements:
        modelled = owned_result(study, READINGS[reading.kind])
        zero = 273.15 if reading.kind == "oil_temperature" else 0.0
        share = (reading.value - modelled) / (modelled - zero)
        assert abs(share) < 0.12, reading.kind
        assert reading.mean_uncertainty < 0.1 * (reading.value - zero), reading.kind
        offsets.append(share)
    assert min(np.abs(offsets)) > 1e-4
    assert len({round(offset, 3) for offset in offsets}) > 2


def test_engines_and_pumps_fit_each_other(study: Study) -> None:
    engines = vars(study.lists["engine"].parts)
    droop = engines["no_load_speed"] / engines["rated_speed"] - 1.0
    assert ((droop > 0.04) & (droop < 0.06)).all()
    pumps = vars(study.lists["pump"].parts)
    assert pumps["max_speed"].min() >= engines["no_load_speed"].max()
    assert (
        (pumps["volumetric_efficiency"] >= 0.88) & (pumps["volumetric_efficiency"] <= 0.95)
    ).all()
    assert (
        (pumps["mechanical_efficiency"] >= 0.88) & (pumps["mechanical_efficiency"] <= 0.94)
    ).all()
    two_stage = pumps["large_displacement"] > 0.0
    assert 1 <= (~two_stage).sum() <= 2
    sections = pumps["large_displacement"][two_stage] / pumps["small_displacement"][two_stage]
    assert ((sections >= 2.0) & (sections <= 4.0)).all()


@pytest.mark.parametrize("category", ["pressure_hose", "work_hoses"])
def test_wide_hoses_of_one_grade_bear_less_and_cost_more(study: Study, category: str) -> None:
    prices = study.lists[category]
    grade = [at for at, name in enumerate(prices.names) if "two-wire" in name]
    assert len(grade) >= 3
    columns = vars(prices.parts)
    order = np.array(grade)[np.argsort(columns["inner_diameter"][grade])]
    assert (np.diff(columns["max_pressure"][order]) < 0.0).all()
    assert (np.diff(columns["price"][order]) > 0.0).all()


def test_turning_the_relief_of_the_owned_valve_costs_the_work_alone(study: Study) -> None:
    prices = study.lists["valve"]
    columns = vars(prices.parts)
    reset = [at for at, name in enumerate(prices.names) if "reset" in name]
    owned = prices.names.index(study.owned["valve"])
    assert reset
    bodies = [name for name in columns if name not in ("relief_pressure", "outlay")]
    for at in reset:
        same = [name for name in bodies if name not in ("price", "fitting_time")]
        assert all(columns[name][at] == columns[name][owned] for name in same)
        hours = columns["fitting_time"][at] / 3600.0
        assert columns["outlay"][at] == pytest.approx(hours * study.money.labour_rate)


def test_first_cooler_is_none(study: Study) -> None:
    prices = study.lists["cooler"]
    assert prices.names[0] == "none"
    assert vars(prices.parts)["conductance"][0] == 0.0
    assert vars(prices.parts)["nominal_drop"][0] == 0.0


def test_front_holds_quicker_and_stronger_machines_for_moderate_money(
    study: Study, front: FrontAnswer
) -> None:
    results = front.sheet.results
    time, force, outlay = (results[key] for key in ("cycle.total_s", "force_N", "cost.outlay"))
    owned_time = owned_result(study, "cycle.total_s")
    owned_force = owned_result(study, "force_N")
    moderate = outlay <= 0.75 * owned_result(study, "cost.price")
    assert front.proven
    assert front.sheet.feasible.all()
    assert (moderate & (time < 0.75 * owned_time) & (force >= 0.85 * owned_force)).any()
    assert (moderate & (force > 1.3 * owned_force)).any()
    assert (time < 0.6 * owned_time).any()
    assert ((time < owned_time) & (force > owned_force)).any()


def test_many_different_limits_bind_on_the_front(front: FrontAnswer) -> None:
    assert len(set(front.sheet.binding.tolist())) >= 6


def test_a_big_rod_overloads_the_return_side_of_the_us_machine() -> None:
    study = load_study(STUDIES / "alder-yard")
    big = machine_of(study, {"rod": "3.5 in rod, 75 ksi"})
    quick = Evaluation(owned_machine(study), study.setting)
    slow = Evaluation(big, study.setting)
    assert float(quick.retract_high_stage) == 1.0
    assert 0.0 < float(slow.retract_high_stage) < 1.0
    crossed = {one.limit.name for one in sheet_of(big, study.setting).limits if not one.kept}
    assert "retract_stage" in crossed
    assert len(crossed) >= 5
