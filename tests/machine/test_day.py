"""Oil over the working day: closed forms, balances, directions, cold start."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimise.columns import map_columns
from optimise.machine.cold import ColdCircuit, at_warm_up_speed
from optimise.machine.cold_start import cold_start
from optimise.machine.day import CoolingNeed, DayProfile, OilDay, conductance_needed, warm_up
from optimise.machine.evaluation import Evaluation
from optimise.machine.heat_course import (
    LONGEST_STEP,
    HeatTable,
    Stretch,
    first_at,
    follow,
    neutral_heat,
    working_heat,
)
from optimise.machine.heat_store import HeatStore
from optimise.machine.limits import limits_of
from optimise.machine.parts import Machine
from optimise.machine.setting import Day, LimitChange, Pause, Setting
from optimise.study.load import load_study
from tests.machine.example import GAL, IN, MACHINE, RPM, SETTING, machine, setting
from tests.machine.test_laws import random_machines
from tests.study.starter import faults_of, write_changed

HOUR = 3600.0
ZERO = 273.15


def constant_heat(watt: float) -> HeatTable:
    return HeatTable(np.array([200.0, 500.0]), np.full(2, watt), np.full(2, watt), np.zeros(2))


def constant_air(kelvin: float) -> Any:
    return lambda times: np.full_like(times, kelvin)


def profile(**changes: Any) -> DayProfile:
    usual: dict[str, Any] = {
        "coolest_air": 285.15,
        "hottest_air": 305.15,
        "start": 8.0 * HOUR,
        "end": 17.0 * HOUR,
        "pauses": ((12.0 * HOUR, 12.5 * HOUR), (15.0 * HOUR, 15.25 * HOUR)),
        "duty": 0.6,
    }
    return DayProfile(**{**usual, **changes})


def steady_air(hours: float, kelvin: float = 298.15, duty: float = 0.6) -> DayProfile:
    return DayProfile(
        coolest_air=kelvin, hottest_air=kelvin, start=0.0, end=hours * HOUR, duty=duty
    )


def single(column: Machine, lane: int) -> Machine:
    return map_columns(
        column, lambda values: float(np.asarray(values)[lane]) if np.ndim(values) else values
    )


SINGLES = [single(random_machines(23, 12), lane) for lane in range(12)]


# --- one exponential ----------------------------------------------------------------------------

# 50 L of oil (870 kg/m3, 1.9 kJ/(kg K)) and 40 kg of steel (0.46 kJ/(kg K)) in a tank of 1.2 m2 at
# 12 W/(m2 K): first-order balance worked by hand, 117 min.
STORE = HeatStore(oil_mass=50.0 * 0.870, steel_mass=40.0, oil_specific_heat=1900.0)


def test_time_constant_of_a_tank() -> None:
    assert float(STORE.time_constant(12.0 * 1.2)) / 60.0 == pytest.approx(117.0, abs=0.5)
    assert STORE.capacity == pytest.approx(43.5 * 1900.0 + 40.0 * 460.0)


def test_constant_heat_gives_one_exponential() -> None:
    """T = Ta + P/K (1 - exp(-t/tau)), solution of the first-order balance in any textbook."""
    heat, conductance, air = 600.0, 14.4, 298.15
    tau = (43.5 * 1900.0 + 40.0 * 460.0) / conductance
    course = follow(
        [Stretch(0.0, 4.0 * tau, constant_heat(heat))],
        constant_air(air),
        air,
        STORE.capacity,
        conductance,
    )
    closed = air + heat / conductance * (1.0 - np.exp(-course.times / tau))
    assert course.temperature == pytest.approx(closed, abs=1e-6)
    at_tau = float(np.interp(117.0 * 60.0, course.times, course.temperature))
    assert (at_tau - air) / (heat / conductance) == pytest.approx(0.632, abs=0.001)


def test_steady_temperature_of_a_tank() -> None:
    """0.6 kW into 1 m2 of 12 W/(m2 K), air 25 degC: 75.0 degC, worked by hand."""
    course = follow(
        [Stretch(0.0, 48.0 * HOUR, constant_heat(600.0))],
        constant_air(25.0 + ZERO),
        25.0 + ZERO,
        STORE.capacity,
        12.0,
    )
    assert course.temperature[-1] - ZERO == pytest.approx(75.0, abs=0.05)


def test_cooling_with_the_engine_off_is_one_exponential() -> None:
    tau = float(STORE.time_constant(20.0))
    course = follow([Stretch(0.0, tau, None)], constant_air(280.0), 340.0, STORE.capacity, 20.0)
    assert course.temperature[-1] == pytest.approx(280.0 + 60.0 * math.exp(-1.0), abs=1e-6)
    assert not course.heat_in.any()


def test_air_that_warms_steadily_is_followed_a_time_constant_late() -> None:
    """T = Ta0 + b (t - tau) + (T0 - Ta0 + b tau) exp(-t/tau) for air Ta0 + b t, by hand."""
    tau, rate, air, start = float(STORE.time_constant(20.0)), 4.0 / HOUR, 280.0, 290.0
    course = follow(
        [Stretch(0.0, 2.0 * tau, None)],
        lambda times: air + rate * np.asarray(times),
        start,
        STORE.capacity,
        20.0,
    )
    times = course.times
    closed = air + rate * (times - tau) + (start - air + rate * tau) * np.exp(-times / tau)
    assert course.temperature == pytest.approx(closed, abs=1e-6)


def test_columns_of_bodies_go_as_each_alone() -> None:
    capacity, conductance = np.array([5e4, 1e5, 2e5]), np.array([10.0, 20.0, 30.0])
    stretches = [Stretch(0.0, HOUR, constant_heat(900.0))]
    together = follow(stretches, constant_air(290.0), 290.0, capacity, conductance)
    for lane in range(3):
        alone = follow(
            stretches, constant_air(290.0), 290.0, float(capacity[lane]), float(conductance[lane])
        )
        assert alone.temperature == pytest.approx(
            np.interp(alone.times, together.times, together.temperature[:, lane]), abs=1e-5
        )


@pytest.mark.parametrize(
    ("drop", "density", "specific_heat", "start", "end"),
    [
        # Esposito, Fluid Power with Applications, 6th ed., example 11-3: 50 to 54.3 degC.
        (70e5, 895.0, 1800.0, 50.0, 54.3),
        # The same, example 11-2: 1000 psi, 7.42 lb/gal, 0.42 Btu/(lb F), 120 to 127.9 degF.
        (1000.0 * 6894.757, 7.42 * 0.45359237 / GAL, 0.42 * 4186.8, 48.889, 53.278),
    ],
)
def test_one_turnover_across_a_throttle_is_the_textbook_rise(
    drop: float, density: float, specific_heat: float, start: float, end: float
) -> None:
    """Nothing leaves, and the whole oil passes the throttle once."""
    volume, flow = 0.05, 10.0 * GAL / 60.0
    store = HeatStore(oil_mass=density * volume, steel_mass=0.0, oil_specific_heat=specific_heat)
    course = follow(
        [Stretch(0.0, volume / flow, constant_heat(drop * flow))],
        constant_air(start + ZERO),
        start + ZERO,
        store.capacity,
        0.0,
    )
    assert course.temperature[-1] - ZERO == pytest.approx(end, abs=0.05)


@pytest.mark.parametrize(("coefficient", "kilowatt"), [(6.0, 0.51), (12.0, 1.02), (24.0, 2.04)])
def test_tank_gives_off_what_the_trade_says(coefficient: float, kilowatt: float) -> None:
    """200 L tank, 1.7 m2 without its base, oil 85 degC, air 35 degC; 6 poor, 12 normal, 24 forced.

    Coefficients and inputs from a trade article on tanks; heat worked by hand.
    """
    tank = machine(
        tank__cooling_area=1.7, tank__heat_coefficient=coefficient, cooler__conductance=0.0
    )
    place = setting(frame__other_cooling=0.0, surroundings__air_temperature=35.0 + ZERO)
    day = warm_up(tank, place)
    per_kelvin = day.heat_out[1:] / (day.temperature[1:] - day.air[1:])
    assert per_kelvin * 50.0 / 1e3 == pytest.approx(np.full(per_kelvin.shape, kilowatt), abs=0.005)


# --- the profile --------------------------------------------------------------------------------


def test_air_is_coolest_at_sunrise_and_hottest_in_the_afternoon() -> None:
    found = profile(sunrise=5.0 * HOUR, hottest_time=15.0 * HOUR)
    clock = np.linspace(0.0, 24.0 * HOUR, 24 * 60 + 1)
    air = np.asarray(found.air(clock))
    assert clock[air.argmin()] == 5.0 * HOUR
    assert clock[air.argmax()] == 15.0 * HOUR
    assert (air.min(), air.max()) == pytest.approx((285.15, 305.15), abs=1e-9)
    assert float(found.air(10.0 * HOUR)) == pytest.approx(295.15, abs=1e-9)
    assert float(found.air(22.0 * HOUR)) == pytest.approx(295.15, abs=1e-9)
    rising = (clock >= 5.0 * HOUR) & (clock <= 15.0 * HOUR)
    assert (np.diff(air[rising]) > 0.0).all()
    assert air[0] == pytest.approx(air[-1], abs=1e-9)
    assert np.abs(np.diff(air)).max() < 0.06
    assert np.array_equal(found.air(clock + 86400.0), found.air(clock))
    assert [float(found.air(float(time))) for time in clock[::100]] == list(air[::100])


def test_air_is_constant_unless_stated() -> None:
    found = DayProfile.of(SETTING)
    air = np.asarray(found.air(np.linspace(0.0, 86400.0, 97)))
    assert (air == SETTING.surroundings.air_temperature).all()
    assert (found.start, found.end, found.pauses) == (8.0 * HOUR, 17.0 * HOUR, ())
    assert found.duty == SETTING.surroundings.duty


def test_pauses_outside_or_over_each_other() -> None:
    found = profile(
        pauses=(
            (6.0 * HOUR, 9.0 * HOUR),
            (11.0 * HOUR, 12.5 * HOUR),
            (12.0 * HOUR, 13.0 * HOUR),
            (18.0 * HOUR, 19.0 * HOUR),
        )
    )
    stretches = found.stretches()
    assert (stretches[0][0], stretches[-1][1]) == (8.0 * HOUR, 17.0 * HOUR)
    assert all(one[1] == other[0] for one, other in pairwise(stretches))
    worked = sum(end - begin for begin, end, works in stretches if works)
    assert worked == (17.0 - 8.0 - 1.0 - 2.0) * HOUR


# --- what warms ---------------------------------------------------------------------------------


def test_masses_of_a_plain_machine() -> None:
    """Volumes of cylinders and of a cube, worked by hand."""
    place = setting(
        frame__stroke=1.0,
        frame__barrel_length=0.0,
        frame__column="rod_only",
        frame__fill_share=0.8,
        oil__density_15=870.0,
        day=Day(tank_sheet=0.002, other_steel=7.0, oil_specific_heat=2000.0),
    )
    lines = place.lines
    one = replace(lines.suction, length=1.0)
    place = replace(
        place, lines=replace(lines, suction=one, pressure=one, work=one, return_line=one)
    )
    made = machine(
        tank__volume=0.064,
        bore__diameter=0.1,
        bore__wall=0.01,
        rod__diameter=0.06,
        suction_hose__inner_diameter=0.04,
        pressure_hose__inner_diameter=0.02,
        work_hoses__inner_diameter=0.02,
        return_hose__inner_diameter=0.03,
    )
    store = Evaluation(made, place).heat_store
    quarter = math.pi / 4.0
    oil = 0.8 * 0.064 + quarter * (0.1**2 - 0.06**2)
    oil += quarter * (0.04**2 + 3.0 * 0.02**2 + 0.03**2)
    steel = 6.0 * 0.4**2 * 0.002 + quarter * (0.12**2 - 0.1**2) + quarter * 0.06**2
    assert float(store.oil_mass) == pytest.approx(870.0 * oil, rel=1e-12)
    assert float(store.steel_mass) == pytest.approx(7850.0 * steel + 7.0, rel=1e-12)
    assert float(store.capacity) == pytest.approx(
        870.0 * oil * 2000.0 + (7850.0 * steel + 7.0) * 460.0, rel=1e-12
    )


def test_a_barrel_weighs_as_long_as_it_is_stated() -> None:
    """Half a metre more of barrel, 4 in bore and 3/8 in wall: area by hand."""
    short, long = (
        Evaluation(MACHINE, setting(frame__barrel_length=length)).heat_store
        for length in (1.0, 1.5)
    )
    area = math.pi / 4.0 * ((4.75 * IN) ** 2 - (4.0 * IN) ** 2)
    assert float(long.steel_mass) - float(short.steel_mass) == pytest.approx(7850.0 * 0.5 * area)


def test_columns_of_machines_have_columns_of_stores() -> None:
    column = random_machines(31, 5)
    evaluation = Evaluation(column, SETTING)
    together = np.asarray(evaluation.heat_store.capacity)
    with np.errstate(all="ignore"):
        needed = np.asarray(evaluation.conductance_for(340.0, 300.0))
    for lane in range(5):
        alone = Evaluation(single(column, lane), SETTING)
        assert float(alone.heat_store.capacity) == together[lane]
        assert float(alone.conductance_for(340.0, 300.0)) == needed[lane]


# --- heat over temperature ----------------------------------------------------------------------


@pytest.mark.parametrize("lane", range(6))
def test_heat_table_is_the_model_to_a_fifth_of_a_percent(lane: int) -> None:
    evaluation = Evaluation(SINGLES[lane], SETTING)
    lowest = 268.15
    table = working_heat(evaluation, lowest)
    temperature = np.random.default_rng(lane).uniform(lowest, 420.0, 400)
    with np.errstate(all="ignore"):
        model = np.asarray(evaluation.heat_of(evaluation.strokes_at(temperature)))
    possible = model < evaluation.plant.rated_power
    assert possible.sum() > 200
    off = np.abs(np.asarray(table.heat_at(temperature)) / model - 1.0)[possible]
    assert 0.0 < off.max() < 0.002
    assert 0.0 < table.error < 0.002


def test_no_more_heat_than_the_engine_has() -> None:
    evaluation = Evaluation(MACHINE, setting(oil__viscosity_40=150e-6, oil__viscosity_100=14e-6))
    table = working_heat(evaluation, 243.15)
    with np.errstate(all="ignore"):
        model = float(evaluation.heat_of(evaluation.strokes_at(243.15)))
    most = 23.0 * 3450.0 * RPM
    assert model > most
    assert table.heat.max() <= most
    assert table.power.max() <= most


# --- the day ------------------------------------------------------------------------------------


@pytest.mark.parametrize("made", [MACHINE, *SINGLES], ids=lambda _: "")
def test_heat_in_is_heat_out_and_heat_stored(made: Machine) -> None:
    day = warm_up(made, SETTING, profile())
    enters = np.trapezoid(day.heat_in, day.times)
    leaves = np.trapezoid(day.heat_out, day.times)
    store = Evaluation(made, SETTING).heat_store
    stored = float(store.capacity) * (day.temperature[-1] - day.temperature[0])
    assert day.stored[-1] == pytest.approx(stored, rel=1e-9)
    assert enters - leaves == pytest.approx(stored, abs=1e-3 * enters)
    on_the_way = np.flatnonzero(day.times == 12.0 * HOUR)[0] + 1
    enters = np.trapezoid(day.heat_in[:on_the_way], day.times[:on_the_way])
    leaves = np.trapezoid(day.heat_out[:on_the_way], day.times[:on_the_way])
    assert enters - leaves == pytest.approx(day.stored[on_the_way - 1], abs=1e-3 * enters)


def test_another_integration_of_the_untabulated_heat_agrees() -> None:
    from scipy.integrate import solve_ivp

    evaluation = Evaluation(MACHINE, SETTING)
    found = profile(pauses=())
    capacity = float(evaluation.heat_store.capacity)
    conductance = float(evaluation.cooling_conductance)

    def slope(clock: float, state: Any) -> list[float]:
        enters = float(evaluation.heat_of(evaluation.strokes_at(float(state[0]))))
        leaves = conductance * (float(state[0]) - float(found.air(clock)))
        return [(enters - leaves) / capacity]

    start = float(found.air(found.start))
    other = solve_ivp(
        slope,
        (found.start, found.start + 2.0 * HOUR),
        [start],
        method="LSODA",
        rtol=1e-7,
        atol=1e-5,
        t_eval=np.linspace(found.start, found.start + 2.0 * HOUR, 13),
    )
    day = warm_up(MACHINE, SETTING, found)
    assert np.interp(other.t, day.times, day.temperature) == pytest.approx(other.y[0], abs=0.02)
    assert other.y[0][-1] - start > 15.0


@pytest.mark.parametrize("made", [MACHINE, *SINGLES], ids=lambda _: "")
def test_long_constant_day_ends_at_the_steady_temperature(made: Machine) -> None:
    day = warm_up(made, SETTING, steady_air(48.0))
    steady = float(Evaluation(made, SETTING).steady_temperature)
    assert day.temperature[-1] == pytest.approx(steady, abs=0.05)
    assert (np.diff(day.temperature) > -1e-6).all()
    assert day.peak_temperature == day.temperature.max()


def test_oil_starts_as_cold_as_the_air_and_cools_in_pauses() -> None:
    day = warm_up(MACHINE, SETTING, profile())
    assert day.temperature[0] == day.air[0] == float(profile().air(8.0 * HOUR))
    assert (day.times[0], day.times[-1]) == (8.0 * HOUR, 17.0 * HOUR)
    paused = (day.times > 12.0 * HOUR) & (day.times < 12.5 * HOUR)
    assert paused.sum() > 10
    assert (day.heat_in[paused] == 0.0).all()
    assert (np.diff(day.temperature[paused]) < 0.0).all()
    assert (np.diff(day.times) <= LONGEST_STEP + 1e-6).all()
    assert (np.diff(day.times) == 0.0).sum() == 4


def test_pieces_and_fuel_of_a_day() -> None:
    """At a constant temperature they are the hour's figures times the hours worked, at the duty."""
    whole = warm_up(MACHINE, SETTING, profile(pauses=()))
    broken = warm_up(MACHINE, SETTING, profile())
    assert broken.pieces / whole.pieces == pytest.approx(8.25 / 9.0, abs=0.01)
    assert broken.fuel < whole.fuel
    evaluation = Evaluation(MACHINE, SETTING)
    steady = float(evaluation.steady_temperature)
    there = setting(surroundings__rated_oil_temperature=steady, work__utilisation=0.6)
    at_steady = Evaluation(MACHINE, there)
    long, longer = (warm_up(MACHINE, SETTING, steady_air(hours)) for hours in (30.0, 40.0))
    hours = 10.0
    assert (longer.pieces - long.pieces) / hours == pytest.approx(
        float(at_steady.pieces_per_hour), rel=2e-3
    )
    duty, motor = 0.6, MACHINE.engine
    power = duty * float(at_steady.mean_power) + (1.0 - duty) * float(at_steady.rated.neutral.power)
    assert (longer.fuel - long.fuel) / hours == pytest.approx(
        power * motor.fuel_consumption * HOUR, rel=2e-3
    )


