"""Quantities: outside numbers for every factor, round trips, and text that means harm.

Two outside sources, neither of them the library that the code uses:

* exact definitions, worked out here in fractions: yard 0.9144 m and pound 0.45359237 kg
  (international yard and pound agreement, 1959), standard gravity 9.80665 m/s2 (3rd CGPM, 1901),
  US gallon 231 in3, horsepower 550 ft lbf/s, and Btu such that 1 Btu/lb/degF is 4186.8 J/kg/K
  (International Table, 1956);
* NIST Special Publication 811 (2008), appendix B.8, which prints seven digits (quoted from
  memory), and ``scipy.constants``.
"""

import copy
import doctest
import math
import pickle
import subprocess
import sys
from fractions import Fraction
from typing import get_args

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import constants

from optimise import units
from optimise.units import (
    KINDS,
    Kind,
    System,
    UnitFault,
    convert,
    expected,
    factor,
    parse,
    show,
    unit_of,
)

SYSTEMS: tuple[System, ...] = get_args(System)
EVERY_UNIT = [(kind.name, unit) for kind in KINDS.values() for unit in kind.units]
ROUNDED_ONCE = 2.3e-16

INCH = Fraction(9144, 360_000)
FOOT = 12 * INCH
POUND = Fraction(45359237, 10**8)
POUND_FORCE = POUND * Fraction(980665, 10**5)
GALLON = 231 * INCH**3
HORSEPOWER = 550 * FOOT * POUND_FORCE
DEGREE_FAHRENHEIT = Fraction(5, 9)
BTU = Fraction(41868, 10) * POUND * DEGREE_FAHRENHEIT
PSI = POUND_FORCE / INCH**2
MILLI, MICRO, MINUTE, HOUR = Fraction(1, 10**3), Fraction(1, 10**6), 60, 3600
INCH_OF_MERCURY = INCH * Fraction(135951, 10) * Fraction(980665, 10**5)
"""Conventional mercury, 13 595.1 kg/m3 (ISO 31-3 and NIST SP 811, footnote to B.8)."""

