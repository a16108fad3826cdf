"""The transient simulation against the fast model, against balances, and in its limits."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimise.columns import flattened, map_columns
from optimise.machine import transient
from optimise.machine.dynamics import Dynamics
from optimise.machine.evaluation import Evaluation
from optimise.machine.log_force import ForceLevels, mix_profile
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.strokes import HIGH, LOW, REGENERATIVE
from optimise.machine.transient import (
    DETENT,
    DETENT_TRIPS,
    ENGINE_STALLS,
    FINISHED,
    PARTED,
    RAM_HELD,
    RELOADED,
    UNLOADED,
    Transient,
    simulate_cycle,
)
from optimise.machine.wood import WorkLevels, levels_of, work_levels
from optimise.search.brute import evaluate_fully
from optimise.search.exact import exact_front
from optimise.study.load import load_study
from optimise.study.space import owned_machine, space_of
from tests.machine.example import GPM, IN, MACHINE, PSI, RPM, SETTING, machine, setting

STUDIES = Path(__file__).parents[2] / "studies"
NAMES = ("alder-yard", "kvarnby")
FRONT_MEMBERS, NEIGHBOURS = 8, 20
IDLE, LOADED = 0.03, 0.05
"""Shares by which strokes without and with a log may differ between the two models."""


@dataclass(frozen=True)
class Run:
    """A machine in both models, without a log and through the mean piece of its study's mix."""

    name: str
    evaluation: Evaluation
    idle: Transient
    loaded: Transient

    @property
    def loaded_error(self) -> float:
        return self.loaded.extend_time / float(self.evaluation.rated.loaded_extend_time) - 1.0

    def levels(self) -> str:
        """Each level of the mix: pump pressure over relief, and in both stages over shift."""
        strokes, said = self.evaluation.rated, []
        for met, point in strokes.pushing:
            force = float(met) + float(strokes.ram.drag)
            low, high = (float(strokes.push(force, mode).pressure) for mode in (LOW, HIGH))
            shift = float(strokes.plant.shift_pressure)
            relief = float(strokes.machine.valve.relief_pressure)
            said.append(
                f"{float(point.pressure) / relief:.3f} of the relief setting, small section "
                f"{low / shift:.3f}, both {high / shift:.3f} of the shift pressure, "
                f"mode {float(point.mode):.2f}"
            )
        return "; ".join(said)


def single(columns: Machine, lane: int) -> Machine:
    return map_columns(columns, lambda column: float(np.asarray(column)[lane]))


def run(name: str, found: Machine, where: Setting) -> Run:
    evaluation = Evaluation(found, where)
    profile = mix_profile(
        evaluation.levels, where.frame.stroke, float(evaluation.rated.moving_force)
    )
    return Run(
        name,
        evaluation,
        simulate_cycle(found, where),
        simulate_cycle(found, where, log_force=profile),
    )


@cache
def runs(name: str) -> tuple[Run, ...]:
    """The machine owned, members of the exact front and random feasible neighbours of them."""
    study = load_study(STUDIES / name)
    space = space_of(study)
    front = exact_front(space, study.setting).designs.indices
    chance = np.random.default_rng(11)
    members = front[chance.choice(len(front), FRONT_MEMBERS, replace=False)]
    others = front[chance.integers(len(front), size=2000)].copy()
    for _ in range(5):
        place = chance.integers(len(space.sizes))
        others[:, place] = chance.integers(space.sizes[place], size=len(others))
    _, feasible = evaluate_fully(space.machine(others), study.setting, levels_of(study.setting))
    rows = np.concatenate([members, others[feasible][:NEIGHBOURS]])
    assert evaluate_fully(space.machine(rows), study.setting, levels_of(study.setting))[1].all()
    machines = flattened(space.machine(rows), (len(rows),))
    named = [("owned", owned_machine(study))]
    named += [(str(space.names(row)), single(machines, lane)) for lane, row in enumerate(rows)]
    return tuple(run(label, found, study.setting) for label, found in named)


# --- against the fast model ----------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_strokes_without_a_log_agree(name: str) -> None:
    assert len(runs(name)) == 1 + FRONT_MEMBERS + NEIGHBOURS
    for each in runs(name):
        assert each.idle.outcome == FINISHED, each.name
        fast = each.evaluation
        assert each.idle.extend_time == pytest.approx(float(fast.extend_time), rel=IDLE), each.name
        assert each.idle.retract_time == pytest.approx(float(fast.retract_time), rel=IDLE), (
            each.name
        )