def test_time_until_a_bound() -> None:
    day = warm_up(MACHINE, SETTING, steady_air(20.0))
    bound = 0.5 * (day.temperature[0] + day.peak_temperature)
    reached = first_at(day.times, day.temperature, bound)
    assert reached is not None
    assert float(np.interp(reached, day.times - day.times[0], day.temperature)) == pytest.approx(
        bound, abs=1e-9
    )
    assert first_at(day.times, day.temperature, day.temperature[0]) == 0.0
    assert first_at(day.times, day.temperature, day.peak_temperature + 0.1) is None
    assert day.limit_time is None
    moved = replace(SETTING, limit_changes={"oil_temperature": LimitChange(bound=bound)})
    assert warm_up(MACHINE, moved, steady_air(20.0)).limit_time == reached
    thick = machine(pump__min_viscosity=float(Evaluation(MACHINE, SETTING).viscosity_at(bound)))
    assert warm_up(thick, SETTING, steady_air(20.0)).thin_oil_time == pytest.approx(reached)


def test_bounds_are_those_of_the_table_of_limits() -> None:
    for changes in (
        {},
        {
            "oil_temperature": LimitChange(bound=350.0),
            "viscosity_hot": LimitChange(bound=13e-6),
            "viscosity_cold": LimitChange(bound=700e-6),
        },
    ):
        place = replace(SETTING, limit_changes=changes)
        evaluation = Evaluation(MACHINE, place)
        bounds = {limit.name: float(limit.bound(evaluation)) for limit in limits_of(place)}
        assert float(evaluation.hottest_allowed) == bounds["oil_temperature"]
        for temperature, name in (
            (evaluation.thin_oil_temperature, "viscosity_hot"),
            (evaluation.thick_oil_temperature, "viscosity_cold"),
        ):
            assert float(evaluation.viscosity_at(temperature)) == pytest.approx(bounds[name])


