"""Cold start of one machine: whether it starts, and its way to working temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.columns import Array
from optimise.machine.cold import ColdCircuit, at_warm_up_speed
from optimise.machine.evaluation import Evaluation
from optimise.machine.heat_course import (
    Stretch,
    first_at,
    follow,
    neutral_heat,
    one_evaluation,
    working_heat,
)
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting


@dataclass(frozen=True)
class ColdStart:
    """Cold start of one machine and its way to working temperature.

    It warms up in neutral at the warm-up speed for the stated time, then works. The air stays as
    cold as the oil was.

    Attributes
    ----------
    circuit
        The moment of the start.
    starts
        Whether the engine turns the pump in neutral and the pump draws oil.
    ready_time
        Time [s] until the pump's highest viscosity is kept; 0 where it is from the start, None
        where it is not within the hours of a working day, or the machine does not start.
    rated_time
        The same for the rating temperature.
    times, temperature
        Time after the start [s] and oil temperature [K].
    """

    circuit: ColdCircuit
    starts: bool
    ready_time: float | None
    rated_time: float | None
    times: Array
    temperature: Array


def cold_start(machine: Machine, setting: Setting) -> ColdStart:
    """Cold start of one machine.

    Raises
    ------
    ValueError
        The machine is a column of machines.
    """
    evaluation = one_evaluation(machine, setting)
    place, day = setting.surroundings, setting.day
    cold = place.cold_oil_temperature
    slow = Evaluation(at_warm_up_speed(machine, setting), setting, evaluation.levels)
    stretches = [
        Stretch(0.0, day.warm_up_time, neutral_heat(slow, cold)),
        Stretch(
            day.warm_up_time,
            day.warm_up_time + day.end - day.start,
            working_heat(evaluation, cold),
        ),
    ]
    course = follow(
        [stretch for stretch in stretches if stretch.end > stretch.begin],
        lambda times: np.full_like(times, cold),
        cold,
        float(evaluation.heat_store.capacity),
        float(evaluation.cooling_conductance),
    )
    times, temperature = course.times, course.temperature
    circuit = evaluation.cold
    starts = float(circuit.neutral_load) <= 1.0 and float(evaluation.cold_inlet_pressure) > 0.0

    def warm_at(bound: float) -> float | None:
        return first_at(times, temperature, bound) if starts else None

    return ColdStart(
        circuit=circuit,
        starts=starts,
        ready_time=warm_at(float(evaluation.thick_oil_temperature)),
        rated_time=warm_at(place.rated_oil_temperature),
        times=times,
        temperature=temperature,
    )
