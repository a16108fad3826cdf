"""Every result that is shown or may be limited, one entry each: key, words, unit, reading."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from optimise.columns import Column
from optimise.machine.evaluation import Evaluation


@dataclass(frozen=True)
class Result:
    """One result.

    Attributes
    ----------
    key
        Dotted place in the JSON answer; its last word carries the unit of :func:`reported`.
    title, unit
        Words and kind of unit for a person.
    reading
        Its value from an evaluation, SI.
    better
        -1 where better quantities of parts (see ``Quantity.better``) never raise it, 1 where they
        never lower it, 0 where they may do either. A study's limit that asks for little (much) of
        such a result cuts a search short.
    wanted
        Of results that no quantity with a better direction touches: -1 where less of it is wanted,
        1 where more is.
    """

    key: str
    title: str
    unit: str
    reading: Callable[[Evaluation], Column]
    better: int = 0
    wanted: int = 0

    @property
    def aim(self) -> int:
        """-1 where a search may look for little of it, 1 for much, 0 where for neither."""
        return self.better or self.wanted


RESULTS: tuple[Result, ...] = (
    Result("cycle.extend_s", "Out", "time", lambda e: e.extend_time, -1),
    Result("cycle.retract_s", "Back", "time", lambda e: e.retract_time, -1),
    Result("cycle.reversal_s", "Reversals", "time", lambda e: e.reversal_time),
    Result("cycle.total_s", "Cycle", "time", lambda e: e.cycle_time, -1),
    Result("cycle.loaded_total_s", "Cycle through wood", "time", lambda e: e.loaded_cycle_time, -1),
    Result("force_N", "Force at relief", "force", lambda e: e.force, wanted=1),
    Result("flow.extend_m3_s", "Pump flow out", "flow", lambda e: e.extend_flow),
    Result("flow.retract_m3_s", "Pump flow back", "flow", lambda e: e.retract_flow),
    Result("flow.extend_return_m3_s", "Return flow out", "flow", lambda e: e.extend_return_flow),
    Result("flow.retract_return_m3_s", "Return flow back", "flow", lambda e: e.retract_return_flow),
    Result("speed.extend_m_s", "Ram speed out", "speed", lambda e: e.extend_speed),
    Result("speed.retract_m_s", "Ram speed back", "speed", lambda e: e.retract_speed),
    Result(
        "pressure.extend_pump_Pa", "Pump pressure out", "pressure", lambda e: e.extend_pump_pressure
    ),
    Result(
        "pressure.retract_pump_Pa",
        "Pump pressure back",
        "pressure",
        lambda e: e.retract_pump_pressure,
    ),
    Result(
        "pressure.cap_back_Pa",
        "Cap-end pressure on the way back",
        "pressure",
        lambda e: e.cap_back_pressure,
    ),
    Result(
        "pressure.retract_demand_Pa",
        "Pump pressure that full flow needs on the way back",
        "pressure",
        lambda e: e.retract_stage_demand,
    ),
    Result(
        "pressure.extend_demand_Pa",
        "Pump pressure that full flow needs on the way out",
        "pressure",
        lambda e: e.extend_stage_demand,
    ),
    Result("pressure.shift_Pa", "Shift pressure", "pressure", lambda e: e.plant.shift_pressure),
    Result("flow.return_ratio", "Return over pump flow, back", "count", lambda e: e.ram.area_ratio),
    Result("stage.extend_high", "Both sections out", "share", lambda e: e.extend_high_stage),
    Result("flow.extend_cap_m3_s", "Cap-end flow out", "flow", lambda e: e.extend_cap_flow),
    Result("stage.extend_regen", "Regenerative out", "count", lambda e: e.extend_regenerative),
    Result("stage.retract_high", "Both sections back", "share", lambda e: e.retract_high_stage),
    Result("stage.low_share", "Loaded stroke in low stage", "share", lambda e: e.low_stage_share),
    Result(
        "oil.rated_degC",
        "Oil temperature of these results",
        "temperature",
        lambda e: e.setting.surroundings.rated_oil_temperature,
    ),
    Result("engine.speed_rpm", "Engine speed out", "rotation", lambda e: e.engine_speed),
    Result(
        "engine.high_stage_load",
        "Engine load before the shift",
        "share",
        lambda e: e.high_stage_load,
    ),
    Result("engine.low_stage_load", "Engine load at relief", "share", lambda e: e.low_stage_load),
    Result("engine.mean_power_W", "Mean shaft power", "power", lambda e: e.mean_power),
    Result(
        "oil.steady_degC", "Steady oil temperature", "temperature", lambda e: e.steady_temperature
    ),
    Result("oil.heat_W", "Heat into the oil at the rating", "power", lambda e: e.rated_heat),
    Result(
        "oil.steady_viscosity_m2_s",
        "Viscosity at the steady temperature",
        "viscosity",
        lambda e: e.steady_viscosity,
    ),
    Result(
        "oil.time_constant_s", "Time constant of the warm-up", "time", lambda e: e.time_constant
    ),
    Result(
        "oil.cooling_W_K", "Cooling on the machine", "conductance", lambda e: e.cooling_conductance
    ),
    Result(
        "oil.cooling_needed_W_K",
        "Cooling that steady oil at its limit needs",
        "conductance",
        lambda e: e.cooling_needed,
    ),
    Result("cold.viscosity_m2_s", "Viscosity, cold start", "viscosity", lambda e: e.cold_viscosity),
    Result("cold.inlet_Pa", "Pump inlet, cold start", "pressure", lambda e: e.cold_inlet_pressure),
    Result(
        "cold.neutral_Pa",
        "Pump pressure in neutral, cold start",
        "pressure",
        lambda e: e.cold.neutral_pressure,
    ),
    Result("cold.extend_s", "Out, cold start", "time", lambda e: e.cold.extend_time),
    Result("cold.retract_s", "Back, cold start", "time", lambda e: e.cold.retract_time),
    Result(
        "cold.engine_load",
        "Largest engine load, cold start",
        "share",
        lambda e: e.cold.engine_load,
    ),
    Result("cold.heat_W", "Heat in neutral, cold start", "power", lambda e: e.cold.heat),
    Result("work.pieces_per_h", "Pieces added per hour", "count", lambda e: e.pieces_per_hour, 1),
    Result("work.split_period_s", "Time per piece", "time", lambda e: e.split_period, -1),
    Result("work.piece_period_s", "Time from log to log", "time", lambda e: e.piece_period, -1),
    Result("work.counted_s", "Cycle that counts", "time", lambda e: e.counted_time),
    Result("work.hidden_s", "Back stroke behind the hands", "time", lambda e: e.hidden_time),
    Result("work.waited_s", "Back stroke that hands wait for", "time", lambda e: e.waited_time),
    Result("work.second_worth", "Worth of a second", "money", lambda e: e.second_worth),
    Result("work.rounds_per_h", "Rounds per hour", "count", lambda e: e.rounds_per_hour),
    Result("work.wood_m3_s", "Wood split", "wood_rate", lambda e: e.wood_rate),
    Result("work.fuel_kg_m3", "Fuel per volume of wood", "density", lambda e: e.fuel_per_volume),
    Result(
        "work.cost_per_m3",
        "Labour and fuel per volume of wood",
        "volume_price",
        lambda e: e.cost_per_volume,
    ),
    Result("work.fuel_per_piece_kg", "Fuel per piece", "mass", lambda e: e.fuel_per_piece),
    Result(
        "work.pieces_per_stroke",
        "Pieces per stroke",
        "count",
        lambda e: e.setting.pieces_per_stroke,
    ),
    Result(
        "work.wood_energy_per_piece_J",
        "Work on the wood per piece",
        "energy",
        lambda e: e.wood_energy_per_piece,
    ),
    Result(
        "work.shaft_energy_per_piece_J",
        "Shaft work per piece",
        "energy",
        lambda e: e.shaft_energy_per_piece,
    ),
    Result("work.unsplit_share", "Pieces it cannot split", "share", lambda e: e.unsplit_share),
    Result(
        "strength.buckling_factor",
        "Buckling factor",
        "count",
        lambda e: e.buckling_factor,
        wanted=1,
    ),
    Result("cost.outlay", "Outlay", "money", lambda e: e.cost, -1),
    Result("cost.price", "Price of all parts", "money", lambda e: e.price, -1),
)
"""Results in the order in which they are shown."""


def reported(value: Column, unit: str) -> Column:
    """Value as answers for programs give it: SI, but degC for temperatures and rpm for speeds."""
    if unit == "temperature":
        return value - 273.15
    if unit == "rotation":
        return value * (30.0 / math.pi)
    return value


def accepted(value: Column, unit: str) -> Column:
    """SI value of what :func:`reported` gave."""
    if unit == "temperature":
        return value + 273.15
    if unit == "rotation":
        return value * (math.pi / 30.0)
    return value


def result_named(key: str) -> Result:
    """Result with a key; KeyError names the key when there is none."""
    for result in RESULTS:
        if result.key == key:
            return result
    raise KeyError(key)