def peak(made: Machine = MACHINE, place: Setting = SETTING, **changes: Any) -> float:
    return warm_up(made, place, profile(**changes)).peak_temperature


def test_more_wall_or_cooler_is_cooler_and_hotter_air_is_hotter() -> None:
    areas = [peak(machine(tank__cooling_area=area)) for area in (0.5, 1.0, 2.0, 4.0)]
    assert areas == sorted(areas, reverse=True)
    assert areas[0] - areas[-1] > 5.0
    coolers = [peak(machine(cooler__conductance=size)) for size in (0.0, 20.0, 60.0)]
    assert coolers == sorted(coolers, reverse=True)
    airs = [peak(hottest_air=air) for air in (295.15, 300.15, 310.15)]
    assert airs == sorted(airs)
    assert airs[-1] - airs[0] > 5.0


def test_more_splitting_is_more_heat_in_proportion() -> None:
    """Heat is splitting and waiting weighed by the duty, so it is linear in the duty."""
    duties = (0.2, 0.6, 1.0)
    peaks = [peak(duty=duty) for duty in duties]
    assert np.diff(peaks).min() > 0.5
    needs = [conductance_needed(MACHINE, SETTING, profile(duty=duty)) for duty in duties]
    assert needs[0].steady < needs[1].steady < needs[2].steady
    assert needs[1].steady == pytest.approx(0.5 * (needs[0].steady + needs[2].steady), rel=1e-9)
    assert needs[0].day < needs[1].day < needs[2].day


