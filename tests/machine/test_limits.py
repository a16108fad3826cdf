"""Every limit is driven over its bound and back, by a change that a builder could make."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import LIMITS, limits_of
from optimise.machine.setting import LimitChange, Line, Lines, UserLimit
from optimise.machine.sheet import sheet_of
from tests.machine.example import GAL, GPM, IN, MACHINE, PSI, RPM, SETTING, machine, setting

LONG_SUCTION = Lines(
    suction=Line(length=3.0, turns=6.0),
    pressure=SETTING.lines.pressure,
    work=SETTING.lines.work,
    return_line=SETTING.lines.return_line,
)

OVER: dict[str, dict[str, Any]] = {
    "solution_found": {"frame__idle_drag": 200e3},
    "rod_fit": {"rod__diameter": 3.75 * IN},
    "high_stage_load": {"pump__shift_pressure": 1900.0 * PSI},
    "low_stage_load": {"engine__rated_torque": 9.5},
    "continuous_load": {"engine__continuous_share": 0.15},
    "stall": {"engine__peak_torque": 9.0, "engine__rated_torque": 8.9},
    "pump_speed": {"pump__max_speed": 3500.0 * RPM},
    "pump_pressure": {"pump__rated_pressure": 2400.0 * PSI},
    "valve_pressure": {"valve__max_pressure": 2400.0 * PSI},
    "cylinder_pressure": {"bore__max_pressure": 2400.0 * PSI},
    "pressure_hose_pressure": {"pressure_hose__max_pressure": 2000.0 * PSI},
    "work_hose_pressure": {"work_hoses__max_pressure": 2000.0 * PSI},
    "fittings_pressure": {"fittings__max_pressure": 2000.0 * PSI},
    "return_hose_pressure": {"return_hose__max_pressure": 1.0 * PSI},
    "filter_pressure": {"filter__max_pressure": 0.5 * PSI},
    "cooler_pressure": {"cooler__max_pressure": 1.0 * PSI},
    "return_back_pressure": {"return_hose__inner_diameter": 0.25 * IN},
    "rod_end_intensification": {"rod__diameter": 3.0 * IN},
    "rod_buckling": {"rod__diameter": 1.25 * IN},
    "rod_stress": {"rod__yield_strength": 20e3 * PSI},
    "barrel": {"bore__wall": 0.12 * IN},
    "suction_velocity": {"suction_hose__inner_diameter": 0.75 * IN},
    "pressure_velocity": {"pressure_hose__inner_diameter": 0.375 * IN},
    "work_velocity": {"work_hoses__inner_diameter": 0.375 * IN},
    "return_velocity": {"return_hose__inner_diameter": 0.5 * IN},
    "suction_vacuum": {"suction_hose__inner_diameter": 0.5 * IN},
    "suction_vacuum_cold": {"lines": LONG_SUCTION, "suction_hose__inner_diameter": 0.75 * IN},
    "valve_flow_in": {"valve__max_flow": 12.0 * GPM},
    "valve_flow_return": {"valve__max_flow": 16.0 * GPM},
    "filter_flow": {"filter__max_flow": 15.0 * GPM},
    "filter_drop": {"filter__nominal_flow": 4.0 * GPM},
    "extend_stage": {"work_hoses__inner_diameter": 0.22 * IN},
    "regen_switch": {"valve__regen_pressure": 1000.0 * PSI},
    "retract_stage": {"return_hose__inner_diameter": 0.3 * IN, "rod__diameter": 2.5 * IN},
    "detent": {"valve__detent_pressure": 100.0 * PSI},
    "tank_volume": {"tank__volume": 5.0 * GAL},
    "tank_swing": {"tank__volume": 1.5 * GAL},
    "tank_air_space": {"frame__fill_share": 0.95},
    "oil_temperature": {"tank__cooling_area": 0.1, "cooler__conductance": 0.0},
    "viscosity_hot": {"pump__min_viscosity": 60e-6},
    "viscosity_cold": {"surroundings__cold_oil_temperature": 258.15},
    "cold_engine": {"surroundings__cold_oil_temperature": 268.15},
    "cold_relief": {"return_hose__inner_diameter": 0.12 * IN},
    "cold_out": {"work_hoses__inner_diameter": 0.12 * IN},
    "cold_stroke_load": {"surroundings__cold_engine_speed": 2200.0 * RPM},
    "ram_speed_out": {"bore__diameter": 2.2 * IN, "rod__diameter": 1.0 * IN},
    "ram_speed_back": {"rod__diameter": 3.55 * IN},
}
BACK: dict[str, dict[str, Any]] = {
    "tank_volume": {"tank__volume": 20.0 * GAL},
    "rod_end_intensification": {"rod__diameter": 1.25 * IN},
}
"""Changes that bring a limit back where the example itself is over it."""


def margin(name: str, changes: dict[str, Any]) -> float:
    parts = {key: value for key, value in changes.items() if key.split("__")[0] in _CATEGORIES}
    rest = {key: value for key, value in changes.items() if key not in parts}
    sheet = sheet_of(machine(**parts), setting(**rest))
    return float(next(r.margin for r in sheet.limits if r.limit.name == name))


_CATEGORIES = {field.name for field in dataclasses.fields(MACHINE)}


def test_every_limit_of_the_table_is_driven() -> None:
    assert set(OVER) == {limit.name for limit in LIMITS}


AIR = SETTING.surroundings.air_temperature


@pytest.mark.parametrize(
    ("name", "bound"),
    [
        ("oil_temperature", AIR - 15.0),
        ("oil_temperature", AIR - 0.5),
        ("oil_temperature", AIR),
        ("viscosity_hot", 4e-4),
    ],
)
def test_oil_cannot_be_held_as_cool_as_the_air(name: str, bound: float) -> None:
    changed = setting(limit_changes={name: LimitChange(bound=bound)})
    limit = next(x for x in limits_of(changed) if x.name == name)
    evaluation = Evaluation(MACHINE, changed)
    assert limit.screen is not None
    assert limit.hope is not None
    assert min(float(evaluation.hottest_allowed), float(evaluation.thin_oil_temperature)) <= AIR
    for reading in (limit.margin, limit.screen, limit.hope):
        assert float(np.asarray(reading(evaluation))) < 0.0


@pytest.mark.parametrize("name", list(OVER))
def test_limit_is_crossed_and_kept_again(name: str) -> None:
    assert margin(name, BACK.get(name, {})) >= 0.0
    assert margin(name, OVER[name]) < 0.0


def test_the_example_keeps_every_hard_limit() -> None:
    crossed = [
        reading.limit.name
        for reading in sheet_of(MACHINE, SETTING).limits
        if reading.limit.kind == "hard" and not reading.kept
    ]
    assert crossed == []


def test_texts_are_there_and_end_like_sentences() -> None:
    for limit in LIMITS:
        assert limit.source.strip(), limit.name
        assert limit.advice.endswith("."), limit.name
        assert limit.kind in ("hard", "advisory"), limit.name
    assert len({limit.name for limit in LIMITS}) == len(LIMITS)


def test_margin_is_the_signed_share_of_the_bound() -> None:
    readings = {r.limit.name: r for r in sheet_of(MACHINE, SETTING).limits}
    pressure = readings["pump_pressure"]
    assert pressure.margin == pytest.approx((3000.0 - 2500.0) / 3000.0, rel=1e-12)
    speed = readings["pump_speed"]
    assert speed.margin == pytest.approx((3750.0 - 3600.0) / 3750.0, rel=1e-12)
    oil = readings["oil_temperature"]
    assert oil.margin == pytest.approx((82.0 - (float(oil.value) - 273.15)) / 82.0, rel=1e-9)


def test_a_study_may_move_a_bound_and_a_kind() -> None:
    changed = setting(
        limit_changes={
            "pump_pressure": LimitChange(bound=2600.0 * PSI),
            "rod_buckling": LimitChange(kind="advisory"),
        }
    )
    readings = {r.limit.name: r for r in sheet_of(MACHINE, changed).limits}
    assert readings["pump_pressure"].margin == pytest.approx(100.0 / 2600.0, rel=1e-9)
    assert readings["rod_buckling"].limit.kind == "advisory"
    assert readings["rod_buckling"].limit.bound(None) == 3.5  # type: ignore[arg-type]


def test_a_moved_oil_temperature_moves_its_screen_with_it() -> None:
    steady = float(sheet_of(MACHINE, SETTING).results["oil.steady_degC"])
    for shift, kept in ((-1.0, False), (1.0, True)):
        changed = setting(limit_changes={"oil_temperature": LimitChange(bound=steady + shift)})
        limit = next(x for x in limits_of(changed) if x.name == "oil_temperature")
        assert limit.screen is not None
        assert bool(np.asarray(limit.screen(Evaluation(MACHINE, changed))) >= 0.0) is kept


@pytest.mark.parametrize(
    ("limit", "kept"),
    [
        (UserLimit(name="short", result="cycle.total_s", at_most=100.0), True),
        (UserLimit(name="short", result="cycle.total_s", at_most=1.0), False),
        (UserLimit(name="strong", result="force_N", at_least=1e3), True),
        (UserLimit(name="strong", result="force_N", at_least=1e9), False),
    ],
)
def test_a_study_may_add_a_limit(limit: UserLimit, kept: bool) -> None:
    sheet = sheet_of(MACHINE, setting(user_limits=(limit,)))
    assert sheet.limits[-1].limit.name == limit.name
    assert bool(sheet.limits[-1].kept) is kept
    assert bool(sheet.feasible) is kept
