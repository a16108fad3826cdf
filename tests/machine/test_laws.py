"""Laws of the model on random machines: balance, direction, sameness of one and many."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimise.columns import flattened, lanes_of, map_columns
from optimise.machine.circuit import Drive, OperatingPoint
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.parts import CATEGORIES, Machine, assemble, is_directional, physical
from optimise.machine.results import RESULTS
from optimise.machine.sheet import sheet_of
from optimise.machine.strokes import Strokes
from optimise.machine.wood import unsplit_share, work_levels
from optimise.physics import engine, heat
from tests.machine.example import GPM, IN, MACHINE, PSI, SETTING, machine, setting

COUNT = 400


def random_machines(seed: int, count: int = COUNT) -> Machine:
    """Columns around the example: sizes from half to twice, efficiencies and speeds nearer."""
    chance = np.random.default_rng(seed)
    parts: dict[str, Any] = {}
    for category, kind in CATEGORIES.items():
        example = getattr(MACHINE, category)
        columns: dict[str, Any] = {"price": np.full(count, 1.0)}
        for name, spec in physical(kind).items():
            near = spec.kind in ("rotation", "share") or name == "diameter"
            spread = 0.04 if near else 0.6
            if category == "rod" and name == "diameter":
                spread = 0.3
            values = getattr(example, name) * np.exp(chance.uniform(-spread, spread, count))
            columns[name] = np.clip(values, spec.lowest, spec.highest)
        parts[category] = kind(**columns)
    motor = parts["engine"]
    parts["engine"] = dataclasses.replace(
        motor,
        peak_torque=np.clip(motor.peak_torque, 1.05 * motor.rated_torque, 1.3 * motor.rated_torque),
        no_load_speed=np.maximum(motor.no_load_speed, 1.01 * motor.rated_speed),
    )
    regenerative = chance.random(count) < 0.4
    parts["valve"] = dataclasses.replace(
        parts["valve"],
        regen_pressure=np.where(regenerative, chance.uniform(200.0, 900.0, count) * PSI, 0.0),
    )
    return assemble(parts)


DIRECTED = [
    (category, name)
    for category, kind in CATEGORIES.items()
    for name, spec in physical(kind).items()
    if spec.better != 0
]


@pytest.mark.parametrize(("category", "name"), DIRECTED)
def test_better_quantities_never_slow_the_ram_nor_cost_a_margin(category: str, name: str) -> None:
    spec = physical(CATEGORIES[category])[name]
    found = random_machines(abs(hash_of(category + name)))
    part = getattr(found, category)
    factor = 1.0 + 0.7 * np.random.default_rng(5).random(COUNT)
    value = getattr(part, name)
    better = value * factor if spec.better > 0 else value / factor
    improved = dataclasses.replace(found, **{category: dataclasses.replace(part, **{name: better})})
    with np.errstate(all="ignore"):
        old, new = Evaluation(found, SETTING), Evaluation(improved, SETTING)
        solved = np.isfinite(old.cycle_time)
        assert solved.mean() > 0.9
        assert (new.cycle_time[solved] <= old.cycle_time[solved] * (1.0 + 1e-9)).all()  # type: ignore[index]
        assert np.array_equal(np.asarray(new.force), np.asarray(old.force))
        for result in RESULTS:
            if result.better:
                one, other = np.asarray(result.reading(old)), np.asarray(result.reading(new))
                assert (result.better * (other - one) >= -1e-9 * np.abs(one))[
                    np.isfinite(one)
                ].all(), result.key
        for limit in limits_of(SETTING):
            if limit.kind != "hard":
                continue
            if limit.monotone:
                before, after = limit.margin(old), limit.margin(new)
            else:
                assert limit.hope is not None, limit.name
                before = (limit.screen or limit.margin)(old)
                after = limit.hope(new)
            before, after = np.asarray(before), np.asarray(after)
            known = np.broadcast_to(np.isfinite(before), (COUNT,))
            lost = np.broadcast_to(before - after, (COUNT,))[known]
            assert lost.max(initial=-1.0) <= 1e-7, limit.name


def hash_of(text: str) -> int:
    """A number from a text that does not change from run to run."""
    return int.from_bytes(text.encode()[:6], "big")


def test_directional_categories_are_those_that_a_search_need_not_enumerate() -> None:
    free = {name for name, kind in CATEGORIES.items() if is_directional(kind)}
    assert free == {
        "pressure_hose",
        "work_hoses",
        "return_hose",
        "suction_hose",
        "fittings",
        "filter",
        "tank",
        "cooler",
    }


def stages(strokes: Strokes, point: OperatingPoint) -> tuple[tuple[Drive, NDArray[Any]], ...]:
    """Both stages of the pump, each with its share of the time of a stroke."""
    high = np.asarray(point.high_stage)
    return (strokes.high_drive, high), (strokes.low_drive, 1.0 - high)


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_shaft_power_is_accounted_for_to_the_last_watt(seed: int) -> None:
    """Shaft power = ram power + every line loss + pump leakage + pump friction."""
    found = random_machines(seed, 50)
    evaluation = Evaluation(found, SETTING)
    with np.errstate(all="ignore"):
        strokes, ram = evaluation.rated, evaluation.ram
        for point, near, far in (
            (strokes.extend, ram.cap_area, ram.annulus_area),
            (strokes.retract, ram.annulus_area, ram.cap_area),
        ):
            joined = np.asarray(point.mode) == 2.0
            flow, speed = point.flow, point.velocity
            into, away = speed * near, speed * far
            assert np.where(joined, into - away, into) == pytest.approx(
                flow, rel=1e-12, nan_ok=True
            )
            lines = strokes.pressure_path.drop(flow) * flow + strokes.work_path.drop(into) * into
            to_tank = np.where(joined, 0.0, strokes.tank_path.drop(away) * away)
            back = strokes.work_path.drop(away) * away + to_tank
            total = ram.drag * speed + lines + back - flow * point.pressure
            for drive, share in stages(strokes, point):
                shaft = drive.ratio * drive.speed(point.pressure)
                ideal = drive.displacement / (2.0 * np.pi) * shaft
                friction = (
                    drive.displacement / (2.0 * np.pi) * point.pressure * drive.coulomb
                    + drive.idle_torque
                    + drive.viscous * shaft
                ) * shaft
                total = total + share * (ideal * point.pressure + friction)
            known = np.isfinite(flow) & (
                point.pressure < 0.999 * np.asarray(found.valve.relief_pressure)
            )
            assert known.sum() > 25
            assert total[known] == pytest.approx(np.asarray(point.power)[known], rel=1e-7)


@given(st.integers(0, 10_000))
@settings(max_examples=10, deadline=None)
def test_pump_engine_and_circuit_agree_where_a_stroke_is_solved(seed: int) -> None:
    found = random_machines(seed, 50)
    with np.errstate(all="ignore"):
        strokes = Evaluation(found, SETTING).rated
        normal = np.asarray(strokes.extend.mode) < 2.0
        for point, path, load, here in (
            (strokes.extend, strokes.extend_path, strokes.extend_load_pressure, normal),
            (
                strokes.extend,
                strokes.regenerative_path,
                strokes.ram.drag / strokes.ram.rod_area,
                ~normal,
            ),
            (strokes.retract, strokes.retract_path, strokes.retract_load_pressure, True),
        ):
            known = (
                here
                & np.isfinite(point.flow)
                & (point.pressure < 0.999 * np.asarray(found.valve.relief_pressure))
            )
            assert (load + path.drop(point.flow))[known] == pytest.approx(
                np.asarray(point.pressure)[known], rel=1e-12
            )
            delivered = sum(
                share * np.asarray(drive.flow(point.pressure))
                for drive, share in stages(strokes, point)
            )
            assert delivered[known] == pytest.approx(point.flow[known], rel=1e-8)
            for drive, share in stages(strokes, point):
                speed = drive.speed(point.pressure)
                torque = drive.torque(point.pressure, speed)
                motor = found.engine
                full = engine.full_load_torque(
                    speed,
                    strokes.plant.rated_torque,
                    motor.rated_speed,
                    strokes.plant.peak_torque,
                    motor.peak_torque_speed,
                )
                turns = known & (share > 0.0) & (torque < strokes.plant.peak_torque)
                assert (torque <= full * (1.0 + 1e-9))[turns].all()


def test_one_machine_and_a_column_give_the_same_bits_in_any_company() -> None:
    found = random_machines(7)
    whole = sheet_of(found, SETTING)
    chance = np.random.default_rng(1)
    for lanes in (chance.permutation(COUNT)[:37], np.array([3]), np.arange(COUNT)[::-1]):
        some = sheet_of(lanes_of(found, lanes), SETTING)
        for key, column in whole.results.items():
            assert same_bits(column[lanes], some.results[key]), key
    for lane in range(5):
        alone = sheet_of(
            map_columns(
                found,
                lambda column, lane=lane: (
                    float(np.asarray(column)[lane])  # type: ignore[misc]
                    if np.ndim(column)
                    else column
                ),
            ),
            SETTING,
        )
        for key, column in whole.results.items():
            assert same_bits(column[lane : lane + 1], alone.results[key].reshape(1)), key


def same_bits(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    return bool(
        np.array_equal(np.ascontiguousarray(one), np.ascontiguousarray(other), equal_nan=True)
    )


def test_broadcast_axes_give_what_flat_columns_give() -> None:
    tanks = dataclasses.replace(MACHINE.tank, cooling_area=np.array([[0.5, 1.0, 1.5]]))
    rods = dataclasses.replace(MACHINE.rod, diameter=np.array([[0.04], [0.05]]))
    grid = dataclasses.replace(MACHINE, tank=tanks, rod=rods)
    flat = sheet_of(flattened(grid, (2, 3)), SETTING)
    square = sheet_of(grid, SETTING)
    for key, column in square.results.items():
        assert same_bits(np.broadcast_to(column, (2, 3)).reshape(-1), flat.results[key]), key


def test_returned_flow_follows_the_area_ratio() -> None:
    """Cap-end flow on retract for bore 5 in, rod 3.5 in: 25/(25 - 12.25) = 1.9608, by areas."""
    evaluation = Evaluation(machine(bore__diameter=5.0 * IN, rod__diameter=3.5 * IN), SETTING)
    ratio = float(np.asarray(evaluation.retract_return_flow / evaluation.retract_flow))
    assert ratio == pytest.approx(25.0 / 12.75, rel=1e-12)
    assert round(ratio, 3) == 1.961


def test_big_rod_on_a_small_return_hose_falls_to_low_stage_and_is_slower() -> None:
    """The transient simulation is held against these very machines in its own tests."""

    def back(rod: float, hose: float) -> Evaluation:
        return Evaluation(
            machine(
                bore__diameter=5.0 * IN,
                rod__diameter=rod * IN,
                return_hose__inner_diameter=hose * IN,
            ),
            SETTING,
        )

    small_rod, big_rod = back(2.0, 0.25), back(3.5, 0.25)
    assert float(small_rod.retract_high_stage) > 0.7
    assert float(big_rod.retract_high_stage) < 0.3
    assert float(big_rod.retract_stage_demand) > 3.0 * float(big_rod.plant.shift_pressure)
    assert float(big_rod.retract_time) > 1.2 * float(small_rod.retract_time)
    held = back(3.5, 0.1875)
    assert float(held.retract_high_stage) == 0.0
    assert float(held.retract_pump_pressure) > float(held.plant.shift_pressure)
    small_rod, big_rod = back(2.0, 0.375), back(3.5, 0.375)
    assert float(small_rod.retract_high_stage) == 1.0 > float(big_rod.retract_high_stage) > 0.5
    assert float(big_rod.retract_time) < float(small_rod.retract_time)
    wide = back(3.5, 1.25)
    assert float(wide.retract_high_stage) == 1.0
    assert float(wide.retract_time) < float(back(2.0, 1.25).retract_time)


def test_steady_temperature_balances_heat_to_a_thousandth() -> None:
    found = random_machines(11, 60)
    with np.errstate(all="ignore"):
        evaluation = Evaluation(found, SETTING)
        steady = evaluation.steady_temperature
        known = np.isfinite(steady) & (np.asarray(steady) < 473.0)
        enters = evaluation.heat_of(evaluation.strokes_at(steady))
        leaves = heat.conductance_rejection(
            evaluation.cooling_conductance, steady - SETTING.surroundings.air_temperature
        )
    assert known.sum() > 30
    assert np.asarray(enters)[known] == pytest.approx(np.asarray(leaves)[known], rel=1e-3)


def test_shaft_work_of_a_piece_goes_into_wood_or_oil() -> None:
    """All shaft power that does not split wood heats the oil: energy balance, splitting all day."""
    found = Evaluation(MACHINE, setting(surroundings__duty=1.0))
    shaft_work = float(found.mean_power * found.piece_period)
    oil_heat = float(found.rated_heat * found.piece_period)
    travel = SETTING.frame.stroke
    assert shaft_work == pytest.approx(oil_heat + work_levels(SETTING.wood).work(travel), rel=1e-9)


def test_cooling_margin_has_the_sign_of_the_temperature_margin() -> None:
    found = random_machines(13, 200)
    with np.errstate(all="ignore"):
        evaluation = Evaluation(found, SETTING)
        steady = np.asarray(evaluation.steady_temperature)
        for bound in (330.0, 345.0, 355.15):
            margin = np.asarray(evaluation.cooling_margin(bound))
            known = np.isfinite(steady) & np.isfinite(margin) & (np.abs(steady - bound) > 1e-3)
            assert known.sum() > 100
            assert ((margin > 0.0) == (steady < bound))[known].all()


def test_more_load_less_speed_less_flow() -> None:
    forces = np.linspace(0.0, 120e3, 40)
    strokes = Evaluation(MACHINE, SETTING).rated
    point = strokes.push(strokes.ram.drag + forces)
    same_stage = np.diff(np.asarray(point.high_stage)) == 0.0
    assert same_stage.sum() == 38
    assert (np.diff(point.flow)[same_stage] < 0.0).all()
    assert (np.diff(point.speed)[same_stage] < 0.0).all()
    assert (np.diff(point.flow) < 0.0).all()


def test_work_levels_keep_the_work_of_the_mix() -> None:
    levels = work_levels(SETTING.wood)
    total = sum(log.share for log in SETTING.wood)
    mean = sum(
        log.share / total * log.loaded_travel * log.peak_force * 0.5 * (1.0 + log.end_share)
        for log in SETTING.wood
    )
    assert levels.work(0.6) == pytest.approx(0.6 * mean, rel=1e-9)
    assert list(levels.forces) == sorted(levels.forces)
    finer = work_levels(SETTING.wood, 12)
    assert finer.work(0.6) == pytest.approx(levels.work(0.6), rel=1e-12)


def test_unsplit_share_is_the_normal_tail() -> None:
    """Normal table: P(Z > 1) = 0.158655, P(Z > 0) = 0.5 (standard normal distribution table)."""
    log = dataclasses.replace(SETTING.wood[0], peak_force=100e3, spread=0.2)
    assert float(unsplit_share((log,), 100e3)) == pytest.approx(0.5)
    assert float(unsplit_share((log,), 120e3)) == pytest.approx(0.158655, abs=1e-6)


def test_force_is_relief_pressure_times_bore_area() -> None:
    """70 686 lb for 6 in at 2500 psi (published formula page, there 70 650 with pi = 3.14)."""
    evaluation = Evaluation(
        machine(bore__diameter=6.0 * IN, valve__relief_pressure=2500.0 * PSI), SETTING
    )
    assert float(evaluation.force) / 4.4482216152605 == pytest.approx(70_686.0, abs=0.5)


def test_thin_air_takes_engine_power_and_suction() -> None:
    low, high = (
        Evaluation(MACHINE, SETTING),
        Evaluation(MACHINE, setting(surroundings__altitude=2000.0)),
    )
    assert float(high.plant.rated_torque) < 0.85 * float(low.plant.rated_torque)
    assert float(high.inlet_pressure) < float(low.inlet_pressure) - 20e3
    assert float(high.cycle_time) > float(low.cycle_time)


def test_regenerative_out_stroke_runs_on_the_rod_area() -> None:
    """Piston 25 in2, rod 7 in2, 20 gpm: 11.0 in/s, cap inflow 71.43 gpm (Esposito, Fluid Power
    with Applications, 6th ed., example 9-1 p. 331: speed Q/A_rod; cap inflow by continuity)."""
    bore, rod = np.sqrt(25.0 * 4.0 / np.pi) * IN, np.sqrt(7.0 * 4.0 / np.pi) * IN
    found = Evaluation(
        machine(
            bore__diameter=bore,
            rod__diameter=rod,
            valve__regen_pressure=600.0 * PSI,
            work_hoses__inner_diameter=2.0 * IN,
            valve__nominal_flow=200.0 * GPM,
        ),
        SETTING,
    )
    assert float(found.extend_regenerative) == 1.0
    per_flow = float(found.extend_speed / found.extend_flow) * 20.0 * GPM / IN
    assert per_flow == pytest.approx(11.0, rel=1e-9)
    cap = float(found.extend_cap_flow / found.extend_flow) * 20.0
    assert cap == pytest.approx(71.43, abs=0.005)


def test_regenerative_way_gives_way_to_the_plain_one_under_load() -> None:
    valve = {
        "valve__regen_pressure": 600.0 * PSI,
        "work_hoses__inner_diameter": 1.0 * IN,
        "rod__diameter": 2.75 * IN,
    }
    strokes = Evaluation(machine(**valve), SETTING).rated
    forces = np.array([0.0, 2e3, 20e3, 100e3])
    modes = np.asarray(strokes.push(strokes.ram.drag + forces).mode)
    assert modes.tolist() == [2.0, 2.0, 1.0, 0.0]
    plain = Evaluation(machine(**{**valve, "valve__regen_pressure": 0.0}), SETTING)
    assert float(strokes.extend_time) < 0.6 * float(plain.extend_time)
    assert float(strokes.retract_time) == float(plain.retract_time)


def test_regenerative_flow_counts_in_valve_hose_and_speed_limits() -> None:
    plain, joined = (
        Evaluation(machine(valve__regen_pressure=pressure * PSI), SETTING)
        for pressure in (0.0, 500.0)
    )
    gain = float(joined.ram.cap_area / joined.ram.rod_area)
    assert float(joined.largest_valve_flow / joined.largest_flow) == pytest.approx(gain)
    assert float(joined.work_velocity) > float(plain.work_velocity)
    assert float(joined.largest_extend_speed / plain.largest_extend_speed) == pytest.approx(gain)


def test_single_stage_pump_never_shifts() -> None:
    single = machine(pump__large_displacement=0.0, pump__small_displacement=0.5 * IN**3)
    evaluation = Evaluation(single, SETTING)
    assert float(evaluation.retract_high_stage) == 1.0
    assert float(evaluation.low_stage_share) == 0.0
    assert float(evaluation.largest_flow) == pytest.approx(0.5 * 3600.0 / 231.0 * GPM, rel=1e-12)