EXACT: dict[str, dict[str, Fraction | float | int]] = {
    "altitude": {"ft": FOOT, "m": 1},
    "length": {"in": INCH, "ft": FOOT, "mm": MILLI, "cm": Fraction(1, 100), "m": 1},
    "area": {
        "in2": INCH**2,
        "ft2": FOOT**2,
        "mm2": MICRO,
        "cm2": Fraction(1, 10**4),
        "m2": 1,
    },
    "volume": {
        "gal": GALLON,
        "qt": GALLON / 4,
        "in3": INCH**3,
        "ft3": FOOT**3,
        "L": MILLI,
        "mL": MICRO,
        "cm3": MICRO,
        "m3": 1,
    },
    "displacement": {"in3/rev": INCH**3, "cm3/rev": MICRO, "m3/rev": 1},
    "flow": {
        "gpm": GALLON / MINUTE,
        "L/min": MILLI / MINUTE,
        "in3/s": INCH**3,
        "cm3/s": MICRO,
        "L/s": MILLI,
        "m3/s": 1,
    },
    "pressure": {
        "psi": PSI,
        "bar": 10**5,
        "kPa": 10**3,
        "MPa": 10**6,
        "Pa": 1,
        "ksi": 1000 * PSI,
        "GPa": 10**9,
        "inHg": INCH_OF_MERCURY,
    },
    "force": {"lbf": POUND_FORCE, "tonf": 2000 * POUND_FORCE, "kN": 1000, "N": 1},
    "torque": {"lb ft": POUND_FORCE * FOOT, "lb in": POUND_FORCE * INCH, "N m": 1},
    "energy": {
        "ft lbf": POUND_FORCE * FOOT,
        "Btu": BTU,
        "J": 1,
        "kJ": 10**3,
        "MJ": 10**6,
        "kWh": 3_600_000,
    },
    "power": {"hp": HORSEPOWER, "Btu/h": BTU / HOUR, "kW": 1000, "W": 1},
    "speed": {"in/s": INCH, "ft/s": FOOT, "mm/s": MILLI, "m/s": 1},
    "velocity": {"in/s": INCH, "ft/s": FOOT, "mm/s": MILLI, "m/s": 1},
    "rotation": {"rpm": math.pi / 30, "rad/s": 1},
    "temperature": {"degF": DEGREE_FAHRENHEIT, "degC": 1, "K": 1},
    "temperature_difference": {"degF": DEGREE_FAHRENHEIT, "degC": 1, "K": 1},
    "mass": {"lb": POUND, "kg": 1, "g": MILLI},
    "density": {
        "lb/ft3": POUND / FOOT**3,
        "lb/gal": POUND / GALLON,
        "kg/m3": 1,
        "kg/L": 1000,
        "g/cm3": 1000,
    },
    "viscosity": {"cSt": MICRO, "mm2/s": MICRO, "m2/s": 1},
    "time": {"s": 1, "ms": MILLI, "min": MINUTE, "h": HOUR},
    "conductance": {"Btu/h/F": BTU / HOUR / DEGREE_FAHRENHEIT, "W/K": 1},
    "heat_coefficient": {
        "Btu/h/ft2/F": BTU / HOUR / FOOT**2 / DEGREE_FAHRENHEIT,
        "W/m2/K": 1,
    },
    "specific_heat": {"Btu/lb/F": Fraction(41868, 10), "kJ/kg/K": 1000, "J/kg/K": 1},
    "fuel_consumption": {
        "lb/hp/h": POUND / HORSEPOWER / HOUR,
        "g/kWh": MILLI / 3_600_000,
        "kg/J": 1,
    },
    "work_rate": {"1/h": Fraction(1, HOUR), "1/min": Fraction(1, MINUTE), "1/s": 1},
    "wood_volume": {"ft3": FOOT**3, "in3": INCH**3, "L": MILLI, "m3": 1},
    "wood_rate": {"ft3/h": FOOT**3 / HOUR, "m3/h": Fraction(1, HOUR), "m3/s": 1},
    "volume_price": {"/gal": 1 / GALLON, "/ft3": 1 / FOOT**3, "/L": 1000, "/m3": 1},
    "share": {"": 1, "%": Fraction(1, 100)},
    "count": {"": 1},
    "money": {"": 1},
}
EXACT["modulus"] = EXACT["pressure"]

NIST_SP_811 = [
    ("area", "ft2", "9.290304e-2"),
    ("area", "in2", "6.4516e-4"),
    ("volume", "gal", "3.785412e-3"),
    ("volume", "qt", "9.463529e-4"),
    ("volume", "in3", "1.638706e-5"),
    ("volume", "ft3", "2.831685e-2"),
    ("flow", "gpm", "6.309020e-5"),
    ("pressure", "psi", "6.894757e3"),
    ("pressure", "ksi", "6.894757e6"),
    ("pressure", "inHg", "3.386389e3"),
    ("force", "lbf", "4.448222"),
    ("force", "tonf", "8.896443e3"),
    ("torque", "lb ft", "1.355818"),
    ("torque", "lb in", "1.129848e-1"),
    ("energy", "ft lbf", "1.355818"),
    ("energy", "Btu", "1.055056e3"),
    ("power", "hp", "7.456999e2"),
    ("power", "Btu/h", "2.930711e-1"),
    ("rotation", "rpm", "1.047198e-1"),
    ("mass", "lb", "4.535924e-1"),
    ("density", "lb/ft3", "1.601846e1"),
    ("density", "lb/gal", "1.198264e2"),
    ("viscosity", "cSt", "1.0e-6"),
    ("heat_coefficient", "Btu/h/ft2/F", "5.678263"),
    ("specific_heat", "Btu/lb/F", "4.1868e3"),
    ("fuel_consumption", "lb/hp/h", "1.689659e-7"),
    ("temperature_difference", "degF", "5.555556e-1"),
]

SCIPY_CONSTANTS = [
    ("length", "in", constants.inch),
    ("volume", "gal", constants.gallon_US),
    ("pressure", "psi", constants.psi),
    ("pressure", "bar", constants.bar),
    ("force", "lbf", constants.lbf),
    ("power", "hp", constants.hp),
    ("energy", "Btu", constants.Btu_IT),
    ("mass", "lb", constants.lb),
    ("temperature_difference", "degF", constants.degree_Fahrenheit),
    ("time", "h", constants.hour),
]


