"""Part categories: one dataclass each, one field of :class:`Machine` each.

A field holds one number, or a column with one number per machine. Names of parts live in the price
list, not here. A category is added by its dataclass and its field of ``Machine``; price-list
columns, schema, search and report follow from the field metadata.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar, cast, get_type_hints

import numpy as np

from optimise.columns import Column, Lanes
from optimise.machine.quantities import Quantity, quantities, quantity


@dataclass(frozen=True, kw_only=True)
class Part:
    """What every part costs.

    ``outlay`` is the money that fitting it takes on this machine (price and hours, less the resale
    of the part that comes off; nothing where it is on the machine already). The price list works
    it out.
    """

    price: Column = quantity("money", "price", "price of the part bought new", lowest=0.0)
    fitting_time: Column = quantity(
        "time", "time to fit", "time it takes to fit it", lowest=0.0, default=0.0
    )
    resale: Column = quantity(
        "money", "resale", "what it brings when it comes off the machine", lowest=0.0, default=0.0
    )
    outlay: Column = 0.0


@dataclass(frozen=True, kw_only=True)
class Engine(Part):
    """Governed engine: parabola of full-load torque through its peak and its rated point."""

    rated_torque: Column = quantity(
        "torque", "rated torque", "full-load torque at the rated speed, sea level"
    )
    rated_speed: Column = quantity(
        "rotation", "rated speed", "governed speed at full load", lowest=10.0, highest=2000.0
    )
    no_load_speed: Column = quantity(
        "rotation", "no-load speed", "governed speed with no load", lowest=10.0, highest=2000.0
    )
    peak_torque: Column = quantity("torque", "peak torque", "largest full-load torque, sea level")
    peak_torque_speed: Column = quantity(
        "rotation", "speed of peak torque", "speed of the largest torque", lowest=10.0, highest=2000
    )
    continuous_share: Column = quantity(
        "share",
        "continuous share",
        "share of the rated power that it may carry all day",
        lowest=0.05,
        highest=1.0,
        default=0.85,
    )
    fuel_consumption: Column = quantity(
        "fuel_consumption", "fuel consumption", "fuel mass per shaft work", default=400e-3 / 3.6e6
    )


@dataclass(frozen=True, kw_only=True)
class Pump(Part):
    """Gear pump, two-stage; a single-stage pump has no large section."""

    large_displacement: Column = quantity(
        "displacement",
        "large section",
        "per revolution, idle above the shift pressure; 0 for a single-stage pump",
        lowest=0.0,
    )
    small_displacement: Column = quantity(
        "displacement", "small section", "per revolution, works up to the relief pressure"
    )
    shift_pressure: Column = quantity(
        "pressure", "shift pressure", "above it the large section is unloaded", lowest=1e5
    )
    unload_pressure: Column = quantity(
        "pressure",
        "unloading pressure",
        "what the unloaded large section still works against",
        lowest=0.0,
        default=2e5,
    )
    volumetric_efficiency: Column = quantity(
        "share", "volumetric efficiency", "at the rated pressure and speed", lowest=0.3, highest=1.0
    )
    mechanical_efficiency: Column = quantity(
        "share", "mechanical efficiency", "at the rated pressure and speed", lowest=0.3, highest=1.0
    )
    rated_pressure: Column = quantity("pressure", "rated pressure", "continuous", lowest=1e5)
    rated_speed: Column = quantity(
        "rotation", "rating speed", "speed of the stated efficiencies", lowest=10.0
    )
    max_speed: Column = quantity("rotation", "highest speed", "allowed speed", lowest=10.0)
    min_inlet_pressure: Column = quantity(
        "pressure",
        "lowest inlet pressure",
        "absolute, warm and continuous",
        lowest=1e3,
        default=0.8e5,
    )
    min_viscosity: Column = quantity(
        "viscosity", "lowest viscosity", "thinnest oil it tolerates hot", default=10e-6
    )
    max_viscosity: Column = quantity(
        "viscosity", "highest viscosity", "thickest oil it tolerates at start", default=1000e-6
    )


@dataclass(frozen=True, kw_only=True)
class Bore(Part):
    """Cylinder barrel."""

    diameter: Column = quantity("length", "bore", "inner diameter of the barrel")
    wall: Column = quantity("length", "wall", "thickness of the barrel wall")
    yield_strength: Column = quantity("pressure", "barrel yield strength", "of the welded barrel")
    max_pressure: Column = quantity("pressure", "cylinder rating", "as the maker states it")


@dataclass(frozen=True, kw_only=True)
class Rod(Part):
    """Piston rod, solid and round."""

    diameter: Column = quantity("length", "rod", "diameter of the rod")
    yield_strength: Column = quantity("pressure", "rod yield strength", "of the core")


@dataclass(frozen=True, kw_only=True)
class Valve(Part):
    """Directional valve with its relief setting and, where fitted, a return detent."""

    relief_pressure: Column = quantity("pressure", "relief setting", "at full flow", lowest=1e5)
    detent_pressure: Column = quantity(
        "pressure",
        "detent setting",
        "pressure at which the return detent lets go; 0 without a detent",
        lowest=0.0,
        default=0.0,
    )
    regen_pressure: Column = quantity(
        "pressure",
        "regenerative switch-over",
        "pump pressure up to which the rod end's oil joins the cap end on the way out; 0 without",
        lowest=0.0,
        default=0.0,
    )
    nominal_flow: Column = quantity("flow", "nominal flow", "flow of the stated drops")
    nominal_drop: Column = quantity(
        "pressure", "nominal drop", "one way through the shifted spool at the nominal flow"
    )
    neutral_drop: Column = quantity(
        "pressure", "neutral drop", "inlet to tank in neutral at the nominal flow", lowest=0.0
    )
    max_flow: Column = quantity("flow", "highest flow", "allowed either way")
    max_pressure: Column = quantity("pressure", "valve rating", "inlet and work ports")
    max_tank_pressure: Column = quantity(
        "pressure", "tank port rating", "allowed back-pressure at the tank port"
    )
    shift_time: Column = quantity(
        "time", "shift time", "from one end of the spool to the other", lowest=0.0, highest=10.0
    )


@dataclass(frozen=True, kw_only=True)
class PressureHose(Part):
    """Hose from pump to valve."""

    inner_diameter: Column = quantity("length", "inner diameter", better=1)
    max_pressure: Column = quantity("pressure", "hose rating", better=1)


@dataclass(frozen=True, kw_only=True)
class WorkHoses(Part):
    """Pair of hoses from valve to cylinder."""

    inner_diameter: Column = quantity("length", "inner diameter", better=1)
    max_pressure: Column = quantity("pressure", "hose rating", better=1)


@dataclass(frozen=True, kw_only=True)
class ReturnHose(Part):
    """Hose from valve to filter and tank."""

    inner_diameter: Column = quantity("length", "inner diameter", better=1)
    max_pressure: Column = quantity("pressure", "hose rating", better=1)


@dataclass(frozen=True, kw_only=True)
class SuctionHose(Part):
    """Hose from tank to pump."""

    inner_diameter: Column = quantity("length", "inner diameter", better=1)


@dataclass(frozen=True, kw_only=True)
class Fittings(Part):
    """Set of fittings that makes every turn of the lines (one 90 or two 45s, say)."""

    laminar_k: Column = quantity(
        "count", "laminar K", "K1 of the two-K method, per turn", better=-1, lowest=0.0
    )
    turbulent_k: Column = quantity(
        "count", "turbulent K", "K-infinity of the two-K method, per turn", better=-1, lowest=0.0
    )
    max_pressure: Column = quantity("pressure", "fitting rating", better=1)


@dataclass(frozen=True, kw_only=True)
class Filter(Part):
    """Return-line filter."""

    max_flow: Column = quantity("flow", "highest flow", better=1)
    nominal_flow: Column = quantity("flow", "nominal flow", "flow of the stated drop", better=1)
    clean_drop: Column = quantity(
        "pressure", "clean drop", "clean element and housing at the nominal flow", better=-1
    )
    bypass_pressure: Column = quantity("pressure", "bypass setting", better=1)
    max_pressure: Column = quantity("pressure", "housing rating", better=1)


@dataclass(frozen=True, kw_only=True)
class Tank(Part):
    """Oil tank."""

    volume: Column = quantity("volume", "volume", "brim to bottom", better=1)
    cooling_area: Column = quantity(
        "area", "cooling area", "walls in contact with oil and in moving air", better=1
    )
    heat_coefficient: Column = quantity(
        "heat_coefficient", "heat coefficient", "of those walls", better=1
    )


@dataclass(frozen=True, kw_only=True)
class Cooler(Part):
    """Cooler in the return line, or none."""

    conductance: Column = quantity(
        "conductance", "conductance", "heat per kelvin over the air", better=1, lowest=0.0
    )
    nominal_flow: Column = quantity("flow", "nominal flow", "flow of the stated drop", better=1)
    nominal_drop: Column = quantity(
        "pressure", "nominal drop", "at the nominal flow", better=-1, lowest=0.0
    )
    max_pressure: Column = quantity("pressure", "cooler rating", better=1)


@dataclass(frozen=True, kw_only=True)
class Machine:
    """One part of each category: one machine, or a column of machines."""

    engine: Engine
    pump: Pump
    bore: Bore
    rod: Rod
    valve: Valve
    pressure_hose: PressureHose
    work_hoses: WorkHoses
    return_hose: ReturnHose
    suction_hose: SuctionHose
    fittings: Fittings
    filter: Filter
    tank: Tank
    cooler: Cooler


CATEGORIES: dict[str, type[Part]] = get_type_hints(Machine)
"""Part class of each category, in the order of the circuit."""

MONEY = ("price", "fitting_time", "resale", "outlay")
"""Fields of a part that the physics does not read."""

_AnyPart = TypeVar("_AnyPart", bound=Part)


def assemble(parts: Mapping[str, Part]) -> Machine:
    """Machine of one part, or one column of parts, per category."""
    return Machine(**cast(dict[str, Any], dict(parts)))


def physical(category: type[Part]) -> dict[str, Quantity]:
    """Quantities of a category that the model computes with: all but the money."""
    return {name: spec for name, spec in quantities(category).items() if name not in MONEY}


def is_directional(category: type[Part]) -> bool:
    """Whether every quantity of the category has a better direction."""
    return all(spec.better != 0 for spec in physical(category).values())


def take(part: _AnyPart, lanes: Lanes | np.intp) -> _AnyPart:
    """Part with the lanes asked for, in their shape; ``part`` must hold columns of shape (n,)."""
    picked: dict[str, Any] = {
        field.name: np.asarray(getattr(part, field.name))[lanes]
        for field in dataclasses.fields(part)
    }
    return type(part)(**picked)


def ideal(part: _AnyPart) -> _AnyPart:
    """Best value of each quantity over a column of parts: no listed part is better in any.

    Only for categories in which :func:`is_directional` holds.
    """
    best: dict[str, Any] = {}
    for name, spec in physical(type(part)).items():
        column = np.asarray(getattr(part, name))
        best[name] = column.max() if spec.better > 0 else column.min()
    for name in MONEY:
        best[name] = np.asarray(getattr(part, name)).min()
    return type(part)(**best)
