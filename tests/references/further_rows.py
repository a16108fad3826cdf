"""Check rows that call several formulas in a row, and tables that follow from one formula."""

from __future__ import annotations

import math
from collections.abc import Callable

from optimise.physics import cylinder, engine, lines, pump, strength
from optimise.study.entries import ISO_GRADES
from tests.references.check import COMPUTED, PRINTED, Check, Label
from tests.references.units import (
    FOOT,
    GPM,
    HORSEPOWER,
    INCH,
    INCH_OF_MERCURY,
    KSI,
    LBF,
    LPM,
    MILLIMETRE,
    PSI,
    RPM,
    fahrenheit,
)

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "
NEVER_YIELDS = 1e15

Compute = Callable[[], float]
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


def _power(flow: float, pressure: float, efficiency: float = 1.0) -> float:
    """Shaft power, W, of a pump without leakage: displacement for the flow, torque, speed."""
    speed = 1800 * RPM
    displacement = flow / float(pump.ideal_flow(1.0, speed))
    friction = 1.0 / efficiency - 1.0
    return float(pump.pressure_torque(displacement, pressure, friction)) * speed


def _hp(flow: float, pressure: float, efficiency: float = 1.0) -> float:
    return _power(flow * GPM, pressure * PSI, efficiency) / HORSEPOWER


def _torque(power: float, speed: float) -> float:
    """Torque, N m, of a pump that takes a power [W] at a speed [rad/s], whatever its size."""
    displacement, pressure = 20e-6, 0.0
    pressure = power / float(pump.ideal_flow(displacement, speed))
    return float(pump.pressure_torque(displacement, pressure, 0.0))