def agrees(value: float, printed: str) -> bool:
    """Whether a value rounds to a printed number: half a unit of its last digit."""
    mantissa, _, power = printed.partition("e")
    decimals = len(mantissa.partition(".")[2])
    half_a_digit = 0.5 * 10.0 ** (int(power or 0) - decimals)
    return abs(value - float(printed)) <= half_a_digit * (1 + 1e-9)


def scale(kind: str, unit: str) -> float:
    return factor(kind, unit)[0]


def test_documented_examples() -> None:
    outcome = doctest.testmod(units)
    assert outcome.attempted > 0
    assert outcome.failed == 0


def test_every_unit_has_an_outside_factor() -> None:
    assert {(kind, unit) for kind, table in EXACT.items() for unit in table} == set(EVERY_UNIT)


@pytest.mark.parametrize(("kind", "unit"), EVERY_UNIT)
def test_factor_is_the_definition(kind: str, unit: str) -> None:
    assert scale(kind, unit) == pytest.approx(float(EXACT[kind][unit]), rel=ROUNDED_ONCE, abs=0)


@pytest.mark.parametrize(("kind", "unit", "printed"), NIST_SP_811)
def test_factor_as_nist_prints_it(kind: str, unit: str, printed: str) -> None:
    assert agrees(scale(kind, unit), printed)


@pytest.mark.parametrize(("kind", "unit", "value"), SCIPY_CONSTANTS)
def test_factor_as_scipy_has_it(kind: str, unit: str, value: float) -> None:
    # scipy multiplies its factors in floats: a few units of the last binary digit
    assert scale(kind, unit) == pytest.approx(value, rel=1e-15, abs=0)


def test_trade_constants() -> None:
    """Conversion constants of the fluid power trade, to the digits that are printed."""
    gpm, psi, hp = scale("flow", "gpm"), scale("pressure", "psi"), scale("power", "hp")
    rpm, kilowatt = scale("rotation", "rpm"), scale("power", "kW")
    inch, foot_per_second = scale("length", "in"), scale("speed", "ft/s")
    atmosphere = 101_325.0
    assert agrees(scale("volume", "gal") / scale("volume", "in3"), "231.000000")
    assert agrees(scale("volume", "gal") / scale("volume", "L"), "3.785411784")
    assert agrees(gpm, "6.30902e-5")
    assert agrees(psi, "6894.757")
    assert agrees(hp, "745.70")
    assert agrees(hp / (scale("force", "lbf") * foot_per_second), "550.000000")
    assert agrees(hp / (gpm * psi), "1714.286")
    assert agrees(hp / rpm / scale("torque", "lb in"), "63025.4")
    assert agrees(hp / rpm / scale("torque", "lb ft"), "5252.11")
    assert agrees(gpm / scale("area", "in2") / foot_per_second, "0.32083")
    assert agrees(scale("volume", "ft3") / gpm, "448.83")
    assert agrees(foot_per_second * inch / scale("viscosity", "cSt"), "7741.9")
    assert agrees(kilowatt / rpm, "9549.3")
    assert agrees(scale("pressure", "inHg") / scale("pressure", "kPa"), "3.38639")
    assert agrees(atmosphere / scale("pressure", "inHg"), "29.92")
    assert agrees(atmosphere / psi, "14.696")
    assert agrees(hp / scale("power", "Btu/h"), "2544.4")


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("32 degF", 273.15),
        ("212 degF", 373.15),
        ("0 degC", 273.15),
        ("-40 degF", 233.15),
        ("-40 degC", 233.15),
        ("122 °F", 323.15),
        ("50 °C", 323.15),
        ("-459.67 degF", 0.0),
        ("-273.15 degC", 0.0),
        ("293.15 K", 293.15),
    ],
)
def test_fixed_points_of_temperature(text: str, kelvin: float) -> None:
    """Defining points of the scales (ITS-90 preamble; Fahrenheit by 9/5 and 32)."""
    assert parse(text, "temperature") == kelvin


