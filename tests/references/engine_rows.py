"""Check rows: altitude and heat, standard power, droop, torque, fuel."""

from __future__ import annotations

from optimise.physics import engine
from tests.references.check import COMPUTED, PRINTED, Check
from tests.references.units import HORSEPOWER, HOUR, LITRE, RPM, ZERO_CELSIUS, fahrenheit

GRAMS_PER_KWH = 1e-3 / 3.6e6


def _altitude_rows() -> list[Check]:
    table = {
        500: (0.9529, "0.9466"),
        1000: (0.9075, "0.8952"),
        1500: (0.8637, "0.8457"),
        2000: (0.8216, "0.798"),
        3000: (0.7421, "0.708"),
    }
    rows = []
    for metres, (density, power) in table.items():
        rows.append(
            Check(
                f"S45-{metres}",
                f"density ratio of the standard atmosphere at {metres} m",
                "ISO 2533 equation, worked by hand",
                density,
                5e-5,
                "-",
                lambda m=metres: engine.standard_density_ratio(float(m)),
                "computed",
                COMPUTED,
            )
        )
        rows.append(
            Check(
                f"S46-{metres}",
                f"power of an engine without charger at {metres} m",
                "equation of Gagg and Farrar (recalled), worked by hand",
                float(power),
                0.5 * 10.0 ** -(len(power) - 2),
                "-",
                lambda m=metres: engine.altitude_factor(float(m)),
                "computed",
                COMPUTED,
            )
        )
    return rows


def _standard_power_rows() -> list[Check]:
    cases = (
        (990, 25, 1.0000),
        (1013.25, 25, 0.9729),
        (950, 35, 1.0701),
        (900, 15, 1.0960),
        (850, 30, 1.2058),
        (1000, 0, 0.9381),
    )
    return [
        Check(
            f"S43-{millibar}-{celsius}",
            f"correction to standard power, {millibar} mbar dry and {celsius} degC",
            "SAE J1349 (1990), equation as quoted in an engine forum, worked by hand",
            expected,
            1e-4,
            "-",
            lambda p=millibar, c=celsius: engine.sae_j1349_factor(p * 100.0, c + ZERO_CELSIUS),
            "standard",
            "rounding, and 273.15 K here for the 273 and 298 of the equation",
        )
        for millibar, celsius, expected in cases
    ]


def _mean_pressure_rows() -> list[Check]:
    table = {7: (5.57, 2.10, 2.82), 8: (6.37, 2.40, 3.22), 9: (7.16, 2.70, 3.62)}
    units = (("N m", 1.0), ("kW", 3600 * RPM / 1e3), ("hp", 3600 * RPM / HORSEPOWER))
    return [
        Check(
            f"S53-{bar}-{unit.replace(' ', '')}",
            f"100 cm3 four-stroke at {bar} bar mean pressure, 3600 rpm",
            "T = bmep V / (4 pi), worked by hand",
            expected,
            0.005,
            unit,
            lambda b=bar, s=scale: s * engine.torque_from_mean_pressure(b * 1e5, 100e-6),
            "computed",
            COMPUTED,
        )
        for bar, line in table.items()
        for expected, (unit, scale) in zip(line, units, strict=True)
    ]


ROWS: tuple[Check, ...] = (
    *_altitude_rows(),
    *_standard_power_rows(),
    *_mean_pressure_rows(),
    Check(
        "S46-forum",
        "about 80 % of the power is left at 2000 m",
        "figure quoted in a technical forum",
        0.80,
        0.01,
        "-",
        lambda: engine.altitude_factor(2000.0),
        "published",
        "the source says about",
    ),
    Check(
        "S48",
        "1 % per 10 degF above 60 degF: gas engine at 70 degF",
        "rule on a page about gas engines for pipelines",
        0.99,
        1e-9,
        "-",
        lambda: engine.air_temperature_factor(fahrenheit(70.0)),
        "published",
        "the rule itself",
    ),
    Check(
        "S49",
        "factor for 110 degF",
        "Handbook of Energy Engineering Calculations, derating table",
        0.95,
        0.005,
        "-",
        lambda: engine.air_temperature_factor(fahrenheit(110.0)),
        "published",
        PRINTED,
    ),
    Check(
        "S49-hp",
        "544 hp left by the altitude, at 110 degF",
        "Handbook of Energy Engineering Calculations, worked example",
        516,
        1.0,
        "hp",
        lambda: 544 * engine.air_temperature_factor(fahrenheit(110.0)),
        "published",
        "the text cuts 516.8 off",
    ),
    Check(
        "S49-charged",
        "592 hp left by the altitude, at 110 degF",
        "Handbook of Energy Engineering Calculations, worked example",
        563,
        1.0,
        "hp",
        lambda: 592 * engine.air_temperature_factor(fahrenheit(110.0)),
        "published",
        "the text rounds 562.4 up",
    ),
    Check(
        "S50",
        "8 hp, 5000 ft at 3.5 % per 1000 ft, 90 degF",
        "rule constants recalled, arithmetic by hand",
        6.402,
        0.0005,
        "hp",
        lambda: 8 * (1 - 0.035 * 5) * engine.air_temperature_factor(fahrenheit(90.0)),
        "computed",
        COMPUTED,
    ),
    Check(
        "S52",
        "governor droop, 3750 to 3570 rpm",
        "service table of a small generator (speeds); droop worked by hand",
        5.04,
        0.005,
        "%",
        lambda: 100 * engine.governor_droop(3750.0, 3570.0),
        "computed",
        COMPUTED,
    ),
    Check(
        "S52-most",
        "largest droop, 3780 to 3570 rpm",
        "service table of a small generator (speeds); droop worked by hand",
        5.88,
        0.005,
        "%",
        lambda: 100 * engine.governor_droop(3780.0, 3570.0),
        "computed",
        COMPUTED,
    ),
    Check(
        "S42",
        "25 kW at 240 g/kWh burns 8 L/h of 750 kg/m3",
        "Ganesan, IC Engines, Ex 17.4",
        8.0,
        0.005,
        "L/h",
        lambda: engine.fuel_mass_flow(25e3, 240 * GRAMS_PER_KWH) / 750 / LITRE * HOUR,
        "published",
        "efficiency printed with four digits",
    ),
    Check(
        "S42-efficiency",
        "its efficiency at 44 MJ/kg",
        "Ganesan, IC Engines, Ex 17.4",
        34.09,
        0.005,
        "%",
        lambda: 100 * 25e3 / (44e6 * engine.fuel_mass_flow(25e3, 240 * GRAMS_PER_KWH)),
        "published",
        PRINTED,
    ),
    Check(
        "S55",
        "4 kW at 400 g/kWh, 745 kg/m3",
        "worked by hand",
        2.15,
        0.005,
        "L/h",
        lambda: engine.fuel_mass_flow(4e3, 400 * GRAMS_PER_KWH) / 745 / LITRE * HOUR,
        "computed",
        COMPUTED,
    ),
)