def test_more_oil_and_steel_warm_later_to_the_same_end() -> None:
    days: list[OilDay] = [
        warm_up(MACHINE, setting(day=Day(other_steel=steel)), steady_air(60.0))
        for steel in (0.0, 100.0, 400.0)
    ]
    times = [first_at(day.times, day.temperature, 310.0) for day in days]
    assert None not in times
    assert times == sorted(times, key=float)  # type: ignore[arg-type]
    assert days[-1].time_constant > days[0].time_constant
    ends = [day.temperature[-1] for day in days]
    assert max(ends) - min(ends) < 0.05


def test_a_column_of_machines_has_no_day() -> None:
    column = random_machines(3, 4)
    for answer in (warm_up, conductance_needed, cold_start):
        with pytest.raises(ValueError, match="one machine"):
            answer(column, SETTING)  # type: ignore[operator]


# --- what would hold it -------------------------------------------------------------------------


def with_conductance(made: Machine, place: Setting, conductance: float) -> Machine:
    """Machine whose cooler brings the whole conductance to a value."""
    other = float(Evaluation(made, place).cooling_conductance) - float(made.cooler.conductance)
    return replace(made, cooler=replace(made.cooler, conductance=conductance - other))


@pytest.mark.parametrize("made", [MACHINE, *SINGLES[:5]], ids=lambda _: "")
def test_needed_conductance_holds_the_limit(made: Machine) -> None:
    place = replace(SETTING, limit_changes={"oil_temperature": LimitChange(bound=322.15)})
    need = conductance_needed(made, place, profile())
    assert need.limit == 322.15
    assert need.present == float(Evaluation(made, place).cooling_conductance)
    held = Evaluation(with_conductance(made, place, need.steady), place)
    assert float(held.steady_temperature) == pytest.approx(need.limit, abs=0.05)
    day = warm_up(with_conductance(made, place, need.day), place, profile())
    assert day.peak_temperature == pytest.approx(need.limit, abs=0.05)
    assert need.needed == max(need.steady, need.day)