def test_temperature_differences_have_no_offset() -> None:
    assert parse("18 degF", "temperature_difference") == 10.0
    assert parse("10 degC", "temperature_difference") == 10.0
    assert factor("temperature_difference", "degF")[1] == 0.0


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_kinds_are_whole(kind: Kind) -> None:
    assert KINDS[kind.name] is kind
    assert {kind.si_unit, kind.us_unit, kind.metric_unit} <= set(kind.units)
    assert factor(kind.name, kind.si_unit) == (1.0, 0.0)
    for sample in (kind.example_us, kind.example_metric):
        assert parse(sample, kind.name) > 0.0
        assert sample in expected(kind.name)


@pytest.mark.parametrize(("kind", "unit"), EVERY_UNIT)
def test_every_allowed_unit_is_read(kind: str, unit: str) -> None:
    unit_scale, offset = factor(kind, unit)
    wanted = pytest.approx(2.5 * unit_scale + offset, rel=1e-15, abs=0)
    assert parse(f"2.5 {unit}", kind) == wanted
    if unit[:1] != "1":  # "2.51/h" is 2.51 per hour
        assert parse(f"2.5{unit}", kind) == wanted
    assert parse(f"  2.50e0   {unit} ", kind) == wanted
    assert parse(f"2-1/2 {unit}", kind) == wanted


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1/2 in", "length", 0.0127),
        ("1-1/2 in", "length", 0.0381),
        ("1 1/2 in", "length", 0.0381),
        ('1-1/2"', "length", 0.0381),
        ("-1-1/2 in", "length", -0.0381),
        ("+.5 in", "length", 0.0127),
        ("5. in", "length", 0.127),
        ("6 in.", "length", 0.1524),
        ("1 inch", "length", 0.0254),
        ("2'", "length", 0.6096),
        ("1e3 mm", "length", 1.0),
        ("3.5\u00a0in", "length", 0.0889),
        ("-0 in", "length", 0.0),
        ("0e999999999999 in", "length", 0.0),
        ("10 in²", "area", 0.0064516),
        ("10 in^2", "area", 0.0064516),
        ("16 cc/rev", "displacement", 16e-6),
        ("16 mL/rev", "displacement", 16e-6),
        ("500 cc", "volume", 500e-6),
        ("60 l/min", "flow", 1e-3),
        ("100 N m", "torque", 100.0),
        ("100 N·m", "torque", 100.0),
        ("100 Nm", "torque", 100.0),
        ("100 lb-ft", "torque", 135.58179483314004),
        ("100 lbf ft", "torque", 135.58179483314004),
        ("100 ft-lb", "torque", 135.58179483314004),
        ("100 ft-lb", "energy", 135.58179483314004),
        ("10 lbs", "mass", 4.5359237),
        ("120/h", "work_rate", 1 / 30),
        ("120 1/h", "work_rate", 1 / 30),
        ("1201/h", "work_rate", 1201 / 3600),
        ("35 %", "share", 0.35),
        ("35%", "share", 0.35),
        ("0.35", "share", 0.35),
        ("7/20", "share", 0.35),
        ("4", "count", 4.0),
        ("249.50", "money", 249.5),
        ("-3", "money", -3.0),
    ],
)
def test_as_the_trade_writes_it(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == value


@pytest.mark.parametrize(
    ("one", "other", "kind"),
    [
        ("3.5 in", "88.9 mm", "length"),
        ("231 in3", "1 gal", "volume"),
        ("1 tonf", "2000 lbf", "force"),
        ("122 degF", "50 degC", "temperature"),
        ("30000 ksi", "30000000 psi", "modulus"),
    ],
)
def test_the_same_quantity_gives_the_same_bits(one: str, other: str, kind: str) -> None:
    assert parse(one, kind) == parse(other, kind)


HOSTILE = [
    "",
    " ",
    "in",
    "in 3",
    "2**9999 in",
    "__import__('os')",
    "1 __import__('os').system('x')",
    "1e400 psi",
    "1e999",
    "1e999999999999 in",
    "1e-400 in",
    "1e-999999999999 in",
    "1e-323 mm",
    "1e308 GPa",
    "nan in",
    "NaN",
    "inf in",
    "-Infinity in",
    "5" * 5000,
    "5" * 5000 + " in",
    "5 " + "in" * 5000,
    "9" * 199 + "e9 in",
    "３ in",
    "٣ in",
    "3² in",
    "½ in",
    "1/0 in",
    "0/0 in",
    "1-5/4 in",
    "1/2/3 in",
    "1/-2 in",
    "1-1-1/2 in",
    "1.5-1/2 in",
    "--1 in",
    "1..2 in",
    "1.2.3 in",
    "1_000 in",
    "1,000 in",
    "3,5 in",
    "0x10 in",
    "1e in",
    "3 in 4 in",
    "3 + 4 in",
    "3*4 in",
    "3 in*in",
    "3 in**2",
    "3 i^n",
    "3 in\n",
    "3\nin",
    "3\0in",
    "\ud8003 in",
    "3 \u202ein",
    "3 IN",
    "3 mn",
    "3 m-m",
    "$3",
    "{3} in",
    "(3) in",
    "3 in # comment",
    "</script><img onerror=x>",
]


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text[:24]))
@pytest.mark.parametrize("kind", ["length", "pressure", "temperature", "share", "count"])
def test_hostile_text_is_refused(text: str, kind: str) -> None:
    with pytest.raises(UnitFault) as caught:
        parse(text, kind)
    fault = caught.value
    assert fault.expected == expected(kind)
    assert fault.hint
    assert len(fault.found) <= 80
    assert str(fault).isprintable()
    assert str(fault) == f"found {fault.found}, expected {fault.expected}; {fault.hint}"