@pytest.mark.parametrize("name", NAMES)
def test_whole_cycles_agree(name: str) -> None:
    """Reversals included: what the fast model adds for spool, compression and start is enough."""
    for each in runs(name):
        fast = each.evaluation
        assert each.idle.cycle_time == pytest.approx(float(fast.cycle_time), rel=IDLE), each.name


@pytest.mark.parametrize("name", NAMES)
def test_strokes_through_wood_agree(name: str) -> None:
    apart = [
        f"{each.loaded_error:+.1%} ({each.loaded.count(UNLOADED)} times unloaded): "
        f"{each.levels()}: {each.name}"
        for each in runs(name)
        if each.loaded.outcome != FINISHED or abs(each.loaded_error) > LOADED
    ]
    assert not apart, "\n".join([f"{len(apart)} of {len(runs(name))} apart:", *apart])


@pytest.mark.parametrize("name", NAMES)
def test_settled_strokes_have_the_pressures_and_speeds_of_the_fast_model(name: str) -> None:
    for each in runs(name):
        fast, trace = each.evaluation, each.idle
        middle = 0.5 * fast.setting.frame.stroke
        out = int(np.argmax(trace.position > middle))
        back = len(trace.times) - 1 - int(np.argmax(trace.position[::-1] > middle))
        pairs = (
            (trace.pump_pressure[out], fast.extend_pump_pressure),
            (trace.pump_pressure[back], fast.retract_pump_pressure),
            (trace.cap_pressure[back], fast.cap_back_pressure),
            (trace.velocity[out], fast.extend_speed),
            (trace.velocity[back], -np.asarray(fast.retract_speed)),
            (trace.pump_flow[out], fast.extend_flow),
            (trace.return_flow[back], fast.retract_return_flow),
            (trace.engine_speed[out], fast.engine_speed),
        )
        for found, expected in pairs:
            assert found == pytest.approx(float(expected), rel=0.005), each.name


def test_regenerative_strokes_agree() -> None:
    """Area ratio near 2, as such cylinders have; switch-over under and over what it takes."""
    for switch_over in (100.0, 500.0, 640.0):
        found = machine(
            rod__diameter=2.84 * IN,
            valve__regen_pressure=switch_over * PSI,
            work_hoses__inner_diameter=1.0 * IN,
            valve__nominal_flow=40.0 * GPM,
        )
        each = run(f"{switch_over} psi", found, SETTING)
        fast = each.evaluation
        assert each.idle.extend_time == pytest.approx(float(fast.extend_time), rel=IDLE)
        assert each.idle.cycle_time == pytest.approx(float(fast.cycle_time), rel=IDLE)
        assert abs(each.loaded_error) < LOADED
        regenerative = float(fast.rated.extend.mode) == REGENERATIVE
        assert regenerative is (switch_over > 300.0)
        started_joined = each.loaded.count(PARTED) > 0
        assert started_joined


def on_a_small_return_hose(rod: float, hose: float) -> Machine:
    """Bore 5 in, no detent that would let go of the back stroke; inches."""
    return machine(
        bore__diameter=5.0 * IN,
        rod__diameter=rod * IN,
        return_hose__inner_diameter=hose * IN,
        valve__detent_pressure=0.0,
    )


@pytest.mark.parametrize(
    ("rod", "hose"), [(3.5, 0.375), (3.0, 0.3125), (2.0, 0.25), (3.5, 0.25), (3.5, 0.1875)]
)
@pytest.mark.parametrize(("reload_share", "tolerance"), [(0.8, 0.08), (0.95, 0.05)])
def test_back_strokes_between_the_stages_agree(
    rod: float, hose: float, reload_share: float, tolerance: float
) -> None:
    """Bore 5 in and small return hoses: neither stage can stay, until the small section can.

    A hard limit bars such machines; their times are shown so that a builder sees why. Lags of the
    unloader, which the fast model has not, count for more the further apart its pressures are.
    """
    found = on_a_small_return_hose(rod, hose)
    where = setting(constants__reload_share=reload_share)
    fast = Evaluation(found, where)
    trace = simulate_cycle(found, where)
    assert trace.retract_time == pytest.approx(float(fast.retract_time), rel=tolerance)
    travel = where.frame.stroke
    middle = (trace.velocity < 0.0) & (np.abs(trace.position / travel - 0.5) < 0.4)
    lasting = np.gradient(trace.times)[middle]
    share = float(np.average(trace.stage[middle], weights=lasting))
    assert share == pytest.approx(float(fast.retract_high_stage), abs=0.1)