def test_day_needs_more_than_the_steady_state_only_in_hotter_air() -> None:
    constant = conductance_needed(MACHINE, SETTING)
    assert constant.day <= constant.steady * 1.001
    hotter = conductance_needed(MACHINE, SETTING, profile(hottest_air=315.15))
    assert hotter.day > hotter.steady
    short = conductance_needed(MACHINE, SETTING, profile(end=8.5 * HOUR, pauses=()))
    assert short.day == 0.0
    assert short.steady == constant.steady


def test_which_tanks_and_coolers_are_enough() -> None:
    need = CoolingNeed(limit=355.15, present=20.0, steady=30.0, day=28.0)
    tanks, coolers = np.array([[10.0], [20.0]]), np.array([0.0, 10.0, 25.0])
    held = tanks + coolers >= need.needed
    assert need.needed > 29.0
    assert held.tolist() == [[False, False, True], [False, True, True]]
    assert (need.needed, need.missing) == (30.0, 10.0)
    assert replace(need, present=31.0).missing == 0.0


def test_nothing_cools_below_the_air() -> None:
    place = setting(
        surroundings__air_temperature=330.0,
        limit_changes={"oil_temperature": LimitChange(bound=325.0)},
    )
    need = conductance_needed(MACHINE, place)
    assert (need.steady, need.day) == (math.inf, math.inf)
    assert need.needed > 1e6


