"""Strokes of the ram at one oil temperature: out, back, in neutral and against wood."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimise.columns import Column, Mask, as_column, shape_of, together, where_any
from optimise.machine.circuit import Circuit, Drive, OperatingPoint, Path, Pipe, solve_flow
from optimise.machine.parts import Machine
from optimise.machine.setting import Line, Setting
from optimise.machine.wood import WorkLevels
from optimise.physics import cylinder, engine, lines, oil, pump, valves
from optimise.roots import AnyTrail, AnyWaypoint, guessed, keep, trail_of

RIPPLE = 5e-4
"""Share of the shift pressure that pressure waves make: nearer than that to the reload pressure the
small section does not stay alone. Read off the transient simulation."""
STANDSTILL = 1e-6
"""Share of the pump's largest flow under which the ram stands; the stroke then has no time."""


class Cylinder:
    """Areas and resisting pressures of the cylinder."""

    def __init__(self, machine: Machine, setting: Setting) -> None:
        self.cap_area = cylinder.cap_area(machine.bore.diameter)
        self.annulus_area = cylinder.annulus_area(machine.bore.diameter, machine.rod.diameter)
        self.area_ratio = cylinder.area_ratio(machine.bore.diameter, machine.rod.diameter)
        self.rod_area = cylinder.rod_area(machine.rod.diameter)
        self.drag = setting.frame.idle_drag + setting.constants.seal_pressure * self.cap_area


class PowerPlant:
    """Engine at its site with the pump on it."""

    def __init__(self, machine: Machine, setting: Setting) -> None:
        place, constants, part = setting.surroundings, setting.constants, machine.pump
        self.machine = machine
        self.constants = constants
        self.ratio = setting.frame.drive_ratio
        self.derating = engine.altitude_factor(place.altitude) * engine.air_temperature_factor(
            place.air_temperature
        )
        self.rated_torque = self.derating * machine.engine.rated_torque
        self.peak_torque = self.derating * machine.engine.peak_torque
        self.rated_power = self.rated_torque * machine.engine.rated_speed
        self.pump_no_load_speed = self.ratio * machine.engine.no_load_speed
        self.both_displacements = part.large_displacement + part.small_displacement
        self.largest_flow = constants.speed_factor * pump.ideal_flow(
            self.both_displacements, self.pump_no_load_speed
        )
        self.shift_pressure = np.where(
            as_column(part.large_displacement) > 0.0,
            np.minimum(part.shift_pressure, machine.valve.relief_pressure),
            machine.valve.relief_pressure,
        )
        self.two_stage = as_column(part.large_displacement) > 0.0
        self.reload_pressure = constants.reload_share * self.shift_pressure
        self.hunting_pressure = 0.5 * (self.shift_pressure + self.reload_pressure)
        rating_viscosity = constants.pump_reference_viscosity * constants.reference_density
        self.slip = constants.leakage_factor * pump.slip_coefficient(
            part.volumetric_efficiency, part.rated_pressure, part.rated_speed, rating_viscosity
        )
        self.viscous_coefficient, self.coulomb = pump.torque_loss_coefficients(
            part.mechanical_efficiency,
            part.rated_pressure,
            part.rated_speed,
            rating_viscosity,
            constants.pump_viscous_share,
        )

    @property
    def most_power(self) -> Column:
        """Shaft power [W] that the engine cannot pass: an overloaded one stalls."""
        return np.maximum(
            self.rated_power, self.peak_torque * self.machine.engine.peak_torque_speed
        )

    def drive(self, dynamic_viscosity: Column, high_stage: Column) -> Drive:
        """Drive with both sections at work where ``high_stage`` is 1, else the small one alone."""
        part, motor = self.machine.pump, self.machine.engine
        unloaded = pump.pressure_torque(part.large_displacement, part.unload_pressure, self.coulomb)
        return Drive(
            displacement=np.where(
                as_column(high_stage) > 0.0, self.both_displacements, part.small_displacement
            ),
            idle_torque=np.where(as_column(high_stage) > 0.0, 0.0, unloaded),
            coulomb=self.coulomb,
            viscous=pump.viscous_torque_per_speed(
                self.both_displacements, dynamic_viscosity, self.viscous_coefficient
            ),
            slip=self.slip,
            dynamic_viscosity=dynamic_viscosity,
            speed_factor=self.constants.speed_factor,
            ratio=self.ratio,
            no_load_speed=motor.no_load_speed,
            rated_speed=motor.rated_speed,
            rated_torque=self.rated_torque,
            peak_torque=self.peak_torque,
            peak_torque_speed=motor.peak_torque_speed,
        )