@pytest.mark.parametrize(
    ("text", "kind", "hint"),
    [
        ("24", "length", "the unit is missing, units that fit: in, ft, mm, cm, m"),
        ("24 ", "flow", "the unit is missing, units that fit: gpm, L/min,"),
        ("3 gpm", "length", '"gpm" is a unit of a flow, units that fit: in, ft, mm, cm, m'),
        ("3 psi", "force", '"psi" is a unit of a pressure or a modulus, units that fit: lbf,'),
        ("3 in", "count", '"in" is a unit of a length, it takes no unit'),
        ("3 mPa", "pressure", 'unknown unit "mPa", did you mean "MPa"? units that fit: psi,'),
        ("3 furlongs", "length", 'unknown unit "furlongs", units that fit: in,'),
        ("1e400 psi", "pressure", "too large"),
        ("1e305 GPa", "pressure", "too large"),
        ("1e-400 psi", "pressure", "too small"),
        ("nan psi", "pressure", "must be finite"),
        ("inf", "share", "must be finite"),
        ("5" * 5000, "length", "longer than 200 characters"),
        ("", "length", "empty"),
        ("1/0 in", "length", "over zero"),
        ("1-5/4 in", "length", "below one"),
        ("1,000 psi", "pressure", "thousands separators"),
        ("in 3", "length", "begin with a number"),
        ("-273.16 degC", "temperature", "absolute zero"),
        ("-459.68 degF", "temperature", "absolute zero"),
        ("-1 K", "temperature", "absolute zero"),
    ],
)
def test_a_refusal_says_why(text: str, kind: str, hint: str) -> None:
    with pytest.raises(UnitFault) as caught:
        parse(text, kind)
    assert hint in caught.value.hint


def test_expected_names_the_kind_and_both_systems() -> None:
    assert expected("length") == 'a length with its unit, such as "24 in" or "610 mm"'
    assert expected("share") == 'a share, such as "35 %" or "0.35"'


def test_found_nothing() -> None:
    with pytest.raises(UnitFault, match=r"^found nothing, expected a length"):
        parse("", "length")


def test_unit_fault_crosses_process_borders() -> None:
    fault = UnitFault('"3"', "a length", "the unit is missing")
    again = pickle.loads(pickle.dumps(fault))
    assert (again.found, again.expected, again.hint) == ('"3"', "a length", "the unit is missing")
    assert str(copy.copy(fault)) == str(fault)
    assert str(UnitFault("x", "y")) == "found x, expected y"


PIECES = st.sampled_from(
    [
        *"0123456789 -+./eE*^,()'\"\n_",
        "in",
        "psi",
        "nan",
        "inf",
        "1/2",
        "999",
        "degF",
        "%",
        "²",
        "３",
    ]
)