# --- cold start ---------------------------------------------------------------------------------


def cold_circuit(made: Machine, place: Setting) -> ColdCircuit:
    return Evaluation(made, place).cold


COLD_READINGS = [
    name
    for name, value in vars(ColdCircuit).items()
    if isinstance(value, cached_property) and name not in ("plant", "strokes", "_low")
]


def bare(**changes: Any) -> tuple[Machine, Setting]:
    """Machine whose neutral circuit is two straight hoses, in an invented thick oil."""
    made = machine(
        fittings__laminar_k=0.0,
        fittings__turbulent_k=0.0,
        valve__neutral_drop=0.0,
        filter__clean_drop=1e-6,
        cooler__nominal_drop=0.0,
        pump__large_displacement=0.0,
        **changes,
    )
    place = setting(
        constants__line_end_k=0.0,
        surroundings__cold_oil_temperature=283.15,
        oil__viscosity_40=100e-6,
        oil__viscosity_100=11e-6,
    )
    return made, place


def test_cold_neutral_pressure_is_hagen_and_poiseuilles() -> None:
    """p = 128 mu L Q / (pi d^4), any fluid mechanics textbook, for hoses of 3 ft each."""
    made, place = bare()
    found = cold_circuit(made, place)
    strokes = Evaluation(at_warm_up_speed(made, place), place).cold.strokes
    flow, viscosity = float(strokes.neutral.flow), float(strokes.dynamic_viscosity)
    speed = float(strokes.neutral.speed)
    assert flow == pytest.approx(made.pump.small_displacement * speed / (2.0 * math.pi), rel=0.02)
    pressure = sum(
        128.0 * viscosity * 0.9144 * flow / (math.pi * diameter**4)
        for diameter in (0.625 * IN, 1.0 * IN)
    )
    assert float(found.neutral_pressure) == pytest.approx(pressure, rel=1e-3)
    assert float(found.neutral_relief_flow) == 0.0
    assert float(found.heat) == pytest.approx(float(strokes.neutral.power), rel=1e-9)
    assert float(found.heat) > pressure * flow


