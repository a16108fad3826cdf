"""Resistance of the circuit and the point at which pump, engine and circuit agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column, spread_to
from optimise.compiled.kernels import compiled
from optimise.physics import engine, lines, pump
from optimise.roots import solve_falling

FLOW_TOLERANCE = 1e-10
"""Last step of the flow solve, as a share of the pump's flow without load."""
GUESSED_TOLERANCE = 1e-8
"""The same along the search for the steady oil, which asks for no more."""


@dataclass(frozen=True)
class Pipe:
    """One hose: laminar drop [Pa s/m3] and Reynolds number [s/m3] per flow, roughness term."""

    linear: Column
    reynolds: Column
    rough: Column

    def reynolds_at(self, flow: Column) -> Column:
        """Reynolds number of a flow [m3/s]."""
        return self.reynolds * flow

    def drop(self, flow: Column) -> Column:
        """Friction [Pa] of a flow [m3/s]."""
        friction = lines.friction_number_at(self.reynolds_at(flow), self.rough)
        return self.linear * flow * (friction * (1.0 / 64.0))


@dataclass(frozen=True)
class Path:
    """Resistance of a way through the circuit: ``linear * q + square * q**2`` and its hoses."""

    linear: Column = 0.0
    square: Column = 0.0
    pipes: tuple[Pipe, ...] = ()

    def __add__(self, other: Path) -> Path:
        """Two resistances in series."""
        return Path(
            self.linear + other.linear, self.square + other.square, self.pipes + other.pipes
        )

    def seen_through(self, ratio: Column) -> Path:
        """The path with ``ratio`` times the flow, its drop weighed with ``ratio``.

        That is how the far side of a cylinder looks from the near side: areas multiply the flow
        on the way and the pressure on the way back.
        """
        return Path(
            self.linear * ratio * ratio,
            self.square * ratio * ratio * ratio,
            tuple(
                Pipe(pipe.linear * ratio * ratio, pipe.reynolds * ratio, pipe.rough)
                for pipe in self.pipes
            ),
        )

    def weighed(self, factor: Column) -> Path:
        """The path with every drop multiplied by ``factor``."""
        return Path(
            self.linear * factor,
            self.square * factor,
            tuple(Pipe(pipe.linear * factor, pipe.reynolds, pipe.rough) for pipe in self.pipes),
        )

    def drop(self, flow: Column) -> Column:
        """Pressure drop [Pa] at a flow [m3/s] of at least 0."""
        total = flow * (self.linear + self.square * flow)
        for pipe in self.pipes:
            total = total + pipe.drop(flow)
        return total

    def apart_from_pipes(self) -> Path:
        """Fittings, ends, spools and elements alone."""
        return Path(self.linear, self.square)


@dataclass(frozen=True)
class Drive:
    """Engine and pump in one stage, as the circuit sees them.

    ``displacement`` works against the circuit, ``idle_torque`` turns what is unloaded. Speeds and
    torques are the engine's; ``ratio`` is pump speed over engine speed.
    """

    displacement: Column
    idle_torque: Column
    coulomb: Column
    viscous: Column
    slip: Column
    dynamic_viscosity: Column
    speed_factor: Column
    ratio: Column
    no_load_speed: Column
    rated_speed: Column
    rated_torque: Column
    peak_torque: Column
    peak_torque_speed: Column

    def pressure_torque(self, pressure: Column) -> Column:
        """Load on the engine shaft that does not depend on its speed [N m]."""
        loaded = pump.pressure_torque(self.displacement, pressure, self.coulomb)
        return self.ratio * (loaded + self.idle_torque)

    @property
    def viscous_per_speed(self) -> Column:
        """Load on the engine shaft per its speed [N m s]."""
        return self.ratio * self.ratio * self.viscous

    def speed(self, pressure: Column) -> Column:
        """Engine speed [rad/s] at a pump pressure [Pa]."""
        return engine.running_speed(
            self.pressure_torque(pressure),
            self.viscous_per_speed,
            self.no_load_speed,
            self.rated_speed,
            self.rated_torque,
            self.peak_torque,
            self.peak_torque_speed,
        )

    def torque(self, pressure: Column, speed: Column) -> Column:
        """Load on the engine shaft [N m]."""
        return self.pressure_torque(pressure) + self.viscous_per_speed * speed

    def pump_speed(self, pressure: Column) -> Column:
        """Speed [rad/s] at which the pump seems to turn: its speed factor counts."""
        return self.ratio * self.speed_factor * self.speed(pressure)

    def flow(self, pressure: Column) -> Column:
        """Delivered flow [m3/s] at a pump pressure [Pa]."""
        return pump.delivered_flow(
            self.displacement,
            self.pump_speed(pressure),
            pressure,
            self.dynamic_viscosity,
            self.slip,
        )


@dataclass(frozen=True)
class Circuit:
    """Drive, load and path of one stroke; a relief valve bounds the pressure."""

    drive: Drive
    path: Path
    load_pressure: Column
    relief_pressure: Column
    largest_flow: Column

    def pressure(self, flow: Column) -> Column:
        """Pump pressure [Pa] that drives a flow through path and load."""
        return self.load_pressure + self.path.drop(flow)


@dataclass(frozen=True)
class OperatingPoint:
    """Where drive and circuit agree; all columns, NaN where no answer was found.

    Speed, torque and power are means over time where the unloader hunts.
    """

    flow: Column
    pressure: Column
    speed: Column
    torque: Column
    power: Column
    mode: Column
    """Stage of the pump; see the modes of :mod:`optimise.machine.strokes`."""
    high_stage: Column
    """Share of the time with both sections at work: under 1 and over 0 where the unloader hunts."""
    near_area: Column
    """Area [m2] over which the pump's flow moves the ram."""

    @property
    def velocity(self) -> Column:
        """Ram speed [m/s]."""
        return self.flow / self.near_area


def solve_flow(circuit: Circuit, guess: Column | None = None) -> Column:
    """Flow [m3/s] at which the pump delivers what the circuit takes, or what the relief leaves.

    Pump flow falls and circuit pressure rises with flow, so the answer is unique: a bracketed
    secant closes every lane to :data:`FLOW_TOLERANCE`. NaN where it does not close. A ``guess`` of
    the shape of the answer, its lanes laid flat, NaN where there is none, saves steps.
    """
    near = None if guess is None else spread_to(guess, circuit)
    return compiled(_solve, (circuit, near))


def _solve(question: tuple[Circuit, Column | None]) -> Column:
    circuit, guess = question
    upper = circuit.largest_flow
    unloaded = np.minimum(circuit.load_pressure, circuit.relief_pressure)
    start = np.clip(circuit.drive.flow(unloaded), 0.0, upper)
    if guess is not None:
        near = np.clip(guess, 0.0, upper)
        start = np.where(np.isfinite(near), near, start)
    share = FLOW_TOLERANCE if guess is None else GUESSED_TOLERANCE
    flow: Column = solve_falling(_missing_flow, circuit, (0.0, upper), start, share * upper, 1.0)
    return flow


def _missing_flow(circuit: Circuit, flow: Array, _: object) -> Column:
    """What pump or relief valve let through over what flows."""
    pressure = circuit.pressure(flow)
    room = (circuit.relief_pressure - pressure) * (circuit.largest_flow / circuit.relief_pressure)
    missing: Column = np.minimum(circuit.drive.flow(pressure) - flow, room)
    return missing
