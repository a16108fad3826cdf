"""Check rows: valve, strainer, orifice."""

from __future__ import annotations

import math

from optimise.physics import cylinder, lines, valves
from tests.references.check import COMPUTED, PRINTED, Check
from tests.references.units import BAR, GPM, INCH, LBF, LPM, PSI, WATER_60F

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "


def _capacity(flow: float, drop: float, gravity: float) -> float:
    """Flow of water, m3/s, at 1 Pa."""
    coefficient = valves.square_drop_coefficient(flow, drop, 1.0, gravity)
    return math.sqrt(1.0 / float(coefficient))


def _meter_in_flow() -> float:
    load_pressure = 4000 * LBF / cylinder.cap_area(2 * INCH)
    return float(valves.flow_at_drop(1.0 * GPM, 0.9 * PSI, 1400 * PSI - load_pressure))


ROWS: tuple[Check, ...] = (
    Check(
        "H67",
        "sharp orifice of 1 in, discharge coefficient 0.80, 100 psi, SG 0.9 (K = 1/C2)",
        ESPOSITO + "Ex 8-4 p302",
        252,
        1.0,
        "gpm",
        lambda: (
            math.sqrt(
                100
                * PSI
                / float(lines.minor_square_coefficient(0.8**-2, 1 * INCH, 0.9 * WATER_60F))
            )
            / GPM
        ),
        "published",
        "the book's constant 38.1 is rounded (0.3 %)",
    ),
    Check(
        "H68-us",
        "capacity of a valve that takes 25 gpm at 100 psi, SG 0.9",
        ESPOSITO + "Ex 8-5 p304",
        2.37,
        0.005,
        "gpm/sqrt(psi)",
        lambda: _capacity(25 * GPM, 100 * PSI, 0.9) * math.sqrt(PSI) / GPM,
        "published",
        PRINTED,
    ),
    Check(
        "H68-si",
        "the same, 94.8 L/min at 687 kPa",
        ESPOSITO + "Ex 8-5 p304",
        3.43,
        0.005,
        "L/min/sqrt(kPa)",
        lambda: _capacity(94.8 * LPM, 687e3, 0.9) * math.sqrt(1e3) / LPM,
        "published",
        PRINTED,
    ),
    Check(
        "H69-flow",
        "meter-in valve of capacity 1.0, 1400 psi relief, 4000 lb on a 2 in bore, SG 0.9",
        ESPOSITO + "Ex 9-4 p347, flow worked by hand with an area of 3.14 in2",
        11.838,
        0.031,
        "gpm",
        lambda: _meter_in_flow() / GPM,
        "computed",
        "0.05 % of the area is ten times that in the small drop left to the valve",
    ),
    Check(
        "H69-speed",
        "speed of that cylinder",
        ESPOSITO + "Ex 9-4 p347",
        14.5,
        0.05,
        "in/s",
        lambda: _meter_in_flow() / cylinder.cap_area(2 * INCH) / INCH,
        "published",
        PRINTED,
    ),
    Check(
        "H70",
        "strainer of capacity 8 at 16 gpm",
        "worked example in a public calculation sheet for hydraulics",
        4.0,
        0.05,
        "psi",
        lambda: (
            float(valves.square_drop_coefficient(8 * GPM, 1 * PSI, 1.0, 1.0))
            * (16 * GPM) ** 2
            / PSI
        ),
        "published",
        PRINTED,
    ),
    Check(
        "H141-20",
        "40 L/min at 10 bar: flow at 20 bar",
        "square law worked by hand",
        56.6,
        0.05,
        "L/min",
        lambda: float(valves.flow_at_drop(40 * LPM, 10 * BAR, 20 * BAR)) / LPM,
        "computed",
        COMPUTED,
    ),
    Check(
        "H141-70",
        "40 L/min at 10 bar: flow at 70 bar",
        "square law worked by hand",
        105.8,
        0.05,
        "L/min",
        lambda: float(valves.flow_at_drop(40 * LPM, 10 * BAR, 70 * BAR)) / LPM,
        "computed",
        COMPUTED,
    ),
)