@settings(deadline=None)
@given(st.one_of(st.text(), st.lists(PIECES).map("".join)), st.sampled_from(sorted(KINDS)))
@example("1e308 GPa", "pressure")
def test_any_text_is_finite_or_refused(text: str, kind: str) -> None:
    try:
        value = parse(text, kind)
    except UnitFault as fault:
        assert str(fault).isprintable()
    else:
        assert math.isfinite(value)


def test_unknown_kind_or_unit_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        parse("3 in", "colour")
    with pytest.raises(KeyError):
        factor("length", "psi")
    with pytest.raises(ValueError, match="us or metric"):
        unit_of("length", "imperial")  # type: ignore[arg-type]


@settings(deadline=None)
@given(
    st.sampled_from(sorted(KINDS)),
    st.sampled_from(SYSTEMS),
    st.floats(1e-9, 1e18),
    st.booleans(),
    st.integers(1, 17),
)
def test_what_is_shown_reads_back(
    kind: str, system: System, size: float, negative: bool, digits: int
) -> None:
    unit_scale, offset = factor(kind, unit_of(kind, system))
    number = -size if negative and kind != "temperature" else size
    value = number * unit_scale + offset
    shown_number = convert(value, kind, system)
    back = convert(parse(show(value, kind, system, digits), kind), kind, system)
    half_a_digit = 0.5 * 10.0 ** (1 - digits) * abs(shown_number)
    float_noise = 1e-15 * (abs(shown_number) + 4 * offset / unit_scale)
    assert abs(back - shown_number) <= half_a_digit + float_noise


@pytest.mark.parametrize(
    ("value", "kind", "system", "digits", "text"),
    [
        (0.0889, "length", "us", 4, "3.5 in"),
        (2750 * 6894.757293168362, "pressure", "us", 4, "2750 psi"),
        (22 * 6.30901964e-5, "flow", "metric", 3, "83.3 L/min"),
        (323.15, "temperature", "us", 4, "122 °F"),
        (323.15, "temperature", "metric", 4, "50 °C"),
        (10.0, "temperature_difference", "us", 4, "18 °F"),
        (0.35, "share", "us", 4, "35 %"),
        (0.0, "length", "metric", 4, "0 mm"),
        (-0.0, "length", "metric", 4, "0 mm"),
        (-0.0889, "length", "us", 2, "-3.5 in"),
        (123456.0, "force", "metric", 4, "123.5 kN"),
        (1234567.0, "force", "metric", 2, "1200 kN"),
        (1.0, "length", "metric", 1, "1000 mm"),
        (0.9999, "length", "metric", 3, "1000 mm"),
        (1e-9, "length", "metric", 4, "0.000001 mm"),
        (1e-13, "length", "metric", 4, "1e-10 mm"),
        (1.25e30, "length", "metric", 4, "1.25e33 mm"),
        (12345678.0, "count", "us", 4, "12345678"),
        (12345.67, "money", "us", 4, "12346"),
        (249.5, "money", "metric", 5, "249.5"),
        (math.nan, "flow", "us", 4, "no value"),
        (math.inf, "flow", "us", 4, "unlimited"),
        (-math.inf, "flow", "us", 4, "unlimited below"),
    ],
)
def test_show(value: float, kind: str, system: System, digits: int, text: str) -> None:
    assert show(value, kind, system, digits) == text


@pytest.mark.parametrize("digits", [0, 18])
def test_show_refuses_digits_that_say_nothing(digits: int) -> None:
    with pytest.raises(ValueError, match="1 to 17"):
        show(1.0, "length", "us", digits)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_column_is_converted_as_its_numbers_are(kind: str, system: System) -> None:
    column = np.array([0.1, math.nan, 300.0])
    before = column.copy()
    converted = convert(column, kind, system)
    for lane, value in enumerate(column.tolist()):
        np.testing.assert_array_equal(converted[lane], convert(value, kind, system))
    np.testing.assert_array_equal(column, before)


def test_no_registry_is_built_to_read_quantities() -> None:
    script = (
        "import sys\n"
        "from optimise.units import parse, show\n"
        "show(parse('1 in', 'length'), 'length', 'metric')\n"
        "assert 'pint' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-W", "error", "-c", script], check=True, timeout=120)