def test_relief_takes_what_a_thin_hose_does_not() -> None:
    made, place = bare(return_hose__inner_diameter=0.12 * IN, pump__small_displacement=0.2 * IN**3)
    found = cold_circuit(made, place)
    relief = made.valve.relief_pressure
    assert float(found.neutral_pressure) == pytest.approx(relief, rel=1e-6)
    strokes = Evaluation(at_warm_up_speed(made, place), place).cold.strokes
    viscosity = float(strokes.dynamic_viscosity)
    through = relief / sum(
        128.0 * viscosity * 0.9144 / (math.pi * diameter**4) for diameter in (0.625 * IN, 0.12 * IN)
    )
    drive = strokes.plant.drive(strokes.dynamic_viscosity, 0.0)
    delivered = float(drive.flow(relief))
    assert delivered == pytest.approx(
        made.pump.small_displacement * float(drive.speed(relief)) / (2.0 * math.pi), rel=0.02
    )
    assert float(found.neutral_relief_flow) == pytest.approx(delivered - through, rel=2e-3)
    assert float(found.extend_relief_flow) == 0.0


def test_relief_on_the_idle_out_stroke_takes_what_the_ram_does_not() -> None:
    made, place = bare(work_hoses__inner_diameter=0.12 * IN)
    found = cold_circuit(made, place)
    relief = made.valve.relief_pressure
    strokes = Evaluation(at_warm_up_speed(made, place), place).cold.strokes
    delivered = float(strokes.plant.drive(strokes.dynamic_viscosity, 0.0).flow(relief))
    swept = math.pi / 4.0 * made.bore.diameter**2 * place.frame.stroke
    through = swept / float(found.extend_time)
    assert 0.1 * delivered < through < 0.9 * delivered
    assert float(found.extend_pressure) == pytest.approx(relief, rel=1e-6)
    assert float(found.extend_relief_flow) == pytest.approx(delivered - through, rel=1e-6)
    assert float(found.neutral_relief_flow) == 0.0


def test_oil_that_does_not_move_goes_over_the_relief_altogether() -> None:
    made, place = bare(
        return_hose__inner_diameter=0.002 * IN, work_hoses__inner_diameter=0.002 * IN
    )
    found = cold_circuit(made, place)
    strokes = Evaluation(at_warm_up_speed(made, place), place).cold.strokes
    drive = strokes.plant.drive(strokes.dynamic_viscosity, 0.0)
    relief = made.valve.relief_pressure
    for over, pressure in (
        (found.neutral_relief_flow, found.neutral_pressure),
        (found.extend_relief_flow, found.extend_pressure),
    ):
        assert float(over) == pytest.approx(float(drive.flow(relief)), rel=1e-4)
        assert float(pressure) == pytest.approx(relief, rel=1e-6)
    assert math.isnan(float(found.extend_time))


def test_relief_stays_shut_and_strokes_are_slow_on_an_ordinary_cold_morning() -> None:
    found = cold_circuit(MACHINE, SETTING)
    evaluation = Evaluation(MACHINE, SETTING)
    assert (float(found.neutral_relief_flow), float(found.extend_relief_flow)) == (0.0, 0.0)
    assert float(found.neutral_pressure) < float(found.extend_pressure)
    assert float(found.extend_pressure) < MACHINE.valve.relief_pressure
    assert float(found.extend_time) > 1.5 * float(evaluation.extend_time)
    assert float(found.retract_time) > 1.5 * float(evaluation.retract_time)
    assert float(found.viscosity) == float(evaluation.cold_viscosity)
    assert 0.0 < float(found.engine_load) < 1.0


def test_colder_is_thicker_and_faster_is_more_pressure() -> None:
    def there(cold: float, rpm: float) -> Evaluation:
        return Evaluation(
            MACHINE,
            setting(
                surroundings__cold_oil_temperature=cold, surroundings__cold_engine_speed=rpm * RPM
            ),
        )

    def at(cold: float, rpm: float) -> ColdCircuit:
        return there(cold, rpm).cold

    colder = [at(cold, 1500.0) for cold in (283.15, 273.15, 263.15)]
    for name in ("viscosity", "neutral_pressure", "extend_pressure", "heat", "engine_load"):
        values = [float(getattr(found, name)) for found in colder]
        assert values == sorted(values), name
    inlets = [float(there(cold, 1500.0).cold_inlet_pressure) for cold in (263.15, 283.15)]
    assert inlets[0] < inlets[1]
    faster = [at(273.15, rpm) for rpm in (1000.0, 2000.0, 3000.0)]
    for name in ("neutral_pressure", "heat"):
        values = [float(getattr(found, name)) for found in faster]
        assert values == sorted(values), name
    assert float(faster[-1].extend_time) < float(faster[0].extend_time)
    inlets = [float(there(273.15, rpm).cold_inlet_pressure) for rpm in (3000.0, 1000.0)]
    assert inlets[0] < inlets[1]


