"""What warms with the oil: masses and specific heats of oil and steel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.columns import Column
from optimise.elementary import power
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.strokes import Cylinder
from optimise.physics import cylinder, heat

STEEL_SPECIFIC_HEAT = 460.0
"""Specific heat of steel [J/(kg K)], handbook value."""


@dataclass(frozen=True, kw_only=True)
class HeatStore:
    """What warms together; columns."""

    oil_mass: Column
    steel_mass: Column
    oil_specific_heat: Column
    steel_specific_heat: Column = STEEL_SPECIFIC_HEAT

    def time_constant(self, conductance: Column) -> Column:
        """Time [s] after which 63 % of the final rise is reached at a constant heat."""
        return heat.warm_up_time_constant(
            self.oil_mass,
            self.oil_specific_heat,
            self.steel_mass,
            self.steel_specific_heat,
            conductance,
        )

    @property
    def capacity(self) -> Column:
        """Heat per kelvin [J/K]."""
        return self.time_constant(1.0)


def heat_store(machine: Machine, setting: Setting, ram: Cylinder, tank_oil: Column) -> HeatStore:
    """Oil in tank, lines and rod end (rod in); steel of tank, barrel, rod and ``other_steel``.

    The tank is a cube of the stated sheet; the barrel is as long as stated, or as the stroke where
    that is more. Columns where the machine has columns.

    Parameters
    ----------
    tank_oil
        Oil in the tank with the rod in [m3].
    """
    layout, stroke, day = setting.lines, setting.frame.stroke, setting.day
    hoses = (
        (layout.suction.length, machine.suction_hose.inner_diameter),
        (layout.pressure.length, machine.pressure_hose.inner_diameter),
        (2.0 * layout.work.length, machine.work_hoses.inner_diameter),
        (layout.return_line.length, machine.return_hose.inner_diameter),
    )
    oil_volume = tank_oil + ram.annulus_area * stroke
    for length, inner_diameter in hoses:
        oil_volume = oil_volume + length * cylinder.cap_area(inner_diameter)
    outer_diameter = machine.bore.diameter + 2.0 * machine.bore.wall
    barrel = cylinder.annulus_area(outer_diameter, machine.bore.diameter) * np.maximum(
        setting.frame.barrel_length, stroke
    )
    tank = 6.0 * power(machine.tank.volume, 2.0 / 3.0) * day.tank_sheet
    rod = ram.rod_area * stroke
    return HeatStore(
        oil_mass=setting.oil.density_15 * oil_volume,
        steel_mass=setting.constants.steel_density * (tank + barrel + rod) + day.other_steel,
        oil_specific_heat=day.oil_specific_heat,
    )
