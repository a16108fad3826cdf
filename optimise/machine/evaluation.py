"""One machine or a column of machines, evaluated: the solved chain from engine to wedge.

Everything is worked out when first asked for, so that a search pays only for what it reads, and
every intermediate stays readable. Fields of the machine may have any shapes that broadcast: what
depends on few parts then has few values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from optimise.columns import Array, Column, as_column, as_numbers, map_columns, shape_of
from optimise.machine.circuit import OperatingPoint, Path
from optimise.machine.cold import ColdCircuit
from optimise.machine.heat_store import HeatStore, heat_store
from optimise.machine.least_power import least_power
from optimise.machine.parts import CATEGORIES, Machine
from optimise.machine.setting import Setting
from optimise.machine.strokes import (
    HIGH,
    HUNTING,
    LOW,
    REGENERATIVE,
    Cylinder,
    Phase,
    PowerPlant,
    Stages,
    Strokes,
)
from optimise.machine.wood import WorkLevels, levels_of, unsplit_share
from optimise.physics import cylinder, engine, heat, lines, oil, strength, work
from optimise.roots import AnyWaypoint, solve_falling

HOTTEST_OIL = 473.15
"""End of the search for the steady oil temperature [K]: hotter than any oil survives."""
TEMPERATURE_TOLERANCE = 1e-4
"""Last step of the steady temperature [K]; where it does not jump the answer is within 1e-6 K."""
FIRST_STEP = 0.65
"""Share of the rise by the heat at the rating that the search steps at first: thinner oil makes
less heat. The one of 0.3 to 1 with fewest steps on 8,192 random machines of each demonstration."""
STRIDE = 30.0
"""Longest step into hotter oil [K]: 20 to 40 missed no coolest balance on 6,000 random machines."""
JUMP_WIDTH = 1e2
"""Tolerances to which the temperature is found where the balance jumps: the ram comes to stand."""


@dataclass(frozen=True)
class Reversal:
    """What one reversal takes besides shifting the valve.

    Attributes
    ----------
    back_pressure, bulk_modulus, volume, flow
        Far end of the cylinder: pressure [Pa] to which its volume [m3] is squeezed, modulus of the
        oil in it [Pa], flow that leaves it [m3/s].
    mass, spare
        Ram and oil columns as the ram feels them [kg], pressure that is left to start them [Pa].
    settling, starting
        Times [s].
    """

    back_pressure: Column
    bulk_modulus: Column
    volume: Column
    flow: Column
    mass: Column
    spare: Column
    settling: Column
    starting: Column


@dataclass(frozen=True)
class Decided:
    """What is decided at the rating temperature and holds at every other one."""

    stages: Stages
    reversal_time: Column


class Evaluation:
    """Results and intermediates of a machine in a setting; columns in SI.

    Parameters
    ----------
    machine
        Parts, each field one number or a column.
    setting
        Everything that is not a part. Uncertain numbers of it may be columns too, which broadcast
        against those of the machine; the surroundings may not.
    levels
        The wood mix reduced to force levels; worked out from the setting when not given.
    decided
        What is decided at the rating temperature, where that is known already.
    """

    def __init__(
        self,
        machine: Machine,
        setting: Setting,
        levels: WorkLevels | None = None,
        decided: Decided | None = None,
    ) -> None:
        machine = map_columns(machine, as_numbers)
        self.machine = machine
        self.setting = setting
        self.levels = levels or levels_of(setting)
        self.ram = Cylinder(machine, setting)
        self.plant = PowerPlant(machine, setting)
        self._decided = decided

    @cached_property
    def decided(self) -> Decided:
        """Stages and reversals at the rating temperature."""
        return self._decided or Decided(self.rated.stages, self.reversal_time)

    def _strokes(
        self, temperature: Column, stages: Stages | None = None, waypoint: AnyWaypoint | None = None
    ) -> Strokes:
        whole = (self.machine, self.setting, self.levels, self.plant, self.ram)
        return Strokes(*whole, temperature, stages, waypoint)

    @cached_property
    def rated(self) -> Strokes:
        """Strokes at the rating temperature."""
        return self._strokes(self.setting.surroundings.rated_oil_temperature)

    @cached_property
    def cold(self) -> ColdCircuit:
        """Circuit at the cold start."""
        return ColdCircuit(self.machine, self.setting, self.levels, self.ram)

    def strokes_at(self, temperature: Column) -> Strokes:
        """Strokes at another oil temperature [K], in the stages of the rating temperature."""
        return self._strokes(temperature, self.decided.stages)

    # --- cycle -------------------------------------------------------------------------------

    @cached_property
    def extend_time(self) -> Column:
        """Out stroke without a log [s]."""
        return self.rated.extend_time

    @cached_property
    def retract_time(self) -> Column:
        """Back stroke [s]."""
        return self.rated.retract_time

    def _column_mass(self, near_area: Column, far_area: Column) -> Column:
        """Mass [kg] of the oil in the lines as the ram feels it, pump on the near side."""
        layout, machine = self.setting.lines, self.machine
        near = (
            (layout.pressure.length, machine.pressure_hose.inner_diameter),
            (layout.work.length, machine.work_hoses.inner_diameter),
        )
        far = (
            (layout.work.length, machine.work_hoses.inner_diameter),
            (layout.return_line.length, machine.return_hose.inner_diameter),
        )
        mass: Column = 0.0
        for area, hoses in ((near_area, near), (far_area, far)):
            for length, inner_diameter in hoses:
                mass = mass + self.rated.density * length * area * area / cylinder.cap_area(
                    inner_diameter
                )
        return mass

    def _reversal(
        self, point: OperatingPoint, back_pressure: Column, near_area: Column, far_area: Column
    ) -> Reversal:
        """The reversal before a stroke: far end squeezed to its back-pressure, ram started."""
        frame = self.setting.frame
        modulus = oil.effective_bulk_modulus(
            back_pressure + self.atmosphere,
            self.setting.oil.bulk_modulus,
            self.setting.oil.air_share,
        )
        flow, volume = point.velocity * far_area, far_area * frame.stroke
        settling = cylinder.compression_volume(back_pressure, volume, modulus) / flow
        rod = self.setting.constants.steel_density * self.ram.rod_area * frame.stroke
        mass = frame.moving_mass + rod + self._column_mass(near_area, far_area)
        relief = self.machine.valve.relief_pressure
        spare = np.maximum(relief - point.pressure, 0.01 * relief)
        starting = mass * point.velocity / (spare * point.near_area)
        return Reversal(back_pressure, modulus, volume, flow, mass, spare, settling, starting)

    @cached_property
    def _far_path(self) -> Path:
        return self.rated.work_path + self.rated.tank_path

    @cached_property
    def extend_reversal(self) -> Reversal:
        """The reversal before the out stroke, valve's shift time left out."""
        ram, out = self.ram, self.rated.extend
        joined = as_column(out.mode) == REGENERATIVE
        flow = out.velocity * ram.annulus_area
        pressure = np.where(joined, out.pressure, self._far_path.drop(flow))
        return self._reversal(out, pressure, ram.cap_area, ram.annulus_area)

    @cached_property
    def retract_reversal(self) -> Reversal:
        """The reversal before the back stroke, valve's shift time left out."""
        ram, back = self.ram, self.rated.retract
        pressure = self._far_path.drop(back.velocity * ram.cap_area)
        return self._reversal(back, pressure, ram.annulus_area, ram.cap_area)

    @cached_property
    def reversal_time(self) -> Column:
        """Both reversals of a cycle [s]: valve shifted, oil squeezed, ram and oil started."""
        if self._decided is not None:
            return self._decided.reversal_time
        out, back = self.extend_reversal, self.retract_reversal
        settling, starting = out.settling + back.settling, out.starting + back.starting
        shifting = 2.0 * self.machine.valve.shift_time
        return self.setting.constants.reversal_factor * (shifting + settling + starting)

    @cached_property
    def cycle_time(self) -> Column:
        """Out and back without a log, with both reversals [s]."""
        return self.extend_time + self.retract_time + self.reversal_time

    @cached_property
    def loaded_cycle_time(self) -> Column:
        """Out through the mean piece of the wood mix and back, with both reversals [s]."""
        return self.rated.loaded_extend_time + self.retract_time + self.reversal_time

    # --- force, flow, pressure ---------------------------------------------------------------

    @cached_property
    def force(self) -> Column:
        """Force at the relief pressure, ram standing [N]."""
        return self.machine.valve.relief_pressure * self.ram.cap_area

    @cached_property
    def extend_flow(self) -> Column:
        """Pump flow on the way out [m3/s]."""
        return self.rated.extend.flow

    @cached_property
    def extend_return_flow(self) -> Column:
        """Flow out of the rod end on the way out [m3/s]; it joins the cap end if regenerative."""
        return self.extend_speed * self.ram.annulus_area

    @cached_property
    def extend_cap_flow(self) -> Column:
        """Flow into the cap end on the way out [m3/s]; over the pump's if regenerative."""
        return self.extend_speed * self.ram.cap_area

    @cached_property
    def retract_flow(self) -> Column:
        """Flow into the rod end on the way back [m3/s]."""
        return self.rated.retract.flow

    @cached_property
    def retract_return_flow(self) -> Column:
        """Flow out of the cap end on the way back [m3/s]."""
        return self.rated.retract.flow * self.ram.area_ratio

    @cached_property
    def extend_speed(self) -> Column:
        """Ram speed on the way out, no log [m/s]."""
        return self.rated.extend.velocity

    @cached_property
    def retract_speed(self) -> Column:
        """Ram speed on the way back [m/s]."""
        return self.rated.retract.velocity

    @cached_property
    def extend_pump_pressure(self) -> Column:
        """Pump pressure on the way out, no log [Pa]."""
        return self.rated.extend.pressure

    @cached_property
    def retract_pump_pressure(self) -> Column:
        """Pump pressure on the way back [Pa]."""
        return self.rated.retract.pressure

    @cached_property
    def cap_back_pressure(self) -> Column:
        """Pressure left in the cap end on the way back [Pa]."""
        return (self.rated.work_path + self.rated.tank_path).drop(self.retract_return_flow)

    @cached_property
    def extend_high_stage(self) -> Column:
        """Share of the idle out stroke with both pump sections at work."""
        return self.rated.extend.high_stage

    @cached_property
    def extend_regenerative(self) -> Column:
        """1 where the idle out stroke is regenerative."""
        return np.where(as_column(self.rated.extend.mode) == REGENERATIVE, 1.0, 0.0)

    @cached_property
    def retract_high_stage(self) -> Column:
        """Share of the back stroke with both pump sections at work."""
        return self.rated.retract.high_stage

    @cached_property
    def extend_stage_demand(self) -> Column:
        """Pump pressure that the full flow would need on the way out, no log [Pa]."""
        return self.rated.high_stage_demand(self.rated.extend_path, self.rated.extend_load_pressure)

    @cached_property
    def retract_stage_demand(self) -> Column:
        """Pump pressure that the full flow would need on the way back [Pa]."""
        return self.rated.high_stage_demand(
            self.rated.retract_path, self.rated.retract_load_pressure
        )

    @cached_property
    def detent_demand(self) -> Column:
        """Pump pressure of the back stroke at the pump's largest flow [Pa]."""
        return self.rated.retract_load_pressure + self.rated.retract_path.drop(
            self.plant.largest_flow
        )

    @cached_property
    def rod_end_pressure(self) -> Column:
        """Rod-end pressure with the rod port blocked and relief pressure in the cap end [Pa]."""
        return cylinder.intensified_pressure(
            self.machine.valve.relief_pressure,
            self.machine.bore.diameter,
            self.machine.rod.diameter,
        )

    # --- sizing at the pump's largest flow ---------------------------------------------------

    @cached_property
    def largest_flow(self) -> Column:
        """Pump flow of both sections at no-load speed, no slip [m3/s]: lines are sized by it."""
        return self.plant.largest_flow

    @cached_property
    def largest_return_flow(self) -> Column:
        """Flow out of the cap end at the pump's largest flow [m3/s]."""
        return self.largest_flow * self.ram.area_ratio

    @cached_property
    def _regenerative_gain(self) -> Column:
        """Cap-end flow over pump flow on a regenerative way out; 1 without."""
        switch = as_column(self.machine.valve.regen_pressure)
        return np.where(switch > 0.0, self.ram.cap_area / self.ram.rod_area, 1.0)

    @cached_property
    def largest_valve_flow(self) -> Column:
        """Largest flow through the spool and a work hose, out or back, at the largest flow."""
        return self.largest_flow * np.maximum(self.ram.area_ratio, self._regenerative_gain)

    @cached_property
    def suction_velocity(self) -> Column:
        """Mean velocity in the suction hose at the largest flow [m/s]."""
        return lines.mean_velocity(self.largest_flow, self.machine.suction_hose.inner_diameter)

    @cached_property
    def pressure_velocity(self) -> Column:
        """Mean velocity in the pressure hose at the largest flow [m/s]."""
        return lines.mean_velocity(self.largest_flow, self.machine.pressure_hose.inner_diameter)

    @cached_property
    def work_velocity(self) -> Column:
        """Mean velocity in the cap-end work hose, on the way back or regenerative [m/s]."""
        return lines.mean_velocity(self.largest_valve_flow, self.machine.work_hoses.inner_diameter)

    @cached_property
    def return_velocity(self) -> Column:
        """Mean velocity in the return hose on the way back [m/s]."""
        return lines.mean_velocity(
            self.largest_return_flow, self.machine.return_hose.inner_diameter
        )

    @cached_property
    def filter_drop(self) -> Column:
        """Drop over the clean filter on the way back at the largest flow [Pa]."""
        return self.rated.filter_path.drop(self.largest_return_flow)

    @cached_property
    def tank_port_pressure(self) -> Column:
        """Back-pressure at the valve's tank port on the way back at the largest flow [Pa]."""
        return self.rated.tank_path.drop(self.largest_return_flow)

    @cached_property
    def largest_extend_speed(self) -> Column:
        """Ram speed on the way out at the largest flow [m/s]."""
        return self.largest_flow / self.ram.cap_area * self._regenerative_gain

    @cached_property
    def largest_retract_speed(self) -> Column:
        """Ram speed on the way back at the largest flow [m/s]."""
        return self.largest_flow / self.ram.annulus_area

    @cached_property
    def atmosphere(self) -> Column:
        """Air pressure at the site [Pa]."""
        return engine.standard_pressure(self.setting.surroundings.altitude)

    def _inlet_pressure(self, strokes: Strokes, flow: Column) -> Column:
        head = strokes.density * 9.80665 * self.setting.frame.suction_head
        return self.atmosphere + head - strokes.suction_path.drop(flow)

    @cached_property
    def inlet_pressure(self) -> Column:
        """Absolute pressure at the pump inlet, warm, at the largest flow [Pa]."""
        return self._inlet_pressure(self.rated, self.largest_flow)

    @cached_property
    def cold_inlet_pressure(self) -> Column:
        """Absolute pressure at the pump inlet at the cold start and warm-up speed [Pa].

        Less than nothing means that the pump cannot draw that much: it runs dry.
        """
        speed = self.setting.surroundings.cold_engine_speed
        share = speed / self.machine.engine.no_load_speed
        return self._inlet_pressure(self.cold.strokes, self.largest_flow * np.minimum(share, 1.0))

    # --- engine ------------------------------------------------------------------------------

    @cached_property
    def engine_speed(self) -> Column:
        """Engine speed on the way out, no log [rad/s]."""
        return self.rated.extend.speed

    @cached_property
    def high_stage_torque(self) -> Column:
        """Engine torque with both sections at the shift pressure, at rated speed [N m]."""
        return self.rated.high_drive.torque(
            self.plant.shift_pressure, self.machine.engine.rated_speed
        )

    @cached_property
    def low_stage_torque(self) -> Column:
        """Engine torque with the small section at the relief pressure, at rated speed [N m]."""
        return self.rated.low_drive.torque(
            self.machine.valve.relief_pressure, self.machine.engine.rated_speed
        )

    @cached_property
    def high_stage_load(self) -> Column:
        """Engine torque at the shift pressure over what the engine has at rated speed."""
        return self.high_stage_torque / self.plant.rated_torque

    @cached_property
    def low_stage_load(self) -> Column:
        """Engine torque at the relief pressure over what the engine has at rated speed."""
        return self.low_stage_torque / self.plant.rated_torque

    @cached_property
    def stall_share(self) -> Column:
        """Largest torque asked of the engine over its peak torque."""
        return np.maximum(self.high_stage_torque, self.low_stage_torque) / self.plant.peak_torque

    # --- work and heat -----------------------------------------------------------------------

    @cached_property
    def _overlapped_share(self) -> Column:
        """Share of the handling that can run during the back stroke: none without a detent."""
        detent = as_column(self.machine.valve.detent_pressure) > 0.0
        return np.where(detent, self.setting.work.overlapped_share, 0.0)

    def _period(self, loaded_extend_time: Column, retract_time: Column) -> Column:
        return work.piece_period(
            loaded_extend_time,
            retract_time,
            self.reversal_time,
            self.setting.work.handling_time,
            self._overlapped_share,
        )

    def _piece(
        self, out: Sequence[Phase], back: Phase, neutral_power: Column
    ) -> tuple[Column, Column]:
        """Shaft work [J] and period [s] of a piece: its phases, neutral for the rest."""
        out_time: Column = 0.0
        shaft_work: Column = back.time * back.power
        for phase in out:
            out_time = out_time + phase.time
            shaft_work = shaft_work + phase.time * phase.power
        period = self._period(out_time, back.time)
        return shaft_work + (period - out_time - back.time) * neutral_power, period

    def _heat(
        self, strokes: Strokes, shaft_work: Column, period: Column, neutral: Column
    ) -> Column:
        duty = self.setting.surroundings.duty
        return duty * (shaft_work - strokes.wood_work) / period + (1.0 - duty) * neutral

    @cached_property
    def piece_period(self) -> Column:
        """Time from one piece to the next, hands and ram [s]."""
        return self._period(self.rated.loaded_extend_time, self.rated.retract_time)

    @cached_property
    def split_period(self) -> Column:
        """Time per piece that is split, the time of those that stay whole spread over them [s]."""
        return work.split_period(self.piece_period, self.unsplit_share)

    @cached_property
    def split_per_stroke(self) -> Column:
        """Pieces per stroke, strokes that stop in the log counted."""
        return self.setting.pieces_per_stroke * (1.0 - self.unsplit_share)

    @cached_property
    def hidden_time(self) -> Column:
        """Back stroke behind the hands [s]: nothing to gain there."""
        return work.hidden_time(
            self.retract_time, self.setting.work.handling_time, self._overlapped_share
        )

    @cached_property
    def waited_time(self) -> Column:
        """Back stroke that the hands wait for [s]: what a quicker return may still gain."""
        return self.retract_time - self.hidden_time

    @cached_property
    def counted_time(self) -> Column:
        """Cycle through wood less what is hidden behind the hands [s]."""
        return self.loaded_cycle_time - self.hidden_time

    @cached_property
    def second_worth(self) -> Column:
        """Money that a second off every piece brings until an upgrade has to have paid."""
        money = self.setting.money
        return work.second_worth(
            money.hourly_worth,
            money.payback_time,
            self.split_period,
            self.setting.work.utilisation,
        )

    @cached_property
    def pieces_per_hour(self) -> Column:
        """Pieces split in an hour as worked [1/h]; the time of those that do not split counts."""
        use = self.setting.work
        return work.pieces_per_hour(self.piece_period, self.split_per_stroke, use.utilisation)

    @cached_property
    def mean_power(self) -> Column:
        """Mean shaft power while splitting [W]."""
        shaft_work, period = self.piece_of(self.rated)
        return shaft_work / period

    @cached_property
    def continuous_power(self) -> Column:
        """Shaft power that the engine may give all day at its site [W]."""
        return self.machine.engine.continuous_share * self.plant.rated_power

    @cached_property
    def fuel_per_piece(self) -> Column:
        """Fuel mass per piece while splitting [kg]; what goes into logs that stay whole counts."""
        rate = engine.fuel_mass_flow(self.mean_power, self.machine.engine.fuel_consumption)
        return rate * self.piece_period / self.split_per_stroke

    @cached_property
    def wood_energy_per_piece(self) -> Column:
        """Work on the wood per piece [J]; what goes into logs that stay whole counts."""
        return self.rated.wood_work / self.split_per_stroke

    @cached_property
    def shaft_energy_per_piece(self) -> Column:
        """Shaft work per piece while splitting [J]; what goes into logs that stay whole counts."""
        return self.mean_power * self.piece_period / self.split_per_stroke

    @cached_property
    def rounds_per_hour(self) -> Column:
        """Rounds split up in an hour as worked [1/h]."""
        return work.rounds_per_hour(self.pieces_per_hour, self.setting.work.pieces_per_round)

    @cached_property
    def wood_rate(self) -> Column:
        """Solid wood split per time, over the hours as worked [m3/s]."""
        return work.wood_rate(self.rounds_per_hour, self.setting.work.round_volume)

    @cached_property
    def fuel_per_volume(self) -> Column:
        """Fuel mass per volume of wood while splitting [kg/m3]; logs that stay whole count."""
        return self.fuel_per_piece * self.pieces_per_hour / 3600.0 / self.wood_rate

    @cached_property
    def cost_per_volume(self) -> Column:
        """Labour and fuel for a volume of wood, money per m3."""
        money = self.setting.money
        return work.volume_cost(
            money.labour_rate,
            self.wood_rate,
            self.fuel_per_volume,
            money.fuel_density,
            money.fuel_price,
        )

    @cached_property
    def unsplit_share(self) -> Column:
        """Share of the pieces that need more force than the machine has."""
        return unsplit_share(self.setting.met_wood, self.force)

    @cached_property
    def low_stage_share(self) -> Column:
        """Share of the loaded out stroke's time in the low stage."""
        low: Column = (
            (1.0 - self.levels.loaded_share) * self.extend_time * (1.0 - self.extend_high_stage)
        )
        loaded = self.rated.out_phases[1:]
        for phase, (_, point) in zip(loaded, self.rated.pushing, strict=True):
            low = low + phase.time * (1.0 - point.high_stage)
        return low / self.rated.loaded_extend_time

    @cached_property
    def cooling_conductance(self) -> Column:
        """Heat that leaves per kelvin over the air [W/K]: tank, cooler, hoses."""
        tank = self.machine.tank
        return (
            tank.heat_coefficient * tank.cooling_area
            + self.machine.cooler.conductance
            + self.setting.frame.other_cooling
        )

    def piece_of(self, strokes: Strokes) -> tuple[Column, Column]:
        """Shaft work [J] and period [s] of a piece with the oil at the temperature of a stroke."""
        return self._piece(strokes.out_phases, strokes.back_phase, strokes.neutral.power)

    def heat_of(self, strokes: Strokes) -> Column:
        """Heat into the oil [W] with the oil at the temperature of ``strokes``.

        All shaft power that does not split wood, over splitting and waiting by the duty.
        """
        shaft_work, period = self.piece_of(strokes)
        return self._heat(strokes, shaft_work, period, strokes.neutral.power)

    def _ladder(self, temperature: Column) -> list[Strokes]:
        """Strokes in the stages of the rating temperature, then in ever slower ones."""
        modes = self.decided.stages
        regenerates = as_column(self.machine.valve.regen_pressure).any()
        caps = (HIGH, HUNTING, LOW) if regenerates else (HUNTING, LOW)
        slower = [self._strokes(temperature, modes.at_most(cap)) for cap in caps]
        return [self.strokes_at(temperature), *slower]

    @cached_property
    def least_mean_power(self) -> Column:
        """Bound from below on the mean shaft power with any worse hoses, filter and cooler [W]."""
        ladder = self._ladder(self.setting.surroundings.rated_oil_temperature)
        return least_power(ladder, self._period, counts_wood=True)[0]

    def hoped_cooling_margin(self, temperature: Column) -> Column:
        """Bound from above on :meth:`cooling_margin` with any worse hoses, filter and cooler."""
        duty = self.setting.surroundings.duty
        ladder = self._ladder(temperature)
        splitting, standing = least_power(ladder, self._period, counts_wood=False)
        return self._cooling_margin(temperature, duty * splitting + (1.0 - duty) * standing)

    @cached_property
    def rated_heat(self) -> Column:
        """Heat into the oil at the rating temperature [W]."""
        return self.heat_of(self.rated)

    def cooling_margin(self, temperature: Column) -> Column:
        """Share of the heat that can leave at an oil temperature [K] which is to spare there.

        Positive exactly where the steady oil temperature is lower than ``temperature``.
        """
        return self._cooling_margin(temperature, self.heat_of(self.strokes_at(temperature)))

    def conductance_for(self, temperature: Column, air: Column) -> Column:
        """Conductance [W/K] at which the oil is steady at a temperature [K] in that air [K].

        Infinite where the air is as hot.
        """
        enters = self.heat_of(self.strokes_at(temperature))
        rise = temperature - as_column(air)
        return np.where(rise > 0.0, enters / np.where(rise > 0.0, rise, 1.0), np.inf)

    @cached_property
    def cooling_needed(self) -> Column:
        """Conductance [W/K] that keeps the steady oil temperature at :attr:`hottest_kept`."""
        return self.conductance_for(self.hottest_kept, self.setting.surroundings.air_temperature)

    def _allowed(self, limit: str, usual: Column) -> Column:
        change = self.setting.limit_changes.get(limit)
        return usual if change is None or change.bound is None else change.bound

    @cached_property
    def hottest_allowed(self) -> Column:
        """Bound of the limit on the oil temperature [K]."""
        return self._allowed("oil_temperature", HOT_LEVEL)

    @cached_property
    def thin_oil_temperature(self) -> Column:
        """Oil temperature [K] at which the pump's lowest viscosity is reached."""
        least = self.machine.pump.min_viscosity
        return self.temperature_at_viscosity(self._allowed("viscosity_hot", least))

    @cached_property
    def thick_oil_temperature(self) -> Column:
        """Oil temperature [K] above which the pump's highest viscosity is kept."""
        most = self.machine.pump.max_viscosity
        return self.temperature_at_viscosity(self._allowed("viscosity_cold", most))

    @cached_property
    def hottest_kept(self) -> Column:
        """Hottest oil [K] that is neither over its limit nor too thin for the pump."""
        return np.minimum(self.hottest_allowed, self.thin_oil_temperature)

    def _cooling_margin(self, temperature: Column, enters: Column) -> Column:
        leaves = heat.conductance_rejection(
            self.cooling_conductance, temperature - self.setting.surroundings.air_temperature
        )
        # Oil no hotter than the air gives no heat away.
        some = as_column(leaves > 0.0)
        return np.where(some, 1.0 - enters / np.where(some, leaves, 1.0), -np.inf)

    @cached_property
    def steady_temperature(self) -> Column:
        """Oil temperature at which heat in and heat out agree [K]; 473.15 means that or more.

        The coolest such: where thin oil leaks so much that heat grows with the temperature there
        may be hotter ones, which a machine that warms up does not reach.
        """
        whole = (self.machine, self.setting, self.levels, self.decided, self.solved)
        start = self.setting.surroundings.rated_oil_temperature

        def residual(whole: Any, temperature: Array, waypoint: AnyWaypoint) -> Column:
            machine, setting, levels, decided, solved = whole
            here = Evaluation(machine, setting, levels, decided)
            strokes = here._strokes(temperature, decided.stages, waypoint)
            return here._spare_rise(temperature, here.heat_of(strokes), solved)

        root = solve_falling(
            residual,
            whole,
            (self.setting.surroundings.air_temperature, HOTTEST_OIL),
            start,
            TEMPERATURE_TOLERANCE,
            JUMP_WIDTH,
            self._spare_rise(start, self.rated_heat, self.solved),
            self.rated.trail(shape_of(whole)),
            STRIDE,
        )
        temperature: Column = np.where(as_column(self.solved) > 0.0, root, np.nan)
        return temperature

    def _spare_rise(self, temperature: Column, enters: Column, solved: Column) -> Column:
        """What is left of the rise that the heat gives at a temperature [K]; 0 if unsolved."""
        leaves = temperature - self.setting.surroundings.air_temperature
        # Oil so thin that the ram stands: the balance is looked for in cooler oil.
        spare = np.where(np.isnan(enters), -leaves, enters / self.cooling_conductance - leaves)
        rise: Column = np.where(as_column(solved) > 0.0, FIRST_STEP * spare, 0.0)
        return rise

    def viscosity_at(self, temperature: Column) -> Column:
        """Kinematic viscosity of the oil [m2/s] at a temperature [K]."""
        a, b = self.walther
        return oil.walther_viscosity(temperature, a, b)

    def temperature_at_viscosity(self, viscosity: Column) -> Column:
        """Temperature [K] at which the oil has a kinematic viscosity [m2/s]."""
        a, b = self.walther
        return oil.walther_temperature(viscosity, a, b)

    @cached_property
    def walther(self) -> tuple[Column, Column]:
        """Constants A and B of the oil's viscosity-temperature line."""
        return oil.walther_constants(self.setting.oil.viscosity_40, self.setting.oil.viscosity_100)

    @cached_property
    def steady_viscosity(self) -> Column:
        """Kinematic viscosity at the steady oil temperature [m2/s]."""
        return self.viscosity_at(self.steady_temperature)

    @cached_property
    def cold_viscosity(self) -> Column:
        """Kinematic viscosity at the cold start [m2/s]."""
        return self.cold.viscosity

    # --- tank --------------------------------------------------------------------------------

    @cached_property
    def oil_volume(self) -> Column:
        """Oil in the tank with the rod in [m3]."""
        return self.machine.tank.volume * self.setting.frame.fill_share

    @cached_property
    def heat_store(self) -> HeatStore:
        """Oil and steel that warm together."""
        return heat_store(self.machine, self.setting, self.ram, self.oil_volume)

    @cached_property
    def time_constant(self) -> Column:
        """Time [s] after which 63 % of the warm-up at a constant heat is over."""
        return self.heat_store.time_constant(self.cooling_conductance)

    @cached_property
    def residence_time(self) -> Column:
        """Oil in the tank over the pump's largest flow [s]."""
        return self.oil_volume / self.largest_flow

    @cached_property
    def rod_swing(self) -> Column:
        """Volume by which the tank level swings with the rod [m3]."""
        return cylinder.rod_displacement(self.machine.rod.diameter, self.setting.frame.stroke)

    @cached_property
    def rod_swing_share(self) -> Column:
        """Rod swing over the oil in the tank."""
        return self.rod_swing / self.oil_volume

    @cached_property
    def air_space(self) -> Column:
        """Air in the tank with the rod in, cold [m3]."""
        return self.machine.tank.volume - self.oil_volume

    @cached_property
    def air_space_use(self) -> Column:
        """Share of the air space that warming oil takes up, topped up with the rod out."""
        place = self.setting.surroundings
        warming = max(HOT_LEVEL - place.cold_oil_temperature, 0.0)
        growth = self.oil_volume * self.setting.oil.expansion * warming
        return (growth + self.rod_swing) / self.air_space

    # --- strength ----------------------------------------------------------------------------

    @cached_property
    def stiffness_ratio(self) -> Column:
        """Stiffness of the barrel in bending over that of the rod."""
        tube = self.machine.bore
        barrel = tube.diameter + 2.0 * tube.wall
        outer, inner = barrel * barrel, tube.diameter * tube.diameter
        rod = self.machine.rod.diameter * self.machine.rod.diameter
        return (outer * outer - inner * inner) / (rod * rod)

    @cached_property
    def stiffening(self) -> Column:
        """Buckling load of barrel and rod over that of a rod as long; 1 for ``rod_only``."""
        frame = self.setting.frame
        if frame.column != "stepped":
            return 1.0
        return strength.stepped_column_factor(
            self.stiffness_ratio, frame.barrel_length / frame.extended_length
        )

    @cached_property
    def end_condition(self) -> Column:
        """End-condition constant C of the column, the barrel's stiffness counted."""
        return self.stiffening * strength.MOUNTING_FACTORS[self.setting.frame.mounting]

    @cached_property
    def critical_load(self) -> Column:
        """Buckling load of the extended cylinder [N]."""
        part = self.machine.rod
        return strength.critical_load(
            part.diameter,
            self.setting.frame.extended_length,
            self.end_condition,
            self.setting.constants.elastic_modulus,
            part.yield_strength,
        )

    @cached_property
    def buckling_factor(self) -> Column:
        """Critical load of the extended cylinder over the force at relief."""
        return self.critical_load / self.force

    @cached_property
    def rod_stress_factor(self) -> Column:
        """Yield strength of the rod over its direct stress at relief."""
        return self.machine.rod.yield_strength / strength.axial_stress(
            self.force, self.machine.rod.diameter
        )

    @cached_property
    def barrel_factor(self) -> Column:
        """Yield strength of the barrel over its equivalent stress at relief."""
        return self.machine.bore.yield_strength / strength.von_mises_barrel(
            self.machine.valve.relief_pressure, self.machine.bore.diameter, self.machine.bore.wall
        )

    @cached_property
    def rod_fit(self) -> Column:
        """Rod diameter over bore."""
        return self.machine.rod.diameter / self.machine.bore.diameter

    # --- money -------------------------------------------------------------------------------

    @cached_property
    def cost(self) -> Column:
        """Outlay for all parts that are not on the machine yet, in the study's currency."""
        total: Column = 0.0
        for category in CATEGORIES:
            total = total + getattr(self.machine, category).outlay
        return total

    @cached_property
    def price(self) -> Column:
        """Price of all parts bought new, in the study's currency."""
        total: Column = 0.0
        for category in CATEGORIES:
            total = total + getattr(self.machine, category).price
        return total

    @cached_property
    def solved(self) -> Column:
        """1 where every flow of the rated strokes was found."""
        found = np.isfinite(self.cycle_time) & np.isfinite(self.loaded_cycle_time)
        return np.where(found, 1.0, 0.0)


HOT_LEVEL = 355.15
"""Oil temperature [K] up to which the tank must hold its oil: 82 degC, the usual upper limit."""