def test_cold_columns_are_bit_for_bit_those_of_one_machine() -> None:
    column = random_machines(41, 6)
    together = cold_circuit(column, SETTING)
    for lane in range(6):
        alone = cold_circuit(single(column, lane), SETTING)
        for name in COLD_READINGS:
            one = np.asarray(getattr(alone, name))
            many = np.asarray(getattr(together, name))
            many = many[lane] if many.ndim else many
            assert np.array_equal(one, many, equal_nan=True), name


def test_way_from_the_cold_start_to_working_temperature() -> None:
    place = setting(
        surroundings__cold_oil_temperature=270.15,
        surroundings__rated_oil_temperature=303.15,
        day=Day(warm_up_time=900.0),
    )
    limit = float(Evaluation(MACHINE, place).viscosity_at(275.15))
    made = machine(pump__max_viscosity=limit, cooler__conductance=0.0)
    found = cold_start(made, place)
    evaluation = Evaluation(made, place)
    assert found.temperature[0] == 270.15
    assert found.ready_time is not None
    assert found.rated_time is not None
    assert 0.0 < found.ready_time < found.rated_time
    for time, temperature in ((found.ready_time, 275.15), (found.rated_time, 303.15)):
        assert float(np.interp(time, found.times, found.temperature)) == pytest.approx(
            temperature, abs=1e-6
        )
    warming = neutral_heat(Evaluation(at_warm_up_speed(made, place), place), 270.15)
    first = (found.temperature[1] - found.temperature[0]) / (found.times[1] - found.times[0])
    capacity = float(evaluation.heat_store.capacity)
    cooling = float(evaluation.cooling_conductance)
    ends = found.temperature[:2]
    rates = [
        (float(warming.heat_at(at)) - cooling * (at - 270.15)) / capacity
        for at in (ends[0], 0.5 * (ends[0] + ends[1]), ends[1])
    ]
    simpson = (rates[0] + 4.0 * rates[1] + rates[2]) / 6.0
    assert first == pytest.approx(simpson, rel=1e-3)


def test_oil_that_is_thin_enough_is_ready_and_cold_air_may_never_let_it_be_warm() -> None:
    assert cold_start(MACHINE, SETTING).ready_time == 0.0
    place = setting(surroundings__cold_oil_temperature=253.15, surroundings__duty=0.05)
    cooled = machine(cooler__conductance=100.0)
    assert cold_start(cooled, place).rated_time is None


def test_longer_warm_up_is_warmer_when_work_begins() -> None:
    def after(seconds: float) -> float:
        found = cold_start(MACHINE, setting(day=Day(warm_up_time=seconds)))
        return float(np.interp(seconds, found.times, found.temperature))

    assert after(0.0) == SETTING.surroundings.cold_oil_temperature
    assert after(0.0) < after(300.0) < after(1200.0)


# --- as a study states it -----------------------------------------------------------------------


def test_a_study_states_its_day(tmp_path: Path) -> None:
    folder = tmp_path / "s"
    write_changed(folder, [])
    text = (folder / "study.toml").read_text(encoding="utf-8")
    head, rest = text.split("# The working day that", 1)
    text = head + rest[rest.index("[work]") :]
    (folder / "study.toml").write_text(text, encoding="utf-8")
    assert load_study(folder).setting.day == Day()
    day = (
        '\n[day]\nstart = "7.5 h"\nend = "16 h"\nmorning_drop = "18 degF"\n'
        'afternoon_rise = "5 K"\nwarm_up_time = "10 min"\n'
        '[[day.pauses]]\nstart = "12 h"\nlength = "45 min"\n'
    )
    (folder / "study.toml").write_text(text + day, encoding="utf-8")
    found = load_study(folder).setting
    assert found.day == Day(
        start=7.5 * HOUR,
        end=16.0 * HOUR,
        morning_drop=pytest.approx(10.0),
        afternoon_rise=5.0,
        warm_up_time=600.0,
        pauses=(Pause(start=12.0 * HOUR, length=2700.0),),
    )
    air = found.surroundings.air_temperature
    profile = DayProfile.of(found)
    assert (profile.coolest_air, profile.hottest_air) == pytest.approx((air - 10.0, air + 5.0))
    assert profile.pauses == ((12.0 * HOUR, 12.75 * HOUR),)
    (fault,) = faults_of(folder, ["day.end=7 h"])
    assert "day.start" in str(fault)
    (fault,) = faults_of(folder, ["day.pauses.1.length=2 ft"])
    assert "a time" in str(fault)
