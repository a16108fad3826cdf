"""Equations of motion of a machine: engine, pressures, ram and oil columns, valves as they stand.

Every loss is the fast model's: the paths of :class:`~optimise.machine.strokes.Strokes`, its drives,
its drag.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column, map_columns
from optimise.machine.circuit import Path
from optimise.machine.strokes import Strokes
from optimise.physics import cylinder, engine, oil, pump

SPEED, PUMP, NEAR, FAR, TRAVEL, RAM, INFLOW, OUTFLOW, PILOT, LOADED = range(10)
"""States: engine speed; gauge pressures at the pump, at the end of the cylinder that is filled and
at the one that is emptied; travel and speed of the ram along the stroke; flows of the oil columns
into and out of the cylinder; pilot pressure; share of the large section that is loaded."""

CREEP = 1e-4
"""Ram speed [m/s] over which friction and wood reach their full force: a smooth start."""
TABLE = 4000
"""Steps of a table of drops."""
LEAST_PRESSURE = 1e3
"""Lowest absolute pressure [Pa] at which the stiffness of the oil is read."""
POWERS = ("engine", "pump", "relief", "lines", "friction", "wood", "damping")
"""Fields of :class:`EnergyTotals` that are integrals of a power."""


@dataclass(frozen=True, kw_only=True)
class Dynamics:
    """What only the transient needs. All assumed, no source.

    Pressures at which unloader and relief valve move are constants of the setting. A regenerative
    valve that switched over joins again under the reload share of the pressure at which the plain
    stroke moves what the regenerative one could: set like that, it does not hunt.

    Attributes
    ----------
    engine_inertia
        Crankshaft, flywheel and pump, seen at the engine [kg m2].
    pilot_time
        Lag of the pilot pressure that moves unloader, regenerative valve and detent [s]: damped so
        far that the pressure waves of the lines do not move them.
    spool_time
        Lag with which the unloader's spool loads and unloads the large section [s].
    damping_time
        Time over which hose walls and air bubbles follow a pressure [s]: they take up energy, as a
        spring with a damper does, and let pressure waves die out. It does not touch steady flow.
    dead_volume
        Oil in ports and ends of the cylinder, and in the pump's outlet, each [m3].
    port_length
        Length of the bores of valve and ports, added to each line as inertia [m].
    """

    engine_inertia: float = 0.05
    pilot_time: float = 0.02
    spool_time: float = 0.02
    damping_time: float = 3e-4
    dead_volume: float = 50e-6
    port_length: float = 0.1


def _numbers(column: Column) -> Column:
    return float(column)


class Drop:
    """Drop of a path over its flow, read off a table that ``Path.drop`` filled; odd in the flow."""

    def __init__(self, path: Path, largest_flow: float) -> None:
        self.path = map_columns(path, _numbers)
        self.step = largest_flow / TABLE
        flows: Array = np.arange(TABLE + 2, dtype=np.float64) * self.step
        drops = np.asarray(self.path.drop(flows))
        self.drops: list[float] = drops.tolist()

    def __call__(self, flow: float) -> float:
        """Drop [Pa] at a flow [m3/s]."""
        place = abs(flow) / self.step
        if place >= TABLE:
            drop = float(self.path.drop(abs(flow)))
        else:
            below = int(place)
            low = self.drops[below]
            drop = low + (place - below) * (self.drops[below + 1] - low)
        return drop if flow >= 0.0 else -drop

    def of(self, flows: Array) -> Array:
        """Drops [Pa] of a column of flows, from the path itself."""
        drops: Array = np.sign(flows) * self.path.drop(np.abs(flows))
        return drops


class Plan:
    """Numbers of one machine that do not change over the cycle."""

    def __init__(self, strokes: Strokes, atmosphere: float, dynamics: Dynamics) -> None:
        setting, machine, plant = strokes.setting, strokes.machine, strokes.plant
        constants, layout = setting.constants, setting.lines
        self.strokes, self.dynamics, self.atmosphere = strokes, dynamics, atmosphere
        self.oil = setting.oil
        self.stroke = setting.frame.stroke
        self.shift_time = float(machine.valve.shift_time)
        self.drag = float(strokes.ram.drag)
        self.cap_area = float(strokes.ram.cap_area)
        self.annulus_area = float(strokes.ram.annulus_area)
        self.rod_area = float(strokes.ram.rod_area)
        rod_mass = constants.steel_density * self.rod_area * self.stroke
        self.mass = setting.frame.moving_mass + rod_mass
        self.drives = tuple(
            map_columns(drive, _numbers) for drive in (strokes.low_drive, strokes.high_drive)
        )
        self.two_stage = float(machine.pump.large_displacement) > 0.0
        self.shift_pressure = float(plant.shift_pressure)
        self.reload_pressure = float(plant.reload_pressure)
        self.detent_pressure = float(machine.valve.detent_pressure)
        self.relief_pressure = float(machine.valve.relief_pressure)
        self.relief_conductance = float(plant.largest_flow) / (
            constants.relief_override * self.relief_pressure
        )
        stalled_flow = max(float(strokes.relief_flow), 0.0)
        self.cracking_pressure = self.relief_pressure - stalled_flow / self.relief_conductance
        self.stall_speed = 0.5 * float(machine.engine.peak_torque_speed)
        largest = 2.0 * float(plant.largest_flow * strokes.ram.area_ratio)
        self.pressure_drop = Drop(strokes.pressure_path, largest)
        self.work_drop = Drop(strokes.work_path, largest)
        self.tank_drop = Drop(strokes.tank_path, largest)
        self.neutral_drop = Drop(strokes.neutral_path, largest)
        density = float(strokes.density)
        hoses = (
            (layout.pressure.length, machine.pressure_hose.inner_diameter),
            (layout.work.length, machine.work_hoses.inner_diameter),
            (layout.return_line.length, machine.return_hose.inner_diameter),
        )
        areas = [float(cylinder.cap_area(inner_diameter)) for _, inner_diameter in hoses]
        self.pressure_inertance, self.work_inertance, self.return_inertance = (
            density * (length + dynamics.port_length) / area
            for (length, _), area in zip(hoses, areas, strict=True)
        )
        self.regen_pressure = float(machine.valve.regen_pressure)
        full_flow = strokes.high_drive.flow(plant.shift_pressure)
        lost = float(strokes.regenerative_path.drop(full_flow))
        movable = (min(self.regen_pressure, self.shift_pressure) - lost) * self.rod_area
        plain = movable / self.cap_area + float(strokes.extend_path.drop(full_flow))
        self.rejoin_pressure = constants.reload_share * plain if movable > 0.0 else -math.inf
        self.pump_volume = hoses[0][0] * areas[0] + dynamics.dead_volume
        self.end_volume = hoses[1][0] * areas[1] + dynamics.dead_volume

    @property
    def in_inertance(self) -> float:
        """Of the column from pump to cylinder [kg/m4]."""
        return self.pressure_inertance + self.work_inertance

    @property
    def out_inertance(self) -> float:
        """Of the column from cylinder to tank [kg/m4]."""
        return self.work_inertance + self.return_inertance

    @property
    def neutral_inertance(self) -> float:
        """Of the column from pump through the spool in neutral to tank [kg/m4]."""
        return self.pressure_inertance + self.return_inertance

    def stiffness(self, pressure: float) -> float:
        """Effective bulk modulus [Pa] at a gauge pressure [Pa]."""
        absolute = max(pressure + self.atmosphere, LEAST_PRESSURE)
        return float(
            oil.effective_bulk_modulus(absolute, self.oil.bulk_modulus, self.oil.air_share)
        )

    def moduli(self, pressures: Array) -> Array:
        """Effective bulk modulus [Pa] at each gauge pressure [Pa] of a column."""
        return np.array([self.stiffness(pressure) for pressure in pressures.tolist()])

    def stored_per_volume(self, pressure: float) -> float:
        """Energy of compression of a volume of oil [J/m3]: integral of p dp / B from 0 gauge."""
        nodes, weights = np.polynomial.legendre.leggauss(40)
        along = 0.5 * (nodes + 1.0)
        reached = pressure * along * along
        return float(np.sum(weights * along * pressure * reached / self.moduli(reached)))

    def engine_torque(self, speed: float) -> float:
        """Torque of the governed engine [N m]: what ``running_speed`` balances with the load."""
        drive = self.drives[1]
        if speed < drive.rated_speed:
            full = engine.full_load_torque(
                speed,
                drive.rated_torque,
                drive.rated_speed,
                drive.peak_torque,
                drive.peak_torque_speed,
            )
            return max(float(full), 0.0)
        droop = (drive.no_load_speed - drive.rated_speed) / drive.rated_torque
        return float((drive.no_load_speed - speed) / droop)

    def pump_flow(self, loaded: Column, pressure: Column, speed: Column) -> Column:
        """Delivered flow [m3/s] at an engine speed that need not be the steady one.

        ``loaded`` is the share of the large section that works against the pressure.
        """
        low, high = (
            pump.delivered_flow(
                drive.displacement,
                drive.ratio * drive.speed_factor * speed,
                pressure,
                drive.dynamic_viscosity,
                drive.slip,
            )
            for drive in self.drives
        )
        return low + loaded * (high - low)

    def load_torque(self, loaded: Column, pressure: Column, speed: Column) -> Column:
        """Load on the engine shaft [N m]."""
        low, high = (drive.torque(pressure, speed) for drive in self.drives)
        return low + loaded * (high - low)

    def relief_flow(self, pressure: float) -> float:
        """Flow through the relief valve [m3/s]."""
        return self.relief_conductance * max(pressure - self.cracking_pressure, 0.0)


@dataclass(frozen=True)
class Mode:
    """What is switched how.

    ``direction`` of the stroke, 1 out and -1 back; spool in ``neutral``; ``high`` stage of the
    pump; ends of the cylinder ``joined`` by the regenerative valve; ram ``held`` at a stop or by
    what it rests on; ``force`` of the log.
    """

    direction: int
    neutral: bool
    high: bool
    joined: bool
    held: bool
    force: Callable[[float], float]


def no_force(_travel: float) -> float:
    """Force without a log."""
    return 0.0


@dataclass(frozen=True)
class Piece:
    """One stretch between two restarts of the solver."""

    mode: Mode
    steps: Array
    states: Callable[[Array], Array]


class Equations:
    """Flows, forces and rates of a mode; states are one column or many."""

    def __init__(self, plan: Plan, mode: Mode) -> None:
        self.plan, self.mode = plan, mode
        out = mode.direction > 0
        self.near_area = plan.cap_area if out else plan.annulus_area
        self.far_area = plan.annulus_area if out else plan.cap_area

    def flows(self, states: Array) -> Array:
        """Flows through pressure line, near work line, far work line and return line (4, n)."""
        inflow, outflow = states[INFLOW], states[OUTFLOW]
        if self.mode.joined:
            return np.array([inflow, inflow + outflow, outflow, 0.0 * outflow])
        return np.array([inflow, inflow, outflow, outflow])

    def _line_powers(self, states: Array) -> Array:
        plan = self.plan
        flows = self.flows(states)
        if self.mode.neutral:
            whole: Array = flows[0] * plan.neutral_drop.of(flows[0])
            return whole
        drops = (plan.pressure_drop, plan.work_drop, plan.work_drop, plan.tank_drop)
        total: Array = np.sum(
            [flow * drop.of(flow) for flow, drop in zip(flows, drops, strict=True)], axis=0
        )
        return total

    def risings(
        self, states: Sequence[Column] | Array, moduli: Sequence[Column], spare: Column
    ) -> tuple[Column, Column, Column]:
        """Rates of pump, near and far pressure [Pa/s]; ``spare`` flow stays at the pump's outlet.

        Bulk modulus times net inflow over volume; one number or a column per state.
        """
        inflow, outflow, ram = states[INFLOW], states[OUTFLOW], states[RAM]
        rising = moduli[0] * spare / self.plan.pump_volume
        if self.mode.neutral:
            return rising, 0.0 * ram, 0.0 * ram
        near_volume, far_volume = self.volumes(states[TRAVEL])
        near_flow = inflow + outflow if self.mode.joined else inflow
        return (
            rising,
            moduli[1] * (near_flow - self.near_area * ram) / near_volume,
            moduli[2] * (self.far_area * ram - outflow) / far_volume,
        )

    def volumes(self, travel: Column) -> tuple[Column, Column]:
        """Oil [m3] on the near and on the far side of the piston, hoses included."""
        plan = self.plan
        return (
            plan.end_volume + self.near_area * travel,
            plan.end_volume + self.far_area * (plan.stroke - travel),
        )

    def motion(self, state: Array) -> float:
        """Kinetic energy of flywheel, ram and oil columns [J]."""
        plan = self.plan
        inflow, outflow = float(state[INFLOW]), float(state[OUTFLOW])
        if self.mode.neutral:
            oil_motion = plan.neutral_inertance * inflow * inflow
        elif self.mode.joined:
            oil_motion = plan.pressure_inertance * inflow * inflow + plan.work_inertance * (
                (inflow + outflow) ** 2 + outflow * outflow
            )
        else:
            oil_motion = (
                plan.in_inertance * inflow * inflow + plan.out_inertance * outflow * outflow
            )
        turning = plan.dynamics.engine_inertia * float(state[SPEED]) ** 2
        return 0.5 * (oil_motion + plan.mass * float(state[RAM]) ** 2 + turning)

    def compression(self, state: Array) -> float:
        """Energy of the compressed oil [J]."""
        plan = self.plan
        near, far = self.volumes(float(state[TRAVEL]))
        return (
            plan.pump_volume * plan.stored_per_volume(float(state[PUMP]))
            + float(near) * plan.stored_per_volume(float(state[NEAR]))
            + float(far) * plan.stored_per_volume(float(state[FAR]))
        )

    def net_push(self, state: Array) -> float:
        """Force [N] by which the pressures exceed the drag of a ram about to start."""
        plan = self.plan
        pushed = float(state[NEAR]) * self.near_area - float(state[FAR]) * self.far_area
        return pushed - plan.drag - self.mode.force(float(state[TRAVEL]))

    def powers(self, states: Array) -> Array:
        """Each of :data:`POWERS` [W] (7, n)."""
        plan, loaded = self.plan, states[LOADED]
        speed, pressure, ram = states[SPEED], states[PUMP], states[RAM]
        delivered = np.asarray(plan.pump_flow(loaded, pressure, speed))
        relieved = np.array([plan.relief_flow(now) for now in pressure.tolist()])
        moduli = [plan.moduli(states[place]) for place in (PUMP, NEAR, FAR)]
        risings = self.risings(states, moduli, delivered - states[INFLOW] - relieved)
        volumes = (plan.pump_volume, *self.volumes(states[TRAVEL]))
        damping = sum(
            rising * rising * volume / modulus
            for rising, volume, modulus in zip(risings, volumes, moduli, strict=True)
        )
        outlet = pressure + plan.dynamics.damping_time * risings[0]
        grip = np.tanh(ram / CREEP)
        force = np.array([self.mode.force(travel) for travel in states[TRAVEL].tolist()])
        return np.array(
            [
                np.array([plan.engine_torque(now) for now in speed.tolist()]) * speed,
                plan.load_torque(loaded, outlet, speed) * speed - outlet * delivered,
                outlet * relieved,
                self._line_powers(states),
                plan.drag * grip * ram,
                force * np.maximum(grip, 0.0) * ram,
                plan.dynamics.damping_time * damping,
            ]
        )

    def rates(self, _time: float, state: Array) -> list[float]:
        """Derivative of the states."""
        plan, mode = self.plan, self.mode
        numbers: list[float] = state.tolist()
        speed, pressure, near, far, travel, ram, inflow, outflow, pilot, loaded = numbers
        delivered = float(plan.pump_flow(loaded, pressure, speed))
        spare = delivered - inflow - plan.relief_flow(pressure)
        moduli = [plan.stiffness(pressure), plan.stiffness(near), plan.stiffness(far)]
        rising, near_rising, far_rising = map(float, self.risings(numbers, moduli, spare))
        damping = plan.dynamics.damping_time
        outlet = pressure + damping * rising
        load = float(plan.load_torque(loaded, outlet, speed))
        turning = (plan.engine_torque(speed) - load) / plan.dynamics.engine_inertia
        following = (pressure - pilot) / plan.dynamics.pilot_time
        loading = ((1.0 if mode.high else 0.0) - loaded) / plan.dynamics.spool_time
        if mode.neutral:
            flowing = (outlet - plan.neutral_drop(inflow)) / plan.neutral_inertance
            return [turning, rising, 0.0, 0.0, 0.0, 0.0, flowing, flowing, following, loading]
        entry, leaving = near + damping * near_rising, far + damping * far_rising
        pump_side = outlet - plan.pressure_drop(inflow)
        rod_side = leaving - plan.work_drop(outflow)
        if mode.joined:
            cap_side = entry + plan.work_drop(inflow + outflow)
            first, second = 1.0 / plan.pressure_inertance, 1.0 / plan.work_inertance
            junction = (pump_side * first + (rod_side + cap_side) * second) / (first + 2.0 * second)
            flowing_in = (pump_side - junction) * first
            flowing_out = (rod_side - junction) * second
        else:
            flowing_in = (pump_side - plan.work_drop(inflow) - entry) / plan.in_inertance
            flowing_out = (rod_side - plan.tank_drop(outflow)) / plan.out_inertance
        moving, starting = 0.0, 0.0
        if not mode.held:
            grip = math.tanh(ram / CREEP)
            resisting = plan.drag * grip + mode.force(travel) * max(grip, 0.0)
            moving = ram
            starting = (entry * self.near_area - leaving * self.far_area - resisting) / plan.mass
        return [
            turning,
            rising,
            near_rising,
            far_rising,
            moving,
            starting,
            flowing_in,
            flowing_out,
            following,
            loading,
        ]
