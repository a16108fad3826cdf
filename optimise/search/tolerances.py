"""Tolerances of parts and surroundings: what differs from one machine to the next of its kind."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from optimise.columns import Array, Column
from optimise.machine.parts import CATEGORIES, Machine
from optimise.machine.setting import Setting
from optimise.machine.wood import WorkLevels, levels_of


@dataclass(frozen=True)
class Tolerance:
    """By how much a quantity of a part may differ from its list: evenly spread over a range.

    Where nothing but limits is known, the distribution is rectangular between them (Guide to the
    expression of uncertainty in measurement, JCGM 100:2008, 4.3.7).

    Attributes
    ----------
    name
        Words for it.
    fields
        What it multiplies: ``category.field`` of a part or ``section.field`` of the setting.
    half_width
        Largest deviation either way, as a share.
    reason
        Why so, and who says so.
    on_loss
        Whether it multiplies what an efficiency lacks to 1, instead of the efficiency.
    """

    name: str
    fields: tuple[str, ...]
    half_width: float
    reason: str
    on_loss: bool = False


_RULE = "common practice, no source"

TOLERANCES: tuple[Tolerance, ...] = (
    Tolerance(
        "engine torque",
        ("engine.rated_torque", "engine.peak_torque"),
        0.05,
        "engines of a series and their tune: " + _RULE,
    ),
    Tolerance(
        "governor",
        ("engine.rated_speed", "engine.no_load_speed"),
        0.015,
        "about 50 rpm in 3600, set with a tachometer: " + _RULE,
    ),
    Tolerance(
        "pump leakage",
        ("pump.volumetric_efficiency",),
        0.20,
        "pump against pump of one type, on what the efficiency lacks to 1: " + _RULE,
        on_loss=True,
    ),
    Tolerance(
        "pump friction",
        ("pump.mechanical_efficiency",),
        0.20,
        "pump against pump of one type, on what the efficiency lacks to 1: " + _RULE,
        on_loss=True,
    ),
    Tolerance("shift setting", ("pump.shift_pressure",), 0.05, "spring and seat: " + _RULE),
    Tolerance(
        "relief setting",
        ("valve.relief_pressure",),
        0.03,
        "set by hand with a workshop gauge: " + _RULE,
    ),
    Tolerance(
        "detent setting",
        ("valve.detent_pressure",),
        0.10,
        "set by hand, moves with temperature: " + _RULE,
    ),
    Tolerance(
        "regenerative switch-over",
        ("valve.regen_pressure",),
        0.05,
        "spring and seat: " + _RULE,
    ),
    Tolerance(
        "valve drop",
        ("valve.nominal_drop", "valve.neutral_drop"),
        0.15,
        "read off a maker's chart, spool against spool: " + _RULE,
    ),
    Tolerance(
        "pressure hose bore",
        ("pressure_hose.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "work hose bore",
        ("work_hoses.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "return hose bore",
        ("return_hose.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "suction hose bore",
        ("suction_hose.inner_diameter",),
        0.04,
        "as the other hoses: " + _RULE,
    ),
    Tolerance(
        "fitting K factors",
        ("fittings.laminar_k", "fittings.turbulent_k"),
        0.25,
        "scatter between handbooks and between makes: " + _RULE,
    ),
    Tolerance(
        "filter drop",
        ("filter.clean_drop",),
        0.20,
        "element against element, read off a maker's chart: " + _RULE,
    ),
    Tolerance(
        "cooler",
        ("cooler.conductance",),
        0.15,
        "dust and mounting against the maker's chart: " + _RULE,
    ),
    Tolerance(
        "heat coefficient",
        ("tank.heat_coefficient", "frame.other_cooling"),
        0.20,
        "published wall coefficients run from 6 to 24 W/(m2 K) by air; one place known to a "
        "fifth: " + _RULE,
    ),
    Tolerance(
        "idle drag",
        ("frame.idle_drag",),
        0.30,
        "grease, wear and dirt on the slides: " + _RULE,
    ),
    Tolerance(
        "oil viscosity",
        ("oil.viscosity_40", "oil.viscosity_100"),
        0.10,
        "ISO 3448: a grade is its midpoint within 10 %",
    ),
    Tolerance(
        "wood forces",
        ("wood.peak_force",),
        0.20,
        "peak forces of a mix are assumed, not measured: " + _RULE,
    ),
)
"""Tolerances that are drawn, each on its own. The constants carry what is common to all machines,
these what differs from part to part; a part that was on the machine measured is drawn as well, so
that its range is rather too wide than too narrow."""

_Change = Callable[[Column], Column]


def _changed(owner: Any, changes: dict[str, _Change]) -> Any:
    return dataclasses.replace(
        owner, **{name: change(getattr(owner, name)) for name, change in changes.items()}
    )


def _change(tolerance: Tolerance, uniform: Array) -> _Change:
    factor = 1.0 + tolerance.half_width * (2.0 * uniform - 1.0)
    if tolerance.on_loss:
        return lambda efficiency: 1.0 - (1.0 - efficiency) * factor
    return lambda value: value * factor


def varied(
    machine: Machine, setting: Setting, uniform: Array
) -> tuple[Machine, Setting, WorkLevels]:
    """Machine, setting and wood with every tolerance drawn.

    Parameters
    ----------
    machine
        Fields that broadcast against shape (n,).
    uniform
        Uniform numbers, one row of shape (n,) for each entry of :data:`TOLERANCES`.
    """
    changes: dict[str, dict[str, _Change]] = {}
    for tolerance, row in zip(TOLERANCES, uniform, strict=True):
        for field in tolerance.fields:
            section, name = field.split(".")
            changes.setdefault(section, {})[name] = _change(tolerance, row)
    parts: dict[str, Any] = {}
    sections: dict[str, Any] = {}
    levels = levels_of(setting)
    for section, fields in changes.items():
        if section in CATEGORIES:
            parts[section] = _changed(getattr(machine, section), fields)
        elif section == "wood":
            scaled: Any = tuple(fields["peak_force"](force) for force in levels.forces)
            levels = dataclasses.replace(levels, forces=scaled)
            sections["wood"] = tuple(_changed(log, fields) for log in setting.wood)
        else:
            sections[section] = _changed(getattr(setting, section), fields)
    return (
        dataclasses.replace(machine, **parts),
        dataclasses.replace(setting, **sections),
        levels,
    )
