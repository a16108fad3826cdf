"""An ordinary machine, invented, and ways to change single numbers of it."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from optimise.machine.parts import (
    Bore,
    Cooler,
    Engine,
    Filter,
    Fittings,
    Machine,
    PressureHose,
    Pump,
    ReturnHose,
    Rod,
    SuctionHose,
    Tank,
    Valve,
    WorkHoses,
)
from optimise.machine.setting import (
    Frame,
    Line,
    Lines,
    Log,
    Oil,
    Setting,
    Surroundings,
)

IN = 0.0254
FT = 0.3048
PSI = 6894.757293168361
GPM = 3.785411784e-3 / 60.0
GAL = 3.785411784e-3
RPM = math.pi / 30.0
IN3 = IN**3

MACHINE = Machine(
    engine=Engine(
        price=300.0,
        rated_torque=20.0,
        rated_speed=3450.0 * RPM,
        no_load_speed=3600.0 * RPM,
        peak_torque=23.0,
        peak_torque_speed=2500.0 * RPM,
    ),
    pump=Pump(
        price=200.0,
        large_displacement=0.60 * IN3,
        small_displacement=0.22 * IN3,
        shift_pressure=650.0 * PSI,
        volumetric_efficiency=0.93,
        mechanical_efficiency=0.92,
        rated_pressure=3000.0 * PSI,
        rated_speed=3600.0 * RPM,
        max_speed=3750.0 * RPM,
    ),
    bore=Bore(
        price=150.0,
        diameter=4.0 * IN,
        wall=0.375 * IN,
        yield_strength=70e3 * PSI,
        max_pressure=3000.0 * PSI,
    ),
    rod=Rod(price=60.0, diameter=2.0 * IN, yield_strength=75e3 * PSI),
    valve=Valve(
        price=110.0,
        relief_pressure=2500.0 * PSI,
        detent_pressure=1100.0 * PSI,
        nominal_flow=20.0 * GPM,
        nominal_drop=60.0 * PSI,
        neutral_drop=30.0 * PSI,
        max_flow=25.0 * GPM,
        max_pressure=3500.0 * PSI,
        max_tank_pressure=300.0 * PSI,
        shift_time=0.15,
    ),
    pressure_hose=PressureHose(price=30.0, inner_diameter=0.625 * IN, max_pressure=3600.0 * PSI),
    work_hoses=WorkHoses(price=50.0, inner_diameter=0.625 * IN, max_pressure=3600.0 * PSI),
    return_hose=ReturnHose(price=20.0, inner_diameter=1.0 * IN, max_pressure=300.0 * PSI),
    suction_hose=SuctionHose(price=25.0, inner_diameter=1.25 * IN),
    fittings=Fittings(price=40.0, laminar_k=800.0, turbulent_k=0.4, max_pressure=4000.0 * PSI),
    filter=Filter(
        price=35.0,
        max_flow=30.0 * GPM,
        nominal_flow=25.0 * GPM,
        clean_drop=4.0 * PSI,
        bypass_pressure=25.0 * PSI,
        max_pressure=150.0 * PSI,
    ),
    tank=Tank(price=120.0, volume=15.0 * GAL, cooling_area=1.1, heat_coefficient=16.0),
    cooler=Cooler(
        price=150.0,
        conductance=30.0,
        nominal_flow=20.0 * GPM,
        nominal_drop=5.0 * PSI,
        max_pressure=250.0 * PSI,
    ),
)

SETTING = Setting(
    frame=Frame(
        stroke=24.0 * IN,
        extended_length=56.0 * IN,
        column="stepped",
        barrel_length=28.0 * IN,
        other_cooling=8.0,
        idle_drag=600.0,
    ),
    lines=Lines(
        suction=Line(length=2.0 * FT, turns=1.0),
        pressure=Line(length=3.0 * FT, turns=2.0),
        work=Line(length=4.0 * FT, turns=2.0),
        return_line=Line(length=3.0 * FT, turns=2.0),
    ),
    oil=Oil(viscosity_40=46e-6, viscosity_100=6.8e-6),
    surroundings=Surroundings(cold_oil_temperature=271.15, duty=0.6),
    wood=(
        Log(name="straight", share=0.7, peak_force=40e3, loaded_travel=0.3),
        Log(name="knotty", share=0.3, peak_force=90e3, loaded_travel=0.5),
    ),
)


def machine(**changes: Any) -> Machine:
    """The example with fields changed: ``machine(rod__diameter=0.05)``."""
    parts = {field.name: getattr(MACHINE, field.name) for field in dataclasses.fields(MACHINE)}
    for key, value in changes.items():
        category, name = key.split("__")
        parts[category] = dataclasses.replace(parts[category], **{name: value})
    return Machine(**parts)


def setting(**changes: Any) -> Setting:
    """The example's setting with fields changed: ``setting(frame__stroke=0.7)``."""
    found = SETTING
    for key, value in changes.items():
        if "__" not in key:
            found = dataclasses.replace(found, **{key: value})
            continue
        section, name = key.split("__")
        part = dataclasses.replace(getattr(found, section), **{name: value})
        found = dataclasses.replace(found, **{section: part})
    return found