@pytest.mark.parametrize(("rod", "hose"), [(3.5, 0.375), (3.5, 0.25), (2.0, 0.25)])
def test_work_of_the_engine_agrees_where_the_unloader_hunts(rod: float, hose: float) -> None:
    found = on_a_small_return_hose(rod, hose)
    fast = Evaluation(found, SETTING)
    strokes = fast.rated
    expected = (
        strokes.extend.power * fast.extend_time
        + strokes.retract.power * fast.retract_time
        + strokes.neutral.power * fast.reversal_time
    )
    assert 0.0 < float(strokes.retract.high_stage) < 1.0
    assert simulate_cycle(found, SETTING).energy.engine == pytest.approx(float(expected), rel=0.05)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("reload_share", [0.7, 0.8])
def test_loaded_strokes_agree_with_pressures_of_the_unloader_apart(
    name: str, reload_share: float
) -> None:
    study = load_study(STUDIES / name)
    constants = dataclasses.replace(study.setting.constants, reload_share=reload_share)
    where = dataclasses.replace(study.setting, constants=constants)
    assert abs(run(name, owned_machine(study), where).loaded_error) < LOADED


@pytest.mark.parametrize("near", [0.951, 0.954, 0.957, 0.962, 0.97, 0.98])
def test_wood_near_the_reload_pressure_agrees(near: float) -> None:
    """A step down to it swings under it, so that the small section may not stay alone there."""
    strokes = Evaluation(MACHINE, SETTING).rated
    plant, ram = strokes.plant, strokes.ram
    lost = strokes.extend_path.drop(strokes.low_drive.flow(plant.reload_pressure))
    load = near * float(plant.shift_pressure) - float(np.asarray(lost))
    easy = load * float(ram.cap_area) - float(ram.drag)
    levels = WorkLevels(0.6, (easy, 2.0 * easy))
    fast = Evaluation(MACHINE, SETTING, levels)
    log = mix_profile(levels, SETTING.frame.stroke)
    trace = simulate_cycle(MACHINE, SETTING, log_force=log)
    assert trace.extend_time == pytest.approx(float(fast.rated.loaded_extend_time), rel=LOADED)


@pytest.mark.parametrize(("reload_share", "stage"), [(0.8, LOW), (0.99, HIGH)])
def test_wood_finds_the_unloader_as_the_harder_wood_before_left_it(
    reload_share: float, stage: float
) -> None:
    """Behind wood that unloads it the small section stays alone, if that needs the reload pressure,
    for wood that both sections could have pushed."""
    where = setting(constants__reload_share=reload_share)
    strokes = Evaluation(MACHINE, where).rated
    shift = float(strokes.plant.shift_pressure)
    easy = 0.84 * shift * float(strokes.ram.cap_area) - float(strokes.ram.drag)
    levels = WorkLevels(0.6, (easy, 2.0 * easy))
    fast = Evaluation(MACHINE, where, levels)
    assert [float(point.mode) for _, point in fast.rated.pushing] == [stage, LOW]
    log = mix_profile(levels, where.frame.stroke)
    trace = simulate_cycle(MACHINE, where, log_force=log)
    assert trace.extend_time == pytest.approx(float(fast.rated.loaded_extend_time), rel=LOADED)


def test_cold_oil_may_hold_a_hunting_pump_on_its_small_section() -> None:
    found, cold = on_a_small_return_hose(3.5, 0.25), 280.15
    fast = Evaluation(found, SETTING)
    assert 0.0 < float(fast.retract_high_stage) < 1.0
    strokes = fast.strokes_at(cold)
    assert float(strokes.retract.high_stage) == 0.0
    trace = simulate_cycle(found, SETTING, temperature=cold)
    assert trace.retract_time == pytest.approx(float(strokes.retract_time), rel=IDLE)


def test_oil_at_another_temperature() -> None:
    cold = 283.15
    strokes = Evaluation(MACHINE, SETTING).strokes_at(cold)
    found = simulate_cycle(MACHINE, SETTING, temperature=cold)
    assert found.extend_time == pytest.approx(float(strokes.extend_time), rel=IDLE)
    assert found.retract_time == pytest.approx(float(strokes.retract_time), rel=IDLE)
    warm = simulate_cycle(MACHINE, SETTING)
    assert found.energy.lines > 1.5 * warm.energy.lines


