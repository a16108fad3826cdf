"""Circuit at the cold start, engine at its warm-up speed."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from optimise.columns import Column, as_numbers
from optimise.machine.circuit import OperatingPoint
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.strokes import LOW, Cylinder, PowerPlant, Stages, Strokes
from optimise.machine.wood import WorkLevels

_RELIEVING = 1.0 - 1e-6


def at_warm_up_speed(machine: Machine, setting: Setting) -> Machine:
    """Machine with the throttle of its engine set to the warm-up speed.

    No-load speed, droop and speed of peak torque shrink alike and torques stay: common practice for
    a governor at part throttle, no source.
    """
    motor = machine.engine
    speed = setting.surroundings.cold_engine_speed
    share = np.minimum(speed / as_numbers(motor.no_load_speed), 1.0)
    return replace(
        machine,
        engine=replace(
            motor,
            no_load_speed=motor.no_load_speed * share,
            rated_speed=motor.rated_speed * share,
            peak_torque_speed=motor.peak_torque_speed * share,
        ),
    )


class ColdCircuit:
    """Circuit at the cold start; columns in SI, each worked out when first asked for.

    The stage of the pump follows the pressure at that temperature. Where the relief valve opens
    before the oil moves, the pressure is its setting.
    """

    def __init__(
        self, machine: Machine, setting: Setting, levels: WorkLevels, ram: Cylinder
    ) -> None:
        self.machine = at_warm_up_speed(machine, setting)
        self.setting, self.levels, self.ram = setting, levels, ram

    @cached_property
    def plant(self) -> PowerPlant:
        """Engine at its warm-up speed with the pump on it."""
        return PowerPlant(self.machine, self.setting)

    @cached_property
    def strokes(self) -> Strokes:
        """Strokes with the oil as cold as at the start."""
        return self._strokes()

    @cached_property
    def _low(self) -> Strokes:
        """The same with every phase in low stage."""
        return self._strokes(Stages(LOW, LOW, LOW, (LOW,) * len(self.levels.forces)))

    def _strokes(self, stages: Stages | None = None) -> Strokes:
        return Strokes(
            self.machine,
            self.setting,
            self.levels,
            self.plant,
            self.ram,
            self.setting.surroundings.cold_oil_temperature,
            stages,
        )

    def _pressure(self, point: OperatingPoint) -> Column:
        moves = np.isfinite(point.flow)
        return np.where(moves, point.pressure, self.machine.valve.relief_pressure)

    def _relief_flow(self, point: OperatingPoint) -> Column:
        relief, pressure = self.machine.valve.relief_pressure, self._pressure(point)
        drive = self.plant.drive(self.strokes.dynamic_viscosity, point.high_stage)
        spare = drive.flow(pressure) - np.where(np.isfinite(point.flow), point.flow, 0.0)
        return np.where(pressure >= _RELIEVING * relief, np.maximum(spare, 0.0), 0.0)

    def _shaft(self, point: OperatingPoint) -> tuple[Column, Column]:
        """Torque [N m] and speed [rad/s] of the engine, means where the unloader hunts."""
        moves = np.isfinite(point.flow)
        relief = self.machine.valve.relief_pressure
        drive = self.plant.drive(self.strokes.dynamic_viscosity, point.high_stage)
        stalled = drive.speed(relief)
        return (
            np.where(moves, point.torque, drive.torque(relief, stalled)),
            np.where(moves, point.speed, stalled),
        )

    def _load(self, point: OperatingPoint) -> Column:
        return self._shaft(point)[0] / self.plant.peak_torque

    @cached_property
    def viscosity(self) -> Column:
        """Kinematic viscosity [m2/s]."""
        return self.strokes.kinematic_viscosity

    @cached_property
    def cracking_pressure(self) -> Column:
        """Pump pressure at which the relief valve begins to open [Pa]."""
        shut: Column = np.minimum(1.0 - self.setting.constants.relief_override, _RELIEVING)
        return shut * self.machine.valve.relief_pressure

    @cached_property
    def neutral_pressure(self) -> Column:
        """Pump pressure with the valve in neutral [Pa]."""
        return self._pressure(self.strokes.neutral)

    @cached_property
    def extend_pressure(self) -> Column:
        """Pump pressure on the idle out stroke [Pa]."""
        return self._pressure(self.strokes.extend)

    @cached_property
    def retract_pressure(self) -> Column:
        """Pump pressure on the back stroke [Pa]."""
        return self._pressure(self.strokes.retract)

    @cached_property
    def neutral_relief_flow(self) -> Column:
        """Flow over the relief valve in neutral [m3/s]; 0 where it stays shut."""
        return self._relief_flow(self.strokes.neutral)

    @cached_property
    def extend_relief_flow(self) -> Column:
        """Flow over the relief valve on the idle out stroke [m3/s]; 0 where it stays shut."""
        return self._relief_flow(self.strokes.extend)

    @cached_property
    def neutral_load(self) -> Column:
        """Torque in neutral over the engine's peak torque; one asked for more than 1 stops."""
        return self._load(self.strokes.neutral)

    @cached_property
    def stroke_load(self) -> Column:
        """Larger torque of the idle out stroke and the back stroke over the peak torque."""
        return np.maximum(self._load(self.strokes.extend), self._load(self.strokes.retract))

    @cached_property
    def engine_load(self) -> Column:
        """Largest torque of neutral, idle out stroke and back stroke over the peak torque."""
        return np.maximum(self.neutral_load, self.stroke_load)

    @cached_property
    def extend_time(self) -> Column:
        """Idle out stroke [s]; NaN where the ram stands."""
        return self.strokes.extend_time

    @cached_property
    def retract_time(self) -> Column:
        """Back stroke [s]; NaN where the ram stands."""
        return self.strokes.retract_time

    @cached_property
    def heat(self) -> Column:
        """Heat into the oil in neutral [W]; an engine gives no more than it can."""
        torque, speed = self._shaft(self.strokes.neutral)
        return np.minimum(torque * speed, self.plant.most_power)

    # Worse hoses, filter and cooler raise the pressure in neutral while the pump stays in one
    # stage. They can only take it from high stage over hunting to low, and a hunting pump asks for
    # no less than the small section alone.

    @cached_property
    def least_neutral_load(self) -> Column:
        """Bound from below on :attr:`neutral_load` with any worse hoses, filter and cooler."""
        return np.fmin(self.neutral_load, self._load(self._low.neutral))

    @cached_property
    def least_neutral_pressure(self) -> Column:
        """Bound from below on :attr:`neutral_pressure` with any worse hoses, filter and cooler."""
        return np.fmin(self.neutral_pressure, self._pressure(self._low.neutral))
