"""Pressures and flows around the circuit, against balances and the simulated cycle."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import Machine
from optimise.machine.points import StrokePoints, extend_points, retract_points
from optimise.machine.transient import simulate_cycle
from tests.machine.example import GPM, IN, MACHINE, PSI, SETTING, machine

REGENERATIVE = machine(
    rod__diameter=2.84 * IN,
    valve__regen_pressure=640.0 * PSI,
    work_hoses__inner_diameter=1.0 * IN,
    valve__nominal_flow=40.0 * GPM,
)
MACHINES = {
    "plain": MACHINE,
    "regenerative": REGENERATIVE,
    "hunting": machine(rod__diameter=3.5 * IN, return_hose__inner_diameter=0.25 * IN),
}


@pytest.fixture(params=MACHINES)
def found(request: pytest.FixtureRequest) -> Machine:
    return MACHINES[request.param]


def both(found: Machine) -> tuple[Evaluation, StrokePoints, StrokePoints]:
    evaluation = Evaluation(found, SETTING)
    return evaluation, extend_points(evaluation), retract_points(evaluation)


def test_pressures_on_the_piston_carry_the_drag(found: Machine) -> None:
    evaluation, out, back = both(found)
    ram = evaluation.ram
    push = out.cap * ram.cap_area - out.rod * ram.annulus_area
    pull = back.rod * ram.annulus_area - back.cap * ram.cap_area
    assert float(push) == pytest.approx(float(ram.drag), rel=1e-6)
    assert float(pull) == pytest.approx(float(ram.drag), rel=1e-6)


def test_pressure_falls_along_the_flow(found: Machine) -> None:
    _, out, back = both(found)
    assert out.pump > out.valve > out.cap
    assert back.pump > back.valve > back.rod
    assert back.cap > back.tank_port > back.filter > 0.0
    assert out.rod > out.tank_port >= out.filter >= 0.0


def test_oil_is_neither_made_nor_lost(found: Machine) -> None:
    evaluation, out, back = both(found)
    ram = evaluation.ram
    for points in (out, back):
        assert float(points.cap_flow) == pytest.approx(float(points.ram * ram.cap_area))
        assert float(points.rod_flow) == pytest.approx(float(points.ram * ram.annulus_area))
    assert float(out.pump_flow + out.rod_flow) == pytest.approx(float(out.cap_flow + out.tank_flow))
    assert float(back.pump_flow + back.cap_flow) == pytest.approx(
        float(back.rod_flow + back.tank_flow)
    )


@pytest.mark.parametrize("name", ["plain", "regenerative"])
def test_the_simulated_cycle_has_the_same_pressures_once_settled(name: str) -> None:
    found = MACHINES[name]
    _, out, back = both(found)
    trace = simulate_cycle(found, SETTING)
    middle = 0.5 * SETTING.frame.stroke
    going = int(np.argmax(trace.position > middle))
    coming = len(trace.times) - 1 - int(np.argmax(trace.position[::-1] > middle))
    for place, points in ((going, out), (coming, back)):
        assert trace.cap_pressure[place] == pytest.approx(float(points.cap), rel=0.01)
        assert trace.rod_pressure[place] == pytest.approx(float(points.rod), rel=0.01)
        assert trace.pump_pressure[place] == pytest.approx(float(points.pump), rel=0.01)
        assert trace.return_flow[place] == pytest.approx(
            float(points.tank_flow), rel=0.01, abs=1e-6
        )


def test_a_column_has_the_numbers_of_each_machine() -> None:
    bores = np.array([3.5, 4.0, 4.5]) * IN
    columns = retract_points(Evaluation(machine(bore__diameter=bores), SETTING))
    for lane, bore in enumerate(bores):
        alone = retract_points(Evaluation(machine(bore__diameter=float(bore)), SETTING))
        for field in dataclasses.fields(StrokePoints):
            column = np.broadcast_to(np.asarray(getattr(columns, field.name)), bores.shape)
            assert column[lane] == float(getattr(alone, field.name)), field.name