LOW, HUNTING, HIGH, REGENERATIVE = 0.0, 0.5, 1.0, 2.0
"""Modes of a phase: small section alone, unloader going to and fro between the stages, both
sections, both with the rod end's oil joining."""


@dataclass(frozen=True)
class Stages:
    """Mode of each stroke and of each level of the wood mix."""

    extend: Column
    retract: Column
    neutral: Column
    pushing: tuple[Column, ...]

    def at_most(self, mode: float) -> Stages:
        """The same with no phase in a quicker mode than ``mode``."""
        return Stages(
            np.minimum(self.extend, mode),
            np.minimum(self.retract, mode),
            np.minimum(self.neutral, mode),
            tuple(np.minimum(level, mode) for level in self.pushing),
        )


@dataclass(frozen=True)
class Settled:
    """Mode of a phase by what was at work before it: both sections, or the small one alone."""

    from_both: Column
    from_small: Column


@dataclass(frozen=True)
class Push:
    """Force on the ram [N], drag included, and mode of an out phase."""

    force: Column
    mode: Column


@dataclass(frozen=True)
class Phase:
    """A part of the cycle: its time [s] and shaft power [W]."""

    time: Column
    power: Column


class Strokes:
    """All strokes at one oil temperature, each solved when first asked for.

    The stage of the pump is decided for each phase at the rating temperature; ``stages`` carries
    that choice to other temperatures. An unloader that needs a lower pressure to load the large
    section than to unload it has three answers: both sections where the circuit takes their flow
    at the shift pressure or less; the small one alone where even that keeps the pilot over the
    reload pressure; in between it holds neither. It then goes to and fro, and the circuit takes
    what the mean of the two pressures drives through it.
    """

    def __init__(
        self,
        machine: Machine,
        setting: Setting,
        levels: WorkLevels,
        plant: PowerPlant,
        ram: Cylinder,
        temperature: Column,
        stages: Stages | None = None,
        waypoint: AnyWaypoint | None = None,
    ) -> None:
        self.machine, self.setting, self.levels = machine, setting, levels
        self.plant, self.ram, self.temperature = plant, ram, temperature
        self._stages = stages
        self._waypoint = waypoint
        a, b = oil.walther_constants(setting.oil.viscosity_40, setting.oil.viscosity_100)
        self.kinematic_viscosity = oil.walther_viscosity(temperature, a, b)
        self.density = oil.density(temperature, setting.oil.density_15, setting.oil.expansion)
        self.dynamic_viscosity = self.density * self.kinematic_viscosity

    def _line(self, line: Line, inner_diameter: Column) -> Path:
        fittings, constants = self.machine.fittings, self.setting.constants
        pipe = Pipe(
            lines.pipe_linear_coefficient(
                inner_diameter, line.length, self.kinematic_viscosity, self.density
            ),
            lines.reynolds_number(1.0, inner_diameter, self.kinematic_viscosity),
            lines.roughness_term(constants.hose_roughness / inner_diameter),
        )
        linear = line.turns * lines.fitting_linear_coefficient(
            fittings.laminar_k, inner_diameter, self.kinematic_viscosity, self.density
        )
        square = line.turns * lines.fitting_square_coefficient(
            fittings.turbulent_k, inner_diameter, self.density
        ) + lines.minor_square_coefficient(constants.line_end_k, inner_diameter, self.density)
        return Path(linear, square, (pipe,))

    def _square(self, nominal_flow: Column, nominal_drop: Column) -> Path:
        return Path(
            square=valves.square_drop_coefficient(
                nominal_flow, nominal_drop, self.density, self.setting.constants.reference_density
            )
        )

    @property
    def suction_line(self) -> Path:
        """Suction hose with its fittings, before the loss factor."""
        return self._line(self.setting.lines.suction, self.machine.suction_hose.inner_diameter)

    @property
    def pressure_line(self) -> Path:
        """Pressure hose with its fittings, before the loss factor."""
        return self._line(self.setting.lines.pressure, self.machine.pressure_hose.inner_diameter)

    @property
    def work_line(self) -> Path:
        """One work hose with its fittings, before the loss factor."""
        return self._line(self.setting.lines.work, self.machine.work_hoses.inner_diameter)

    @property
    def return_line(self) -> Path:
        """Return hose with its fittings, before the loss factor."""
        return self._line(self.setting.lines.return_line, self.machine.return_hose.inner_diameter)

    @property
    def spool(self) -> Path:
        """One way through the shifted spool, before the loss factor."""
        valve = self.machine.valve
        return self._square(valve.nominal_flow, valve.nominal_drop)

    @property
    def cooler(self) -> Path:
        """Cooler, before the loss factor."""
        part = self.machine.cooler
        return self._square(part.nominal_flow, part.nominal_drop)

    @cached_property
    def suction_path(self) -> Path:
        """Tank to pump."""
        return self.suction_line.weighed(self.setting.constants.loss_factor)

    @cached_property
    def pressure_path(self) -> Path:
        """Pump to valve."""
        return self.pressure_line.weighed(self.setting.constants.loss_factor)

    @cached_property
    def work_path(self) -> Path:
        """One way through the shifted spool and one work hose."""
        return (self.spool + self.work_line).weighed(self.setting.constants.loss_factor)

    @cached_property
    def filter_path(self) -> Path:
        """Filter, element and housing."""
        constants, part = self.setting.constants, self.machine.filter
        rating = constants.filter_reference_viscosity * constants.reference_density
        share = constants.filter_viscous_share
        return Path(
            valves.element_linear_coefficient(
                part.nominal_flow, part.clean_drop, share, self.dynamic_viscosity / rating
            ),
            valves.element_square_coefficient(
                part.nominal_flow,
                part.clean_drop,
                share,
                self.density / constants.reference_density,
            ),
        ).weighed(constants.loss_factor)

    @cached_property
    def tank_path(self) -> Path:
        """Valve's tank port through return hose, cooler and filter to the tank."""
        path = self.return_line + self.cooler
        return path.weighed(self.setting.constants.loss_factor) + self.filter_path

    def _out_path(self, area: Column, to_tank: Column) -> Path:
        """Way of an out stroke, seen as by a piston of ``area`` over which the pump's flow acts.

        With p at the valve, cap and rod side drops dC and dR and force F the balance is
        (p - dC) A_cap - (pR + dR) A_ann = F. Plain: pR is the tank line's drop, ``area`` the cap
        area and ``to_tank`` 1. Regenerative: the rod end's oil joins at the valve, so pR = p,
        ``area`` is the rod area and ``to_tank`` 0.
        """
        away = self.ram.annulus_area / area
        return (
            self.pressure_path
            + self.work_path.seen_through(self.ram.cap_area / area)
            + self.work_path.seen_through(away)
            + self.tank_path.seen_through(to_tank * away)
        )

    @cached_property
    def extend_path(self) -> Path:
        """Whole way of the plain out stroke, at the pump's flow and seen from the cap end."""
        return self._out_path(self.ram.cap_area, 1.0)

    @cached_property
    def regenerative_path(self) -> Path:
        """Way of the regenerative out stroke, at the pump's flow."""
        return self._out_path(self.ram.rod_area, 0.0)

    @cached_property
    def retract_path(self) -> Path:
        """Whole way of the back stroke, at the pump's flow and seen from the rod end."""
        away = (self.work_path + self.tank_path).seen_through(self.ram.area_ratio)
        return self.pressure_path + self.work_path + away

    @cached_property
    def neutral_path(self) -> Path:
        """Pump through the valve in neutral to the tank."""
        valve = self.machine.valve
        spool = self._square(valve.nominal_flow, valve.neutral_drop)
        return (
            self.pressure_path + spool.weighed(self.setting.constants.loss_factor) + self.tank_path
        )

    @cached_property
    def high_drive(self) -> Drive:
        """Engine with both pump sections at work."""
        return self.plant.drive(self.dynamic_viscosity, 1.0)

    @cached_property
    def low_drive(self) -> Drive:
        """Engine with the small pump section alone at work."""
        return self.plant.drive(self.dynamic_viscosity, 0.0)

    def high_stage_demand(self, path: Path, load_pressure: Column) -> Column:
        """Pump pressure [Pa] of the full flow that both sections give at the shift pressure."""
        return load_pressure + path.drop(self.high_drive.flow(self.plant.shift_pressure))

    def _settled(self, path: Path, load_pressure: Column) -> Settled:
        """Stages in which the unloader settles."""
        shift, reload = self.plant.shift_pressure, self.plant.reload_pressure
        full = as_column(self.high_stage_demand(path, load_pressure))
        alone = load_pressure + path.drop(self.low_drive.flow(reload))
        held = (as_column(alone) >= reload + RIPPLE * shift) | ~self.plant.two_stage
        over = np.where(held | self._held_low(path, load_pressure), LOW, HUNTING)
        return Settled(
            np.where(full <= shift, HIGH, over),
            np.where(full <= shift, np.where(held, LOW, HIGH), over),
        )

    def _settled_out(self, force: Column) -> Settled:
        """Modes of an out phase against a force on the ram [N]."""
        switch = as_column(self.machine.valve.regen_pressure)
        shift = self.plant.shift_pressure
        plain = self._settled(self.extend_path, force / self.ram.cap_area)

        def joining() -> tuple[Column, Column]:
            path = self._out_path(self.ram.rod_area, 0.0)
            demand = self.high_stage_demand(path, force / self.ram.rod_area)
            joined = (switch > 0.0) & (as_column(demand) <= np.minimum(switch, shift))
            return (
                np.where(joined, REGENERATIVE, plain.from_both),
                np.where(joined, REGENERATIVE, plain.from_small),
            )

        return Settled(*where_any(switch > 0.0, joining, (plain.from_both, plain.from_small)))

    def push(self, force: Column, mode: Column | None = None) -> OperatingPoint:
        """Out phase against a force on the ram [N], drag included; mode decided where not given."""
        chosen = self._settled_out(force).from_both if mode is None else mode
        return self._push(Push(force, chosen), "extend")

    def _push(self, against: Push, name: str) -> OperatingPoint:
        joined = as_column(against.mode) == REGENERATIVE

        def some_joined() -> tuple[Column, Path]:
            area = np.where(joined, self.ram.rod_area, self.ram.cap_area)
            return area, self._out_path(area, np.where(joined, 0.0, 1.0))

        area, path = where_any(joined, some_joined, (self.ram.cap_area, self.extend_path))
        return self._solve(path, against.force / area, area, against.mode, name)

    def _pass(
        self, path: Path, load_pressure: Column, area: Column, mode: Column | None, name: str
    ) -> OperatingPoint:
        """Back stroke or neutral; mode decided where not given."""
        chosen = self._settled(path, load_pressure).from_both if mode is None else mode
        return self._solve(path, load_pressure, area, chosen, name)

    def _held_low(self, path: Path, load_pressure: Column) -> Mask:
        """Whether the small section alone keeps the pump over the mean hunting pressure."""
        hunting = self.plant.hunting_pressure
        alone = as_column(load_pressure + path.drop(self.low_drive.flow(hunting)))
        held: Mask = alone >= hunting
        return held

    def _solve(
        self, path: Path, load_pressure: Column, area: Column, mode: Column, name: str
    ) -> OperatingPoint:
        relief = self.machine.valve.relief_pressure
        between = as_column(mode) == HUNTING
        low = self.low_drive

        def bounded() -> tuple[Mask, Column, Column]:
            hunts: Mask = between & ~self._held_low(path, load_pressure)
            bound = np.where(hunts, self.plant.hunting_pressure, relief)
            return hunts, np.where(between & ~hunts, LOW, mode), bound

        hunts, mode, bound = where_any(between, bounded, (between, mode, relief))
        drive = self.plant.drive(self.dynamic_viscosity, mode)
        circuit = Circuit(drive, path, load_pressure, bound, self.plant.largest_flow)
        found = solve_flow(circuit, guessed(self._waypoint, name))
        keep(self._waypoint, name, found)
        flow = np.where(found > STANDSTILL * self.plant.largest_flow, found, np.nan)
        pressure = circuit.pressure(flow)
        speed = drive.speed(pressure)
        torque = drive.torque(pressure, speed)
        power = torque * speed
        high: Column = np.where(as_column(mode) > LOW, 1.0, 0.0)

        def mixed() -> tuple[Column, Column, Column, Column]:
            least = low.flow(pressure)
            room = drive.flow(pressure) - least
            share = np.clip((flow - least) / np.where(room > 0.0, room, 1.0), 0.0, 1.0)
            low_speed = low.speed(pressure)
            low_torque = low.torque(pressure, low_speed)
            return (
                np.where(hunts, share, high),
                np.where(hunts, share * speed + (1.0 - share) * low_speed, speed),
                np.where(hunts, share * torque + (1.0 - share) * low_torque, torque),
                np.where(hunts, share * power + (1.0 - share) * low_torque * low_speed, power),
            )

        high, speed, torque, power = where_any(hunts, mixed, (high, speed, torque, power))
        return OperatingPoint(flow, pressure, speed, torque, power, mode, high, area)

    @cached_property
    def extend_load_pressure(self) -> Column:
        """Cap-end pressure that moves the ram out without a log."""
        return self.ram.drag / self.ram.cap_area

    @cached_property
    def retract_load_pressure(self) -> Column:
        """Rod-end pressure that moves the ram back."""
        return self.ram.drag / self.ram.annulus_area

    @cached_property
    def extend(self) -> OperatingPoint:
        """Out, without a log."""
        known = None if self._stages is None else self._stages.extend
        return self.push(self.ram.drag, known)

    @cached_property
    def retract(self) -> OperatingPoint:
        """Back."""
        known = None if self._stages is None else self._stages.retract
        return self._pass(
            self.retract_path, self.retract_load_pressure, self.ram.annulus_area, known, "retract"
        )

    @cached_property
    def neutral(self) -> OperatingPoint:
        """Valve in neutral, oil through to the tank."""
        known = None if self._stages is None else self._stages.neutral
        return self._pass(self.neutral_path, 0.0, self.ram.cap_area, known, "neutral")

    @cached_property
    def relief_flow(self) -> Column:
        """Flow of the low stage just under the relief pressure."""
        return self.low_drive.flow(self.machine.valve.relief_pressure)

    @cached_property
    def moving_force(self) -> Column:
        """Largest force on the wood [N] with the ram still moving at the low-stage flow.

        The relief valve begins to open under its setting: what it passes then is lost to the ram.
        """
        passed = self.relief_flow / self.plant.largest_flow
        shut = self.machine.valve.relief_pressure * (
            1.0 - self.setting.constants.relief_override * passed
        )
        spare = shut - self.extend_path.drop(self.relief_flow)
        return np.maximum(spare * self.ram.cap_area - self.ram.drag, 0.0)

    @cached_property
    def pushing(self) -> tuple[tuple[Column, OperatingPoint], ...]:
        """Force on the wood and operating point of each level of the wood mix.

        Levels rise, a log is hardest first: each level finds the unloader as the one above left
        it. A level over the moving force is pushed at the relief pressure.
        """
        met = [np.minimum(force, self.moving_force) for force in self.levels.forces]
        forces = [self.ram.drag + force for force in met]
        modes = self._pushing_modes(forces) if self._stages is None else self._stages.pushing
        pushes = [Push(force, mode) for force, mode in zip(forces, modes, strict=True)]
        points = together(lambda push: self._push(push, "pushing"), pushes, self._axes)
        return tuple(zip(met, points, strict=True))

    def trail(self, shape: tuple[int, ...]) -> AnyTrail:
        """Trail over temperatures that begins at these strokes, lanes those of ``shape``."""
        flows = (
            ("extend", [self.extend.flow]),
            ("retract", [self.retract.flow]),
            ("neutral", [self.neutral.flow]),
            ("pushing", [point.flow for _, point in self.pushing]),
        )
        return trail_of(self.temperature, flows, shape)

    def _pushing_modes(self, forces: list[Column]) -> tuple[Column, ...]:
        """Mode at each of rising forces."""
        modes: list[Column] = []
        after_low: Column = 0.0

        def settled_at(force: Column) -> Settled:
            return self._settled_out(force)

        for settled in reversed(together(settled_at, forces, self._axes)):
            mode = np.where(as_column(after_low) > 0.0, settled.from_small, settled.from_both)
            after_low = np.where(as_column(mode) == LOW, 1.0, 0.0)
            modes.append(mode)
        return tuple(reversed(modes))

    @cached_property
    def _axes(self) -> int:
        whole = (self.machine, self.setting, self.levels, self.temperature, self._stages)
        return len(shape_of(whole))

    @cached_property
    def stages(self) -> Stages:
        """Modes of all phases."""
        return Stages(
            self.extend.mode,
            self.retract.mode,
            self.neutral.mode,
            tuple(point.mode for _, point in self.pushing),
        )

    @cached_property
    def extend_time(self) -> Column:
        """Out stroke without a log [s]."""
        return self.setting.frame.stroke / self.extend.velocity

    @cached_property
    def retract_time(self) -> Column:
        """Back stroke [s]."""
        return self.setting.frame.stroke / self.retract.velocity

    @cached_property
    def _level_travel(self) -> float:
        return self.setting.frame.stroke * self.levels.loaded_share / len(self.levels.forces)

    @cached_property
    def out_phases(self) -> tuple[Phase, ...]:
        """Out stroke through the mean piece: without resistance, then each level of the mix."""
        free = (1.0 - self.levels.loaded_share) * self.extend_time
        return (
            Phase(free, self.extend.power),
            *(Phase(self._level_travel / point.velocity, point.power) for _, point in self.pushing),
        )

    @cached_property
    def back_phase(self) -> Phase:
        """Back stroke."""
        return Phase(self.retract_time, self.retract.power)

    @cached_property
    def loaded_extend_time(self) -> Column:
        """Out stroke through the mean piece of the wood mix [s]."""
        total: Column = 0.0
        for phase in self.out_phases:
            total = total + phase.time
        return total

    @cached_property
    def wood_work(self) -> Column:
        """Work that goes into the mean piece [J]."""
        total: Column = 0.0
        for force, _ in self.pushing:
            total = total + self._level_travel * force
        return total
