"""Check rows: heating by throttling, tank walls, steady temperature, warm-up."""

from __future__ import annotations

from optimise.physics import heat
from tests.references.check import COMPUTED, PRINTED, Check
from tests.references.units import (
    BAR,
    BTU_PER_HOUR,
    BTU_PER_LB_F,
    DEGREE_F,
    GALLON,
    GPM,
    HOUR,
    MINUTE,
    POUND,
    PSI,
    ZERO_CELSIUS,
)

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "
TANK = "trade article on how little heat a hydraulic tank gives off"


def _tank(identity: str, coefficient: float, expected: float) -> Check:
    return Check(
        identity,
        f"tank of 1.7 m2, oil 85 degC, air 35 degC, {coefficient:g} W/(m2 K)",
        f"coefficients and inputs: {TANK}; heat worked by hand",
        expected,
        0.005,
        "kW",
        lambda: float(heat.wall_rejection(coefficient, 1.7, 50.0)) / 1e3,
        "computed",
        COMPUTED,
    )


def _flow_heat(specific_heat: float) -> float:
    """Btu/h that 1 gpm of oil of 7.42 lb/gal takes up per degF; throttling by the drop that warms
    it by 1 degF turns that into heat."""
    warming = heat.throttling_rise(1.0, 7.42 * POUND / GALLON, specific_heat * BTU_PER_LB_F)
    return DEGREE_F / float(warming) * GPM / BTU_PER_HOUR


ROWS: tuple[Check, ...] = (
    Check(
        "H114-210",
        "heat per gpm and degF, 7.42 lb/gal, 0.472 Btu/(lb F)",
        "page of thermal formulas of a fluid power trade: 210; the specific heat by hand",
        210.0,
        0.5,
        "Btu/h",
        lambda: _flow_heat(0.472),
        "computed",
        COMPUTED,
    ),
    Check(
        "H114-187",
        "the same with 0.42 Btu/(lb F)",
        ESPOSITO + "constants of Ex 11-2, worked by hand",
        187.0,
        0.5,
        "Btu/h",
        lambda: _flow_heat(0.42),
        "computed",
        COMPUTED,
    ),
    Check(
        "H115",
        "time in which 1 W warms 1 gal of oil (870 kg/m3, 1.9 kJ/(kg K)) by 1 degF",
        "rule on a page of hydraulic rules of thumb",
        1.0,
        0.06,
        "h",
        lambda: (
            float(heat.warm_up_time_constant(870.0 * GALLON, 1900.0, 0.0, 460.0, 1.0))
            * DEGREE_F
            / HOUR
        ),
        "published",
        "a rule of one digit; 0.94 to 0.97 by the oil",
    ),
    Check(
        "H113-exact",
        "oil of 50 degC across 70 bar, 895 kg/m3, 1.8 kJ/(kg K)",
        ESPOSITO + "Ex 11-3, worked by hand",
        54.345,
        0.0005,
        "degC",
        lambda: 50.0 + float(heat.throttling_rise(70 * BAR, 895.0, 1800.0)),
        "computed",
        COMPUTED,
    ),
    Check(
        "H112",
        "oil of 120 degF across 1000 psi, 7.42 lb/gal, 0.42 Btu/(lb F)",
        ESPOSITO + "Ex 11-2 p424",
        127.9,
        0.05,
        "degF",
        lambda: (
            120.0
            + float(heat.throttling_rise(1000 * PSI, 7.42 * POUND / GALLON, 0.42 * BTU_PER_LB_F))
            / DEGREE_F
        ),
        "published",
        PRINTED,
    ),
    Check(
        "H113",
        "oil of 50 degC across 70 bar, 895 kg/m3, 1.8 kJ/(kg K)",
        ESPOSITO + "Ex 11-3 p424",
        54.3,
        0.05,
        "degC",
        lambda: 50.0 + float(heat.throttling_rise(70 * BAR, 895.0, 1800.0)),
        "published",
        PRINTED,
    ),
    Check(
        "H113-100",
        "rise per 100 bar of the same oil",
        ESPOSITO + "Ex 11-3, scaled by hand",
        6.2,
        0.05,
        "K",
        lambda: float(heat.throttling_rise(100 * BAR, 895.0, 1800.0)),
        "computed",
        COMPUTED,
    ),
    Check(
        "H117-words",
        "a 200 L tank gives off about 1 kW",
        TANK,
        1.0,
        0.05,
        "kW",
        lambda: float(heat.wall_rejection(12.0, 1.7, 50.0)) / 1e3,
        "published",
        "the source says about",
    ),
    _tank("H117-12", 12.0, 1.02),
    _tank("H117-6", 6.0, 0.51),
    _tank("H117-24", 24.0, 2.04),
    Check(
        "H118",
        "0.6 kW into a tank of 1 m2 and 12 W/(m2 K), air 25 degC",
        "heat balance worked by hand",
        75.0,
        0.05,
        "degC",
        lambda: float(heat.steady_temperature(25 + ZERO_CELSIUS, 600.0, 12.0)) - ZERO_CELSIUS,
        "computed",
        COMPUTED,
    ),
    Check(
        "H119",
        "50 L oil (870 kg/m3, 1.9 kJ/(kg K)), 40 kg steel (0.46), 12 W/(m2 K), 1.2 m2",
        "first-order balance worked by hand",
        117,
        0.5,
        "min",
        lambda: (
            float(heat.warm_up_time_constant(50 * 0.870, 1900.0, 40.0, 460.0, 12.0 * 1.2)) / MINUTE
        ),
        "computed",
        COMPUTED,
    ),
)