PUMP: tuple[Check, ...] = (
    *_rows(
        "pages of engineering formulas on pump power, hp = gpm psi/1714",
        "published",
        PRINTED,
        ("H32", "20 gpm at 1500 psi", 17.5, 0.05, "hp", lambda: _hp(20, 1500)),
        (
            "S56", "10 gpm at 2000 psi (printed with 1714)", 11.669, 0.003, "hp",
            lambda: _hp(10, 2000),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 8-2, 8-3 p299",
        "published",
        PRINTED,
        ("H33-relief", "20 gpm over the relief at 1000 psi", 11.7, 0.05, "hp",
         lambda: _hp(20, 1000)),
        ("H33-unloaded", "20 gpm unloaded at 25 psi", 0.29, 0.005, "hp", lambda: _hp(20, 25)),
    ),
    *_rows(
        ESPOSITO + "Ex 5-5 p178",
        "published",
        PRINTED,
        ("H34", "20 gpm less 0.7 gpm, at 1200 psi", 13.5, 0.05, "hp",
         lambda: _hp(20, 1200) - _hp(0.7, 1200)),
    ),
    *_rows(
        "page on open-centre circuits (20 gpm, relief at 2500 psi, 9 gpm to a load at 1300 psi,"
        " 11 gpm over the relief), worked by hand",
        "computed",
        "half a digit, and 0.02 % for the source's 1714",
        ("H35-in", "hydraulic power of the pump", 29.17, 0.01, "hp", lambda: _hp(20, 2500)),
        ("H35-useful", "power at the load", 6.83, 0.005, "hp", lambda: _hp(9, 1300)),
        ("H35-heat", "power that becomes heat", 22.35, 0.009, "hp",
         lambda: _hp(20, 2500) - _hp(9, 1300)),
        ("H35-share", "useful share", 23.4, 0.05, "%",
         lambda: 100 * _hp(9, 1300) / _hp(20, 2500)),
    ),
    *_rows(
        ESPOSITO + "Ex 3-2, 3-16",
        "published",
        PRINTED,
        ("H36-lb-in", "2 hp at 1800 rpm", 70, 0.5, "lb in",
         lambda: _torque(2 * HORSEPOWER, 1800 * RPM) / (LBF * INCH)),
        ("H36-Nm", "10 kW at 1450 rpm", 65.9, 0.05, "N m", lambda: _torque(10e3, 1450 * RPM)),
    ),
    *_rows(
        ESPOSITO + "Ex 3-15",
        "published",
        "the book's constant 0.0000167 is 0.2 % above 1/60000",
        ("H36-kW", "50 L/min at 10 MPa", 8.35, 0.02, "kW", lambda: _power(50 * LPM, 10e6) / 1e3),
    ),
    *_rows(
        "trade article on engine drive of pumps",
        "published",
        "half a unit of the last printed digit, which the source cuts off",
        ("H38", "20 hp at 1800 rpm", 58, 0.5, "lb ft",
         lambda: _torque(20 * HORSEPOWER, 1800 * RPM) / (LBF * FOOT)),
    ),
    *_rows(
        "hp = gpm psi/1714, worked by hand",
        "computed",
        COMPUTED,
        ("H38-peak", "torque of 20 hp at 3600 rpm", 29.18, 0.005, "lb ft",
         lambda: _torque(20 * HORSEPOWER, 3600 * RPM) / (LBF * FOOT)),
        ("H38-exact", "torque of 20 hp at 1800 rpm", 58.36, 0.005, "lb ft",
         lambda: _torque(20 * HORSEPOWER, 1800 * RPM) / (LBF * FOOT)),
        ("H39", "efficiency at which 1 hp drives 1 gpm at 1500 psi", 0.875, 0.0005, "-",
         lambda: _hp(1, 1500)),
        *(
            (f"S57-{pressure}", f"gpm per hp at {pressure} psi, efficiency 0.85", flow, 0.0005,
             "gpm", lambda p=pressure: 1.0 / _hp(1, p, 0.85))
            for pressure, flow in ((3000, 0.486), (2500, 0.583), (1500, 0.971))
        ),
        *(
            (f"S57-11gpm-{pressure}", f"11 gpm at {pressure} psi, efficiency 0.85", power, 0.005,
             "hp", lambda p=pressure: _hp(11, p, 0.85))
            for pressure, power in ((600, 4.53), (3000, 22.65))
        ),
    ),
)  # fmt: skip


def _rod_of(cap: float, annulus: float) -> tuple[float, float]:
    """Bore and rod with such areas."""
    return math.sqrt(4.0 * cap / math.pi), math.sqrt(4.0 * (cap - annulus) / math.pi)


# bore and rods, in: cap area over annulus area
_INCH_RATIOS = {
    2.0: {1.0: 1.33, 1.125: 1.46, 1.25: 1.64},
    2.5: {1.25: 1.33, 1.5: 1.56, 1.75: 1.96},
    3.0: {1.5: 1.33, 1.75: 1.52},
    3.5: {1.75: 1.33, 2.0: 1.48},
    4.0: {1.75: 1.24, 2.0: 1.33, 2.5: 1.64},
    4.5: {2.0: 1.25, 2.25: 1.33},
    5.0: {2.0: 1.19, 2.5: 1.33, 3.0: 1.56},
    6.0: {2.5: 1.21, 3.0: 1.33},
}

CYLINDER: tuple[Check, ...] = (
    *_rows(
        ESPOSITO + "Ex 11-1 p409",
        "published",
        PRINTED,
        ("H21", "500 psi through an intensifier of 5:1", 2500, 0.5, "psi",
         lambda: cylinder.intensified_pressure(500.0, *_rod_of(5.0, 1.0))),
        ("H21-flow", "20 gpm through it", 4, 0.05, "gpm",
         lambda: 20.0 / cylinder.area_ratio(*_rod_of(5.0, 1.0))),
    ),
    *_rows(
        ESPOSITO + "Ex 3-6 p91",
        "published",
        PRINTED,
        ("H22", "100 psi air on 20 in2 over 1 in2 of oil", 2000, 0.5, "psi",
         lambda: cylinder.intensified_pressure(100.0, *_rod_of(20.0, 1.0))),
        ("H22-force", "that oil on 25 in2", 50_000, 0.5, "lbf",
         lambda: cylinder.cap_area(_rod_of(25.0, 1.0)[0])
         * cylinder.intensified_pressure(100.0, *_rod_of(20.0, 1.0))),
    ),
    *_rows(
        "D2/(D2 - d2), worked by hand",
        "computed",
        COMPUTED,
        *(
            (f"H128-{bore:g}x{rod:g}", f"area ratio, {bore:g} in bore, {rod:g} in rod", ratio,
             0.005, "-", lambda b=bore, r=rod: cylinder.area_ratio(b, r))
            for bore, rods in _INCH_RATIOS.items()
            for rod, ratio in rods.items()
        ),
    ),
)  # fmt: skip

_BORES = (0.622, 0.824, 1.049, 1.380, 1.610, 2.067)
_CRANE = {
    ("H77", "90 deg threaded elbow, 30 fT", 30): (0.767, 0.710, 0.668, 0.623, 0.600, 0.565),
    ("H78", "45 deg elbow, 16 fT", 16): (0.409, 0.379, 0.356, 0.332, 0.320, 0.302),
    ("H79-branch", "tee through the branch, 60 fT", 60): (
        1.534, 1.421, 1.335, 1.246, 1.200, 1.131,
    ),
    ("H79-run", "tee through the run, 20 fT", 20): (0.511, 0.474, 0.445, 0.415, 0.400, 0.377),
}  # fmt: skip

_ONE_INCH = {
    ("return", "close return bend", 50): (1.11, 0.005),
    ("swing", "swing check valve", 100): (2.23, 0.005),
    ("lift", "lift check valve", 600): (13.4, 0.05),
    ("gate", "gate valve", 8): (0.178, 0.0005),
    ("ball", "ball valve", 3): (0.067, 0.0005),
    ("globe", "globe valve", 340): (7.57, 0.005),
}

LINES: tuple[Check, ...] = tuple(
    _rows(
        "Crane TP-410 as coded in a reference library: K = n fT at 0.0018 in roughness, 1.049 in",
        "published",
        "half a digit, and Haaland within 2 % of the source's Colebrook",
        *(
            (f"H80-{name}", f"{what}, {count} fT", value, digit + 0.02 * value, "-",
             lambda n=count: n * float(lines.turbulent_factor(1e12, 0.0018 / 1.049)))
            for (name, what, count), (value, digit) in _ONE_INCH.items()
        ),
    )
    + _rows(
        "Crane TP-410 as coded in a reference library: K = n fT at 0.0018 in roughness",
        "published",
        "half a digit, and Haaland within 2 % of the source's Colebrook",
        *(
            (
                f"{name}-{bore}", f"{what}, {bore} in", value, 0.0005 + 0.02 * value, "-",
                lambda b=bore, n=count: n * float(lines.turbulent_factor(1e12, 0.0018 / b)),
            )
            for (name, what, count), line in _CRANE.items()
            for bore, value in zip(_BORES, line, strict=True)
        ),
    )
)  # fmt: skip

ENGINE: tuple[Check, ...] = (
    *_rows(
        "3600/(consumption times heating value), worked by hand",
        "computed",
        COMPUTED,
        ("S55-efficiency", "efficiency at 400 g/kWh and 44 MJ/kg", 20.45, 0.005, "%",
         lambda: 100.0 / (44e6 * engine.fuel_mass_flow(1.0, 0.4 / 3.6e6))),
    ),
    *_rows(
        "text on farm machinery: about 3 % a 1000 ft; 225 hp at 4500 ft worked by hand",
        "computed",
        "the rule has one digit: 2.5 to 3.5 % a 1000 ft",
        ("S48-altitude", "power left, counted from sea level", 194.6, 5.1, "hp",
         lambda: 225.0 * engine.altitude_factor(4500 * FOOT)),
    ),
    *_rows(
        "study of standards for engine power (SAE J607 against J1349)",
        "published",
        "the source says about 4 %",
        ("S44", "power in the air of J607 (60 degF, 29.92 inHg dry) over that of J1349", 1.04,
         0.01, "-",
         lambda: 1.0 / engine.sae_j1349_factor(29.92 * INCH_OF_MERCURY, fahrenheit(60.0))),
    ),
    *_rows(
        "standard atmosphere less the vacuum, worked by hand",
        "computed",
        COMPUTED,
        *(
            (f"H89-{vacuum}", f"{vacuum} inHg of vacuum at sea level", absolute, 0.05, "kPa",
             lambda v=vacuum: (engine.standard_pressure(0.0) - v * INCH_OF_MERCURY) / 1e3)
            for vacuum, absolute in ((3, 91.2), (5, 84.4), (10, 67.5))
        ),
        ("H01-atm-inHg", "pressure at sea level", 29.92, 0.005, "inHg",
         lambda: engine.standard_pressure(0.0) / INCH_OF_MERCURY),
        ("H01-atm-psi", "pressure at sea level", 14.696, 5e-4, "psi",
         lambda: engine.standard_pressure(0.0) / PSI),
    ),
)  # fmt: skip


def _hollow(outer: float, inner: float, length: float, modulus: float) -> float:
    """Pinned tube, N, as the stepped column takes a barrel: stiffness over that of a rod."""
    ratio = (outer**4 - inner**4) / outer**4
    solid = strength.critical_load(outer, length, 1.0, modulus, NEVER_YIELDS)
    return float(strength.stepped_column_factor(ratio, 1.0) * solid)


def _pound(diameter: float, length: float, sy_ksi: float) -> float:
    load = strength.critical_load(diameter * INCH, length * INCH, 1.0, 30e3 * KSI, sy_ksi * KSI)
    return float(load) / LBF


STRENGTH: tuple[Check, ...] = (
    *_rows(
        "Hibbeler, Mechanics of Materials, Ex 13.1 (tube of 75 and 70 mm radius, 7.2 m, 200 GPa)",
        "published",
        PRINTED,
        ("S12", "critical load", 228.2, 0.05, "kN",
         lambda: _hollow(0.150, 0.140, 7.2, 200e9) / 1e3),
        ("S12-stress", "its stress", 100.2, 0.05, "MPa",
         lambda: _hollow(0.150, 0.140, 7.2, 200e9)
         / cylinder.annulus_area(0.150, 0.140) / 1e6),
    ),
    *_rows(
        "problem of a 2 in cylinder at 1500 psi, factor 2.5, 37.5 ksi: recalled; worked by hand",
        "computed",
        "rounding of the diameter, four times in the load",
        ("S15-50", "1.193 in over 50 in carries", 11_781, 22.0, "lbf",
         lambda: _pound(1.193, 50.0, 37.5)),
        ("S15-16", "0.728 in over 16 in carries", 11_781, 40.0, "lbf",
         lambda: _pound(0.728, 16.0, 37.5)),
        ("S15-stout", "factor of 0.75 in over 16 in (about 2.7)", 2.7, 0.05, "-",
         lambda: _pound(0.75, 16.0, 37.5) / (1500.0 * math.pi)),
        ("S15-factor", "factor of 1.25 in over 50 in", 3.01, 0.005, "-",
         lambda: _pound(1.25, 50.0, 37.5) / (1500.0 * math.pi)),
    ),
    *_rows(
        "general page of engineering formulas on columns (50 mm, 2 m, 205 GPa)",
        "published",
        PRINTED,
        ("S13-Euler", "critical load over 5, by the stepped column of one piece", 31.04, 0.005,
         "kN",
         lambda: strength.stepped_column_factor(1.0, 0.5)
         * strength.critical_load(50 * MILLIMETRE, 2.0, 1.0, 205e9, NEVER_YIELDS) / 5e3),
    ),
)  # fmt: skip

OIL: tuple[Check, ...] = tuple(
    _rows(
        "ISO 3448, as listed on pages of the trade",
        "standard",
        "the number itself",
        *(
            (f"H91-{grade}", f"midpoint of ISO VG {grade} at 40 degC", grade, 1e-9, "mm2/s",
             lambda g=grade: ISO_GRADES[g])
            for grade in (10, 15, 22, 32, 46, 68, 100, 150, 220)
        ),
    )
)  # fmt: skip
