"""Check rows: displacement, efficiencies, torque, slip."""

from __future__ import annotations

import math
from collections.abc import Callable

from optimise.physics import pump
from tests.references.check import COMPUTED, PRINTED, Check
from tests.references.units import (
    BAR,
    FOOT,
    GPM,
    HORSEPOWER,
    INCH,
    LBF,
    LPM,
    MILLIMETRE,
    PSI,
    RPM,
)

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "
CUBIC_INCH = INCH**3
VISCOSITY = 0.03  # Pa s; cancels where the rated point itself is computed


def _gears(outer: float, inner: float, width: float) -> float:
    return math.pi / 4.0 * (outer**2 - inner**2) * width


def _chain(mechanical: float = 0.85) -> tuple[float, float]:
    """Flow and shaft torque of the rated point of H30 through the coefficients."""
    displacement, speed, pressure = 1.5 * CUBIC_INCH, 1800 * RPM, 3000 * PSI
    slip = pump.slip_coefficient(0.90, pressure, speed, VISCOSITY)
    viscous, coulomb = pump.torque_loss_coefficients(mechanical, pressure, speed, VISCOSITY, 0.4)
    flow = pump.delivered_flow(displacement, speed, pressure, VISCOSITY, slip)
    torque = pump.pressure_torque(displacement, pressure, coulomb) + (
        speed * pump.viscous_torque_per_speed(displacement, VISCOSITY, viscous)
    )
    return float(flow), float(torque)


def _worn(pressure: float) -> float:
    """Slip of H31, m3/s, at a pressure in psi."""
    displacement = 11.69 * GPM / (1500 / 60)
    slip = pump.slip_coefficient(10.0 / 11.69, 3000 * PSI, 1500 * RPM, VISCOSITY)
    return float(pump.slip_flow(displacement, pressure * PSI, VISCOSITY, slip))


def _two_stage_flow(cubic_inches: float) -> float:
    slip = pump.slip_coefficient(0.92, 3000 * PSI, 3600 * RPM, VISCOSITY)
    flow = pump.delivered_flow(cubic_inches * CUBIC_INCH, 3600 * RPM, 3000 * PSI, VISCOSITY, slip)
    return float(flow) / GPM


def _two_stage_power(cubic_inches: float, pressure: float) -> float:
    _, coulomb = pump.torque_loss_coefficients(0.90, 1.0, 1.0, 1.0, 0.0)
    torque = pump.pressure_torque(cubic_inches * CUBIC_INCH, pressure * PSI, coulomb)
    return float(torque) * 3600 * RPM / HORSEPOWER


def _break_even(dump_pressure: float) -> float:
    """Shift pressure, psi, at which both sections take the torque that the small one takes at
    3000 psi with the large one dumping."""
    small = pump.pressure_torque(0.2, 3000.0, 0.0) + pump.pressure_torque(0.5, dump_pressure, 0.0)
    return float(small) / float(pump.pressure_torque(0.7, 1.0, 0.0))


def _wilson_rows() -> list[Check]:
    """Volumetric, mechanical and overall efficiency by viscosity in mPa s."""
    table = {
        10: (0.643, 0.9695, 0.624),
        20: (0.822, 0.957, 0.786),
        30: (0.881, 0.945, 0.833),
        60: (0.941, 0.910, 0.856),
    }

    def efficiencies(milli: int) -> tuple[float, float, float]:
        pressure, speed, viscosity = 14e6, 1800 * RPM, milli * 1e-3
        volumetric = pump.volumetric_efficiency(pressure, speed, viscosity, 0.48e-7)
        mechanical = pump.mechanical_efficiency(pressure, speed, viscosity, 1.0e5, 0.018)
        return float(volumetric), float(mechanical), float(volumetric * mechanical)

    return [
        Check(
            f"H50-{milli}{suffix}",
            f"gear pump at 14 MPa, 1800 rpm, {milli} mPa s: {name} efficiency",
            "Wilson's equations with the classic coefficients (recalled), worked by hand",
            expected,
            0.0005,
            "-",
            lambda m=milli, p=place: efficiencies(m)[p],
            "computed",
            COMPUTED,
        )
        for milli, line in table.items()
        for place, (suffix, name, expected) in enumerate(
            zip(("", "-mechanical", "-overall"), ("volumetric", "mechanical", "overall"), line,
                strict=True)
        )
    ]  # fmt: skip


