"""Check rows: units at the edges, by definition or as books print them."""

from __future__ import annotations

from collections.abc import Callable

from optimise.units import parse
from tests.references.check import COMPUTED, PRINTED, Check, Label

Compute = Callable[[], float]
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


def _hp(torque: str, speed: str) -> float:
    return parse(torque, "torque") * parse(speed, "rotation") / parse("1 hp", "power")


ROWS: tuple[Check, ...] = (
    *_rows(
        "definitions of the units, worked by hand",
        "computed",
        PRINTED,
        ("H01-gal", "1 gal", 3.785411784, 5e-10, "L", lambda: 1e3 * parse("1 gal", "volume")),
        ("H01-in3", "231 in3", 3.785411784, 5e-10, "L", lambda: 1e3 * parse("231 in3", "volume")),
        ("H01-gpm", "1 gpm", 6.30902e-5, 5e-11, "m3/s", lambda: parse("1 gpm", "flow")),
        ("H01-psi", "1 psi", 6894.757, 5e-4, "Pa", lambda: parse("1 psi", "pressure")),
        ("H01-hp", "1 hp", 745.70, 5e-3, "W", lambda: parse("1 hp", "power")),
        ("H01-inHg", "1 inHg", 3.38639, 5e-6, "kPa", lambda: parse("1 inHg", "pressure") / 1e3),
        (
            "H01-Btu", "1 hp", 2544.4, 0.05, "Btu/h",
            lambda: parse("1 hp", "power") / parse("1 Btu/h", "power"),
        ),
        (
            "H01-hp-gpm-psi", "gpm psi in a hp", 1714.286, 5e-4, "-",
            lambda: parse("1 hp", "power") / parse("1 gpm", "flow") / parse("1 psi", "pressure"),
        ),
        (
            "H01-lb-in", "lb in of 1 hp at 1 rpm", 63025.4, 0.05, "lb in",
            lambda: 1.0 / _hp("1 lb in", "1 rpm"),
        ),
        (
            "H01-lb-ft", "lb ft of 1 hp at 1 rpm", 5252.11, 0.005, "lb ft",
            lambda: 1.0 / _hp("1 lb ft", "1 rpm"),
        ),
        (
            "H01-Nm", "N m of 1 kW at 1 rpm", 9549.3, 0.05, "N m",
            lambda: 1e3 / (parse("1 N m", "torque") * parse("1 rpm", "rotation")),
        ),
        (
            "S40-kW", "18.5 N m at 3600 rpm", 6.974, 0.0005, "kW",
            lambda: parse("18.5 N m", "torque") * parse("3600 rpm", "rotation") / 1e3,
        ),
        (
            "S40-hp", "18.5 N m at 3600 rpm", 9.353, 0.0005, "hp",
            lambda: _hp("18.5 N m", "3600 rpm"),
        ),
        (
            "S40-lb-ft", "10 lb ft at 3600 rpm", 6.854, 0.0005, "hp",
            lambda: _hp("10 lb ft", "3600 rpm"),
        ),
        (
            "H01-ft3", "gpm of 1 ft3/s", 448.83, 0.005, "gpm",
            lambda: parse("1 ft3", "volume") / parse("1 gpm", "flow"),
        ),
        (
            "H89-psi", "4 psi", 8.14, 0.005, "inHg",
            lambda: parse("4 psi", "pressure") / parse("1 inHg", "pressure"),
        ),
        (
            "H104-GPa", "250 000 psi", 1.72, 0.005, "GPa",
            lambda: parse("250000 psi", "modulus") / 1e9,
        ),
        (
            "H101-K", "0.00046 per degF", 0.00083, 5e-6, "1/K",
            lambda: 0.00046 / parse("1 degF", "temperature_difference"),
        ),
        (
            "H102-kJ", "0.42 Btu/lb/F (the book rounds 1.758 up)", 1.76, 0.005, "kJ/kg/K",
            lambda: parse("0.42 Btu/lb/F", "specific_heat") / 1e3,
        ),
        (
            "H121-180", "180 degF", 82.2, 0.05, "degC",
            lambda: parse("180 degF", "temperature") - 273.15,
        ),
        (
            "H121-200", "200 degF", 93.3, 0.05, "degC",
            lambda: parse("200 degF", "temperature") - 273.15,
        ),
        (
            "S74", "85 ft3 of solid wood in a cord", 2.407, 5e-4, "m3",
            lambda: parse("85 ft3", "volume"),
        ),
        (
            "S74-share", "85 ft3 of the 128 ft3 of a cord", 66.4, 0.05, "%",
            lambda: 100 * parse("85 ft3", "wood_volume") / parse("128 ft3", "wood_volume"),
        ),
        (
            "S70-lbf", "639 psi over 12 in by 16 in", 122_688, 0.5, "lbf",
            lambda: parse("639 psi", "pressure") * parse("192 in2", "area")
            / parse("1 lbf", "force"),
        ),
        (
            "S70-ton", "122 688 lbf", 61.3, 0.05, "tonf",
            lambda: parse("122688 lbf", "force") / parse("1 tonf", "force"),
        ),
        (
            "S60-N-mm", "380 lbf in each inch", 66.5, 0.05, "N/mm",
            lambda: parse("380 lbf", "force") / parse("1 in", "length") / 1e3,
        ),
        *(
            (
                f"S64-{mega}", f"{mega} MPa of tension across the grain", psi, 0.5, "psi",
                lambda m=mega: parse(f"{m} MPa", "pressure") / parse("1 psi", "pressure"),
            )
            for mega, psi in ((6.5, 943), (5.5, 798), (7.0, 1015))
        ),
        ("S70-kN", "4560 lbf", 20.3, 0.05, "kN", lambda: parse("4560 lbf", "force") / 1e3),
        (
            "S58-kPa", "639 psi", 4406, 0.5, "kPa",
            lambda: parse("639 psi", "pressure") / 1e3,
        ),
    ),
    *_rows(
        "Ganesan, IC Engines, Ex 17.3",
        "published",
        PRINTED,
        (
            "S41", "8 N m at 1800 rpm", 1.50796, 5e-6, "kW",
            lambda: parse("8 N m", "torque") * parse("1800 rpm", "rotation") / 1e3,
        ),
    ),
    *_rows(
        "general encyclopedia on brake-specific fuel consumption, 1 lb/hp/h in g/kWh",
        "published",
        PRINTED,
        (
            "S55-unit", "1 lb/hp/h", 608.277, 5e-4, "g/kWh",
            lambda: parse("1 lb/hp/h", "fuel_consumption") * 3.6e9,
        ),
    ),
    *_rows(
        "any extension page on firewood: a cord is 128 ft3",
        "published",
        PRINTED,
        ("S73", "128 ft3", 3.6246, 5e-5, "m3", lambda: parse("128 ft3", "volume")),
    ),
    *_rows(
        "page of thermal formulas of a fluid power trade: 2.0 Btu/(h ft2 F) of a tank's wall",
        "published",
        PRINTED,
        (
            "H116", "2.0 Btu/h/ft2/F", 11.36, 0.005, "W/m2/K",
            lambda: parse("2.0 Btu/h/ft2/F", "heat_coefficient"),
        ),
    ),
    *_rows(
        "definition of the hp and the foot; the rule of 0.001 hp/(ft2 F) recalled",
        "computed",
        COMPUTED,
        (
            "H116-rule", "2.545 Btu/h/ft2/F", 14.4, 0.06, "W/m2/K",
            lambda: parse("2.545 Btu/h/ft2/F", "heat_coefficient"),
        ),
    ),
)  # fmt: skip