def test_a_bigger_rod_on_a_small_return_hose_is_slower_back() -> None:
    """What the cap end sends back drives the pump over its shift pressure."""

    def back(rod: float, hose: float) -> Transient:
        found = machine(
            bore__diameter=5.0 * IN,
            rod__diameter=rod * IN,
            return_hose__inner_diameter=hose * IN,
            valve__detent_pressure=0.0,
        )
        return simulate_cycle(found, SETTING)

    small, big, wide = back(2.0, 0.25), back(3.5, 0.25), back(3.5, 1.25)
    assert big.retract_time > 1.1 * small.retract_time
    assert big.retract_time > 2.0 * wide.retract_time
    assert big.count(UNLOADED) > 3
    assert wide.count(UNLOADED) == 0


# --- balances ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_energy_is_found_again(name: str) -> None:
    for each in runs(name):
        assert abs(each.idle.energy.imbalance) < 0.01, each.name
        assert abs(each.loaded.energy.imbalance) < 0.01, each.name


@pytest.mark.parametrize("name", NAMES)
def test_wood_gets_force_times_travel(name: str) -> None:
    for each in runs(name):
        assert each.idle.energy.wood == 0.0
        work = float(each.evaluation.rated.wood_work)
        assert each.loaded.energy.wood == pytest.approx(work, rel=0.005), each.name


@pytest.mark.parametrize("name", NAMES)
def test_oil_is_neither_made_nor_lost(name: str) -> None:
    """Volume that returns on a settled stretch is what the far side of the piston sweeps."""
    for each in runs(name):
        trace, ram = each.idle, each.evaluation.ram
        for way, area in ((1.0, ram.annulus_area), (-1.0, ram.cap_area)):
            stroke = each.evaluation.setting.frame.stroke
            settled = (
                (way * trace.velocity > 0.0)
                & (trace.position > 0.3 * stroke)
                & (trace.position < 0.7 * stroke)
            )
            times, position = trace.times[settled], trace.position[settled]
            returned = float(np.trapezoid(trace.return_flow[settled], times))
            swept = float(area) * abs(position[-1] - position[0])
            assert returned == pytest.approx(swept, rel=0.01), each.name


@pytest.mark.parametrize("name", NAMES)
def test_traces_hang_together(name: str) -> None:
    stroke = runs(name)[0].evaluation.setting.frame.stroke
    for each in runs(name):
        for trace in (each.idle, each.loaded):
            step = np.diff(trace.times)
            assert (step >= 0.0).all()
            assert step.max() <= 1.5 * transient.GRID
            assert trace.position.min() > -1e-4
            assert trace.position.max() == pytest.approx(stroke, abs=1e-6)
            assert set(np.unique(trace.stage)) <= {0.0, 1.0}
            total = trace.extend_time + trace.retract_time + trace.reversal_time
            assert trace.times[-1] - trace.detent_delay == pytest.approx(total, abs=1e-6)
            shift_time = float(each.evaluation.machine.valve.shift_time)
            assert trace.extend_reversal_time >= shift_time
            assert trace.retract_reversal_time >= shift_time