def _rows(
    source: str, *cases: tuple[str, str, float, float, str, Callable[[], float]]
) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], "computed", COMPUTED) for case in cases]


_CHAIN = "student exercise on a learning page (1.5 in3, 1800 rpm, 3000 psi), worked by hand"
_WORN = "student exercise on a learning page (11.69 gpm ideal, 10.0 measured), worked by hand"
_STAGES = "0.5 + 0.2 in3 at 3600 rpm, 0.92 volumetric, 0.90 mechanical, worked by hand"

ROWS: tuple[Check, ...] = (
    Check(
        "H26",
        "gear pump 3 x 2 x 1 in at 1800 rpm gives 28 gpm: volumetric efficiency",
        ESPOSITO + "Ex 5-1 p167",
        91.5,
        0.05,
        "%",
        lambda: 100 * 28 * GPM / pump.ideal_flow(_gears(3, 2, 1) * CUBIC_INCH, 1800 * RPM),
        "published",
        PRINTED,
    ),
    Check(
        "H26-ideal",
        "its ideal flow",
        ESPOSITO + "Ex 5-1, worked by hand",
        30.600,
        0.0005,
        "gpm",
        lambda: pump.ideal_flow(_gears(3, 2, 1) * CUBIC_INCH, 1800 * RPM) / GPM,
        "computed",
        COMPUTED,
    ),
    Check(
        "H27",
        "gear pump 75 x 50 x 25 mm at 1000 rpm, volumetric efficiency 90 %",
        ESPOSITO + "Ex 5-2 p167",
        55.3,
        0.1,
        "L/min",
        lambda: 0.9 * pump.ideal_flow(_gears(75, 50, 25) * MILLIMETRE**3, 1000 * RPM) / LPM,
        "published",
        "the book rounds the displacement up",
    ),
    Check(
        "H28-overall",
        "5 in3, 20 gpm, 1000 rpm, 1000 psi, 900 lb in: overall efficiency",
        ESPOSITO + "Ex 5-8 p190",
        81.6,
        0.15,
        "%",
        lambda: (
            100
            * (20 * GPM / pump.ideal_flow(5 * CUBIC_INCH, 1000 * RPM))
            * (pump.pressure_torque(5 * CUBIC_INCH, 1000 * PSI, 0.0) / (900 * LBF * INCH))
        ),
        "published",
        "the book rounds the ideal flow to 21.6 gpm",
    ),
    Check(
        "H28-torque",
        "its ideal torque",
        ESPOSITO + "Ex 5-8 p190",
        793,
        3.0,
        "lb in",
        lambda: pump.pressure_torque(5 * CUBIC_INCH, 1000 * PSI, 0.0) / (LBF * INCH),
        "published",
        "the book rounds the ideal flow to 21.6 gpm and takes 63000 for 63025",
    ),
    Check(
        "H28-volumetric",
        "its volumetric efficiency",
        ESPOSITO + "Ex 5-8, worked by hand",
        92.40,
        0.005,
        "%",
        lambda: 100 * 20 * GPM / pump.ideal_flow(5 * CUBIC_INCH, 1000 * RPM),
        "computed",
        COMPUTED,
    ),
    Check(
        "H28-mechanical",
        "its mechanical efficiency",
        ESPOSITO + "Ex 5-8, worked by hand",
        88.42,
        0.005,
        "%",
        lambda: 100 * pump.pressure_torque(5 * CUBIC_INCH, 1000 * PSI, 0.0) / (900 * LBF * INCH),
        "computed",
        COMPUTED,
    ),
    Check(
        "H29-overall",
        "100 cm3, 0.0015 m3/s, 1000 rpm, 70 bar, 120 N m: overall efficiency",
        ESPOSITO + "Ex 5-9 p201",
        83.5,
        0.1,
        "%",
        lambda: (
            100
            * (0.0015 / pump.ideal_flow(100e-6, 1000 * RPM))
            * (pump.pressure_torque(100e-6, 70 * BAR, 0.0) / 120.0)
        ),
        "published",
        "rounded early (0.9 x 0.928)",
    ),
    Check(
        "H29-torque",
        "its ideal torque",
        ESPOSITO + "Ex 5-9 p201",
        112,
        0.6,
        "N m",
        lambda: pump.pressure_torque(100e-6, 70 * BAR, 0.0),
        "published",
        "rounded up to a whole number",
    ),
    *_rows(
        ESPOSITO + "Ex 5-9, worked by hand",
        (
            "H29-volumetric", "its volumetric efficiency", 90.00, 0.005, "%",
            lambda: 100 * 0.0015 / pump.ideal_flow(100e-6, 1000 * RPM),
        ),
        (
            "H29-mechanical", "its mechanical efficiency", 92.84, 0.005, "%",
            lambda: 100 * pump.pressure_torque(100e-6, 70 * BAR, 0.0) / 120.0,
        ),
        (
            "H29-ideal", "its ideal torque", 111.41, 0.005, "N m",
            lambda: pump.pressure_torque(100e-6, 70 * BAR, 0.0),
        ),
    ),
    *_rows(
        _CHAIN,
        ("H30-flow", "delivered flow, 0.90", 10.519, 0.0005, "gpm", lambda: _chain()[0] / GPM),
        (
            "H30-power", "hydraulic power", 18.41, 0.005, "hp",
            lambda: _chain()[0] * 3000 * PSI / HORSEPOWER,
        ),
        (
            "H30-torque", "shaft torque, 0.85", 70.2, 0.05, "lb ft",
            lambda: _chain()[1] / (LBF * FOOT),
        ),
        (
            "H30-shaft", "shaft power", 24.06, 0.005, "hp",
            lambda: _chain()[1] * 1800 * RPM / HORSEPOWER,
        ),
        (
            "H30-overall", "overall efficiency", 76.5, 0.05, "%",
            lambda: 100 * _chain()[0] * 3000 * PSI / (_chain()[1] * 1800 * RPM),
        ),
    ),
    *_rows(
        _WORN,
        (
            "H31-displacement", "ideal flow of 1.8003 in3 at 1500 rpm", 11.69, 0.0005, "gpm",
            lambda: pump.ideal_flow(1.8003 * CUBIC_INCH, 1500 * RPM) / GPM,
        ),
        (
            "H31-measured", "volumetric efficiency at 3000 psi", 85.54, 0.005, "%",
            lambda: 100 * (1 - _worn(3000) / (11.69 * GPM)),
        ),
        ("H31-slip", "slip at 3000 psi", 1.69, 0.005, "gpm", lambda: _worn(3000) / GPM),
        ("H31-5000", "slip at 5000 psi", 2.817, 0.0005, "gpm", lambda: _worn(5000) / GPM),
        (
            "H31-efficiency", "volumetric efficiency at 5000 psi", 75.9, 0.05, "%",
            lambda: 100 * (1 - _worn(5000) / (11.69 * GPM)),
        ),
    ),
    *_rows(
        _STAGES,
        ("H43-low", "flow of both sections", 10.036, 0.0005, "gpm", lambda: _two_stage_flow(0.7)),
        ("H43-high", "flow of the small one", 2.868, 0.0005, "gpm", lambda: _two_stage_flow(0.2)),
        ("H43-500", "power at 500 psi", 3.54, 0.005, "hp", lambda: _two_stage_power(0.7, 500)),
        ("H43-650", "power at 650 psi", 4.60, 0.005, "hp", lambda: _two_stage_power(0.7, 650)),
        ("H43-900", "power at 900 psi", 6.36, 0.005, "hp", lambda: _two_stage_power(0.7, 900)),
        (
            "H43-3000", "power of the small section at 3000 psi", 6.06, 0.005, "hp",
            lambda: _two_stage_power(0.2, 3000),
        ),
        (
            "H43-torque", "its torque", 8.84, 0.005, "lb ft",
            lambda: _two_stage_power(0.2, 3000) * HORSEPOWER / (3600 * RPM) / (LBF * FOOT),
        ),
        (
            "H43-dump", "power of the large section dumping at 30 psi", 0.15, 0.005, "hp",
            lambda: _two_stage_power(0.5, 30),
        ),
        (
            "H43-even", "shift pressure from which both sections take more torque than the small"
            " one at 3000 psi", 857, 0.5, "psi", lambda: _break_even(0.0),
        ),
        (
            "H43-even-dump", "the same, the large section dumping at 30 psi", 879, 0.5, "psi",
            lambda: _break_even(30.0),
        ),
        (
            "H40", "flow of both sections over that of the small one", 3.5, 0.0005, "-",
            lambda: _two_stage_flow(0.7) / _two_stage_flow(0.2),
        ),
    ),
    *_wilson_rows(),
)  # fmt: skip
