"""Works out the scale of every unit with pint, in exact fractions, for ``optimise/unit_scales.py``.

Run ``python -m tests.unit_scales`` after a change of units; a test fails until then. The tool
itself reads the table: to build a registry would cost each call four tenths of a second.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pint

import optimise
from optimise.units import KINDS

TABLE = Path(optimise.__file__).with_name("unit_scales.py")

_DEFINITIONS = {
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "in": "inch",
    "ft": "foot",
    "m2": "meter**2",
    "cm2": "centimeter**2",
    "mm2": "millimeter**2",
    "in2": "inch**2",
    "ft2": "foot**2",
    "m3": "meter**3",
    "cm3": "centimeter**3",
    "in3": "inch**3",
    "ft3": "foot**3",
    "L": "liter",
    "mL": "milliliter",
    "gal": "us_gallon",
    "qt": "us_quart",
    "m3/rev": "meter**3",
    "cm3/rev": "centimeter**3",
    "in3/rev": "inch**3",
    "m3/s": "meter**3/second",
    "cm3/s": "centimeter**3/second",
    "in3/s": "inch**3/second",
    "L/s": "liter/second",
    "L/min": "liter/minute",
    "gpm": "us_gallon_per_minute",
    "Pa": "pascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "GPa": "gigapascal",
    "bar": "bar",
    "psi": "pound_force_per_square_inch",
    "ksi": "kip_per_square_inch",
    "inHg": "inch_Hg",
    "N": "newton",
    "kN": "kilonewton",
    "lbf": "force_pound",
    "tonf": "us_ton_force",
    "N m": "newton*meter",
    "lb ft": "force_pound*foot",
    "lb in": "force_pound*inch",
    "J": "joule",
    "kJ": "kilojoule",
    "MJ": "megajoule",
    "kWh": "kilowatt*hour",
    "ft lbf": "foot*force_pound",
    "Btu": "international_british_thermal_unit",
    "W": "watt",
    "kW": "kilowatt",
    "hp": "horsepower",
    "Btu/h": "international_british_thermal_unit/hour",
    "m/s": "meter/second",
    "mm/s": "millimeter/second",
    "in/s": "inch/second",
    "ft/s": "foot/second",
    "rad/s": "radian/second",
    "rpm": "revolution/minute",
    "K": "kelvin",
    "degC": "delta_degree_Celsius",
    "degF": "delta_degree_Fahrenheit",
    "kg": "kilogram",
    "g": "gram",
    "lb": "pound",
    "kg/m3": "kilogram/meter**3",
    "kg/L": "kilogram/liter",
    "g/cm3": "gram/centimeter**3",
    "lb/ft3": "pound/foot**3",
    "lb/gal": "pound/us_gallon",
    "m2/s": "meter**2/second",
    "mm2/s": "millimeter**2/second",
    "cSt": "centistokes",
    "s": "second",
    "ms": "millisecond",
    "min": "minute",
    "h": "hour",
    "W/K": "watt/kelvin",
    "Btu/h/F": "international_british_thermal_unit/hour/delta_degree_Fahrenheit",
    "W/m2/K": "watt/meter**2/kelvin",
    "Btu/h/ft2/F": "international_british_thermal_unit/hour/foot**2/delta_degree_Fahrenheit",
    "J/kg/K": "joule/kilogram/kelvin",
    "kJ/kg/K": "kilojoule/kilogram/kelvin",
    "Btu/lb/F": "international_british_thermal_unit/pound/delta_degree_Fahrenheit",
    "kg/J": "kilogram/joule",
    "g/kWh": "gram/kilowatt/hour",
    "lb/hp/h": "pound/horsepower/hour",
    "ft3/h": "foot**3/hour",
    "m3/h": "meter**3/hour",
    "/gal": "1/us_gallon",
    "/ft3": "1/foot**3",
    "/L": "1/liter",
    "/m3": "1/meter**3",
    "1/s": "1/second",
    "1/min": "1/minute",
    "1/h": "1/hour",
    "%": "percent",
    "": "dimensionless",
}
"""Every unit of the tool in the words of pint."""

_OWN_DEFINITIONS = (
    "us_gallon = 231 * inch**3",
    "us_quart = us_gallon / 4",
    "us_gallon_per_minute = us_gallon / minute",
    "us_ton_force = 2000 * force_pound",
)

_HEAD = '''"""Scale of each unit to the SI unit of its kind, in exact fractions.

Written by ``python -m tests.unit_scales`` from the definitions that pint holds.
"""

SCALES: dict[str, dict[str, str]] = {
'''


def written() -> str:
    """The table as it should stand."""
    registry = pint.UnitRegistry(non_int_type=Fraction)
    for definition in _OWN_DEFINITIONS:
        registry.define(definition)
    scales: dict[str, dict[str, Fraction]] = {}
    for kind in KINDS.values():
        for unit in kind.units:
            one = registry.Quantity(Fraction(1), _DEFINITIONS[unit])
            scale = Fraction(one.to(_DEFINITIONS[kind.si_unit]).magnitude)
            scales.setdefault(kind.si_unit, {})[unit] = scale
    lines = [_HEAD]
    for si_unit, units in scales.items():
        lines.append(f'    "{si_unit}": {{\n')
        lines.extend(f'        "{unit}": "{scale}",\n' for unit, scale in units.items())
        lines.append("    },\n")
    return "".join([*lines, "}\n"])


if __name__ == "__main__":
    TABLE.write_text(written(), encoding="utf-8")