def test_velocity_is_the_rate_of_the_position(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a grid fine enough for the jump of the ram when a log gives way."""
    monkeypatch.setattr(transient, "GRID", 5e-4)
    levels = mix_profile(work_levels(SETTING.wood), SETTING.frame.stroke)
    trace = simulate_cycle(MACHINE, SETTING, log_force=levels)
    mean = 0.5 * (trace.velocity[1:] + trace.velocity[:-1])
    moved = np.concatenate([[0.0], np.cumsum(np.diff(trace.times) * mean)])
    assert np.abs(moved - trace.position).max() < 1e-3 * SETTING.frame.stroke


def test_compression_of_oil(monkeypatch: pytest.MonkeyPatch) -> None:
    """1.2 % at 3000 psi: bulk modulus 250 000 psi, the rule of mineral oil in published tables."""
    monkeypatch.setattr(transient, "GRID", 5e-4)
    where = setting(
        oil__bulk_modulus=250e3 * PSI, oil__air_share=0.0, constants__relief_override=1e-3
    )
    found = machine(
        valve__relief_pressure=3300.0 * PSI,
        pump__large_displacement=0.0,
        pump__small_displacement=0.3 * IN**3,
        engine__rated_torque=40.0,
        engine__peak_torque=46.0,
    )
    at = 0.5 * where.frame.stroke
    log = ForceLevels((at,), (1e7,))
    dynamics = Dynamics(dead_volume=0.0)
    trace = simulate_cycle(found, where, log_force=log, dynamics=dynamics)
    touched = next(switch.time for switch in trace.switches)
    risen = trace.times[int(np.argmax(trace.pump_pressure >= 3000.0 * PSI))]
    while_rising = (trace.times >= touched) & (trace.times <= risen)
    pumped = float(np.trapezoid(trace.pump_flow[while_rising], trace.times[while_rising]))
    lines = where.lines
    hoses = (
        (lines.pressure.length, found.pressure_hose.inner_diameter),
        (lines.work.length, found.work_hoses.inner_diameter),
    )
    volume = (
        math.pi
        / 4.0
        * (
            float(found.bore.diameter) ** 2 * at
            + sum(length * float(diameter) ** 2 for length, diameter in hoses)
        )
    )
    before = trace.pump_pressure[int(np.argmax(trace.times >= touched))]
    rise = (3000.0 * PSI - before) / (3000.0 * PSI)
    assert pumped / volume == pytest.approx(0.012 * rise, rel=0.03)


# --- valves --------------------------------------------------------------------------------------


def ramp(start: float, end: float, first: float, last: float) -> Any:
    """Force rising (or falling) in a straight line between two places of the travel."""

    def force(travel: float) -> float:
        if travel < start:
            return 0.0
        return first + (last - first) * min((travel - start) / (end - start), 1.0)

    return force


def test_unloads_where_the_force_crosses_the_shift_force() -> None:
    stroke = SETTING.frame.stroke
    strokes = Evaluation(MACHINE, SETTING).rated
    rising = ramp(0.2 * stroke, stroke, 0.0, 80e3)
    trace = simulate_cycle(MACHINE, SETTING, log_force=rising)
    moment = next(switch.time for switch in trace.switches if switch.what == UNLOADED)
    position = float(np.interp(moment, trace.times, trace.position))
    full = strokes.push(float(strokes.ram.drag) + rising(position), HIGH)
    assert float(full.pressure) == pytest.approx(float(strokes.plant.shift_pressure), rel=0.03)
    assert trace.stage[np.searchsorted(trace.times, moment) - 2] == 1.0
    assert trace.stage[np.searchsorted(trace.times, moment) + 2] == 0.0


def test_loads_again_under_the_stated_share_of_the_shift_pressure() -> None:
    stroke = SETTING.frame.stroke
    strokes = Evaluation(MACHINE, SETTING).rated
    falling = ramp(0.2 * stroke, stroke, 80e3, 0.0)
    for share in (0.7, 0.95):
        where = setting(constants__reload_share=share)
        trace = simulate_cycle(MACHINE, where, log_force=falling)
        moment = next(switch.time for switch in trace.switches if switch.what == RELOADED)
        position = float(np.interp(moment, trace.times, trace.position))
        small = strokes.push(float(strokes.ram.drag) + falling(position), LOW)
        expected = share * float(strokes.plant.shift_pressure)
        assert float(small.pressure) == pytest.approx(expected, rel=0.03)


def test_hunts_no_quicker_than_its_lags_where_neither_stage_can_stay() -> None:
    """Both sections need more than the shift pressure, the small one less than it takes to load."""
    found = machine(work_hoses__inner_diameter=0.375 * IN)
    strokes = Evaluation(found, SETTING).rated
    shift = float(strokes.plant.shift_pressure)
    drag = float(strokes.ram.drag)
    force = 0.90 * shift * float(strokes.ram.cap_area) - drag
    small, both = strokes.push(drag + force, LOW), strokes.push(drag + force, HIGH)
    assert float(small.pressure) < 0.95 * shift < shift < float(both.pressure)
    stroke = SETTING.frame.stroke
    trace = simulate_cycle(found, SETTING, log_force=ForceLevels((0.3 * stroke,), (force,)))
    loaded = (trace.position > 0.5 * stroke) & (trace.position < 0.9 * stroke)
    loaded &= trace.velocity > 0.0
    speed = (trace.position[loaded][-1] - trace.position[loaded][0]) / (
        trace.times[loaded][-1] - trace.times[loaded][0]
    )
    assert 1.2 * float(small.velocity) < speed < 0.95 * float(both.velocity)
    span = trace.times[loaded][-1] - trace.times[loaded][0]
    switched = np.count_nonzero(np.diff(trace.stage[loaded])) / 2
    assert 3 < switched < span / 0.01


@pytest.mark.parametrize("name", [*NAMES, "single-stage"])
def test_a_log_that_holds_meets_the_force_at_relief(name: str) -> None:
    if name == "single-stage":
        found = machine(pump__large_displacement=0.0, pump__small_displacement=0.3 * IN**3)
        where = SETTING
    else:
        found, where = runs(name)[0].evaluation.machine, runs(name)[0].evaluation.setting
    log = ForceLevels((0.4 * where.frame.stroke,), (1e7,))
    trace = simulate_cycle(found, where, log_force=log)
    assert trace.outcome == RAM_HELD
    assert math.isnan(trace.extend_time)
    assert trace.position[-1] == pytest.approx(0.4 * where.frame.stroke, abs=2e-3)
    evaluation = Evaluation(found, where)
    pushed = trace.cap_pressure[-1] * float(evaluation.ram.cap_area)
    assert pushed == pytest.approx(float(evaluation.force), rel=0.01)
    assert trace.highest_pump_pressure < 1.06 * float(found.valve.relief_pressure)
    assert trace.energy.relief > 0.0
    assert abs(trace.energy.imbalance) < 0.01


@pytest.mark.parametrize("name", NAMES)
def test_the_relief_valve_holds_the_pressure(name: str) -> None:
    for each in runs(name):
        setting_of_relief = float(each.evaluation.machine.valve.relief_pressure)
        for trace in (each.idle, each.loaded):
            assert trace.highest_pump_pressure < 1.06 * setting_of_relief, each.name
            assert trace.pump_pressure.max() <= trace.highest_pump_pressure * (1.0 + 1e-6)


def test_detent_lets_go_at_the_end_or_trips_early() -> None:
    held = simulate_cycle(MACHINE, SETTING)
    assert held.switches[-1].what == DETENT
    assert held.pump_pressure[-1] > float(MACHINE.valve.detent_pressure)
    assert 0.0 < held.detent_delay < 1.0
    needed = float(Evaluation(MACHINE, SETTING).retract_pump_pressure)
    early = simulate_cycle(machine(valve__detent_pressure=0.8 * needed), SETTING)
    assert early.outcome == DETENT_TRIPS
    assert math.isnan(early.retract_time)
    assert early.position[-1] > 0.5 * SETTING.frame.stroke
    plain = simulate_cycle(machine(valve__detent_pressure=0.0), SETTING)
    assert plain.detent_delay == 0.0
    assert plain.outcome == FINISHED


def test_an_engine_asked_for_too_much_stalls() -> None:
    weak = machine(engine__rated_torque=6.0, engine__peak_torque=7.0)
    assert float(Evaluation(weak, SETTING).stall_share) > 1.0
    log = ForceLevels((0.3 * SETTING.frame.stroke,), (1e7,))
    trace = simulate_cycle(weak, SETTING, log_force=log)
    assert trace.outcome == ENGINE_STALLS
    assert trace.engine_speed[-1] < float(weak.engine.peak_torque_speed)


# --- limits and numbers --------------------------------------------------------------------------


def test_stiff_oil_and_a_heavy_flywheel_leave_the_fast_model() -> None:
    """With hard oil and an engine that cannot slow down only inertia is left of the reversals."""
    hard = setting(oil__bulk_modulus=1.5e11, oil__air_share=0.0, constants__reload_share=0.999)
    steady = machine(engine__no_load_speed=3450.5 * RPM, engine__rated_speed=3450.0 * RPM)
    fast = Evaluation(steady, hard, work_levels(hard.wood, 3))
    levels = mix_profile(fast.levels, hard.frame.stroke, ramp_share=0.0)
    dynamics = Dynamics(engine_inertia=50.0, pilot_time=2e-3, spool_time=2e-3)
    found = simulate_cycle(steady, hard, log_force=levels, dynamics=dynamics)
    assert found.retract_time == pytest.approx(float(fast.retract_time), rel=1e-3)
    assert found.extend_time == pytest.approx(float(fast.rated.loaded_extend_time), rel=5e-3)
    usual = setting(constants__reload_share=0.999)
    soft = simulate_cycle(steady, usual, log_force=levels, dynamics=dynamics)
    late = soft.extend_time - found.extend_time
    assert late > 0.02


def test_assumed_numbers_of_the_transient_do_not_move_the_strokes() -> None:
    plain = simulate_cycle(MACHINE, SETTING)
    for changes in (
        {"engine_inertia": 0.2},
        {"damping_time": 1e-3},
        {"dead_volume": 200e-6},
        {"port_length": 0.5},
        {"pilot_time": 0.05},
        {"constants__relief_override": 0.15},
        {"constants__reload_share": 0.8},
    ):
        of_setting = {name: value for name, value in changes.items() if "__" in name}
        dynamics = Dynamics(**{n: value for n, value in changes.items() if "__" not in n})
        changed = simulate_cycle(MACHINE, setting(**of_setting), dynamics=dynamics)
        assert changed.extend_time == pytest.approx(plain.extend_time, rel=2e-3), changes
        assert changed.retract_time == pytest.approx(plain.retract_time, rel=2e-3), changes
        assert changed.cycle_time == pytest.approx(plain.cycle_time, rel=0.01), changes


def test_tolerance_of_the_solver_does_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    levels = mix_profile(work_levels(SETTING.wood), SETTING.frame.stroke)
    usual = simulate_cycle(MACHINE, SETTING, log_force=levels)
    monkeypatch.setattr(transient, "_RELATIVE", 1e-8)
    monkeypatch.setattr(transient, "_ABSOLUTE", transient._ABSOLUTE * 0.01)
    monkeypatch.setattr("optimise.machine.dynamics.TABLE", 20_000)
    fine = simulate_cycle(MACHINE, SETTING, log_force=levels)
    assert usual.extend_time == pytest.approx(fine.extend_time, rel=1e-4)
    assert usual.retract_time == pytest.approx(fine.retract_time, rel=1e-5)
    assert usual.highest_pump_pressure == pytest.approx(fine.highest_pump_pressure, rel=1e-3)


def test_same_machine_same_bits() -> None:
    once, again = simulate_cycle(MACHINE, SETTING), simulate_cycle(MACHINE, SETTING)
    for field in dataclasses.fields(Transient):
        one, other = getattr(once, field.name), getattr(again, field.name)
        assert np.array_equal(one, other) if isinstance(one, np.ndarray) else one == other


def test_steps_and_a_plain_function_of_the_same_force_agree() -> None:
    profile = ForceLevels((0.3, 0.4), (60e3, 20e3))
    stepped = simulate_cycle(MACHINE, SETTING, log_force=profile)
    plain = simulate_cycle(MACHINE, SETTING, log_force=profile.__call__)
    assert plain.extend_time == pytest.approx(stepped.extend_time, rel=1e-3)
    assert plain.energy.wood == pytest.approx(stepped.energy.wood, rel=1e-2)


def test_profile_of_a_mix_is_hardest_first_and_keeps_its_work() -> None:
    levels = work_levels(SETTING.wood)
    profile = mix_profile(levels, 0.6, ramp_share=0.0)
    assert list(profile.forces) == sorted(levels.forces, reverse=True)
    assert profile.edges[0] == pytest.approx(0.6 * (1.0 - levels.loaded_share))
    ends = (*profile.edges[1:], 0.6)
    work = sum(
        force * (end - start)
        for start, end, force in zip(profile.edges, ends, profile.forces, strict=True)
    )
    assert work == pytest.approx(levels.work(0.6), rel=1e-12)
    ramped = mix_profile(levels, 0.6)
    travels = np.linspace(0.0, 0.6, 60_001)
    forces = np.array([ramped(float(travel)) for travel in travels])
    assert float(np.trapezoid(forces, travels)) == pytest.approx(levels.work(0.6), rel=1e-3)
    assert np.abs(np.diff(forces)).max() < 0.01 * forces.max()
    assert max(mix_profile(levels, 0.6, 50e3).forces) == 50e3
    assert profile(0.0) == 0.0
    assert profile(0.6) == min(levels.forces)


def test_a_column_of_machines_is_refused() -> None:
    with pytest.raises(ValueError, match="one machine"):
        simulate_cycle(machine(rod__diameter=np.array([0.04, 0.05])), SETTING)
