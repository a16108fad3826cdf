"""Quantities at the edges: text with a unit in, SI numbers inside, text with a unit out.

The number is split from the unit by one strict pattern, and the unit is looked up in the list that
its kind of quantity allows. The factors are exact fractions, worked out beforehand from the
definitions that pint holds (``unit_scales``).
"""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Literal, TypeAlias, TypeVar

from optimise.errors import nearest, quoted
from optimise.unit_scales import SCALES

if TYPE_CHECKING:
    from optimise.columns import Array

System: TypeAlias = Literal["us", "metric"]
_Value = TypeVar("_Value", float, "Array")

LONGEST_TEXT = 200
"""Longest text that is looked at as a quantity, in characters."""
_MOST_REMEMBERED = 10_000


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity and the units in which it may be written.

    Attributes
    ----------
    name
        Key in ``KINDS``.
    si_unit
        Unit of the number that ``parse`` returns.
    us_unit, metric_unit
        Unit in which ``show`` writes it.
    units
        Every unit allowed, in the spelling used in messages; "" stands for a bare number.
    example_us, example_metric
        A quantity of ordinary size, as a person would type it.
    phrase
        The kind in a sentence, with its article.
    """

    name: str
    si_unit: str
    us_unit: str
    metric_unit: str
    units: tuple[str, ...]
    example_us: str
    example_metric: str
    phrase: str

    @property
    def bare(self) -> bool:
        """Whether a number without a unit is a whole quantity of this kind."""
        return "" in self.units

    @property
    def written_units(self) -> tuple[str, ...]:
        """The units allowed, without the empty one."""
        return tuple(unit for unit in self.units if unit)


_PRESSURE_UNITS = ("psi", "bar", "kPa", "MPa", "Pa", "ksi", "GPa", "inHg")
_KINDS = (
    Kind(
        name="length",
        si_unit="m",
        us_unit="in",
        metric_unit="mm",
        units=("in", "ft", "mm", "cm", "m"),
        example_us="24 in",
        example_metric="610 mm",
        phrase="a length",
    ),
    Kind(
        name="altitude",
        si_unit="m",
        us_unit="ft",
        metric_unit="m",
        units=("ft", "m"),
        example_us="2500 ft",
        example_metric="760 m",
        phrase="an altitude",
    ),
    Kind(
        name="area",
        si_unit="m2",
        us_unit="in2",
        metric_unit="cm2",
        units=("in2", "ft2", "mm2", "cm2", "m2"),
        example_us="19.6 in2",
        example_metric="127 cm2",
        phrase="an area",
    ),
    Kind(
        name="volume",
        si_unit="m3",
        us_unit="gal",
        metric_unit="L",
        units=("gal", "qt", "in3", "ft3", "L", "mL", "cm3", "m3"),
        example_us="5 gal",
        example_metric="19 L",
        phrase="a volume",
    ),
    Kind(
        name="displacement",
        si_unit="m3/rev",
        us_unit="in3/rev",
        metric_unit="cm3/rev",
        units=("in3/rev", "cm3/rev", "m3/rev"),
        example_us="0.97 in3/rev",
        example_metric="16 cm3/rev",
        phrase="a displacement per revolution",
    ),
    Kind(
        name="flow",
        si_unit="m3/s",
        us_unit="gpm",
        metric_unit="L/min",
        units=("gpm", "L/min", "in3/s", "cm3/s", "L/s", "m3/s"),
        example_us="22 gpm",
        example_metric="83 L/min",
        phrase="a flow",
    ),
    Kind(
        name="pressure",
        si_unit="Pa",
        us_unit="psi",
        metric_unit="bar",
        units=_PRESSURE_UNITS,
        example_us="2750 psi",
        example_metric="190 bar",
        phrase="a pressure",
    ),
    Kind(
        name="modulus",
        si_unit="Pa",
        us_unit="psi",
        metric_unit="GPa",
        units=_PRESSURE_UNITS,
        example_us="30000 ksi",
        example_metric="207 GPa",
        phrase="a modulus",
    ),
    Kind(
        name="force",
        si_unit="N",
        us_unit="lbf",
        metric_unit="kN",
        units=("lbf", "tonf", "kN", "N"),
        example_us="50000 lbf",
        example_metric="222 kN",
        phrase="a force",
    ),
    Kind(
        name="torque",
        si_unit="N m",
        us_unit="lb ft",
        metric_unit="N m",
        units=("lb ft", "lb in", "N m"),
        example_us="19.5 lb ft",
        example_metric="26.5 N m",
        phrase="a torque",
    ),
    Kind(
        name="energy",
        si_unit="J",
        us_unit="ft lbf",
        metric_unit="kJ",
        units=("ft lbf", "Btu", "J", "kJ", "MJ", "kWh"),
        example_us="15000 ft lbf",
        example_metric="20 kJ",
        phrase="an energy",
    ),
    Kind(
        name="power",
        si_unit="W",
        us_unit="hp",
        metric_unit="kW",
        units=("hp", "Btu/h", "kW", "W"),
        example_us="14 hp",
        example_metric="10.4 kW",
        phrase="a power",
    ),
    Kind(
        name="speed",
        si_unit="m/s",
        us_unit="in/s",
        metric_unit="mm/s",
        units=("in/s", "ft/s", "mm/s", "m/s"),
        example_us="4.3 in/s",
        example_metric="110 mm/s",
        phrase="a speed",
    ),
    Kind(
        name="velocity",
        si_unit="m/s",
        us_unit="ft/s",
        metric_unit="m/s",
        units=("in/s", "ft/s", "mm/s", "m/s"),
        example_us="15 ft/s",
        example_metric="4.5 m/s",
        phrase="a flow velocity",
    ),
    Kind(
        name="rotation",
        si_unit="rad/s",
        us_unit="rpm",
        metric_unit="rpm",
        units=("rpm", "rad/s"),
        example_us="3600 rpm",
        example_metric="377 rad/s",
        phrase="a speed of rotation",
    ),
    Kind(
        name="temperature",
        si_unit="K",
        us_unit="degF",
        metric_unit="degC",
        units=("degF", "degC", "K"),
        example_us="122 degF",
        example_metric="50 degC",
        phrase="a temperature",
    ),
    Kind(
        name="temperature_difference",
        si_unit="K",
        us_unit="degF",
        metric_unit="K",
        units=("degF", "degC", "K"),
        example_us="36 degF",
        example_metric="20 K",
        phrase="a temperature difference",
    ),
    Kind(
        name="mass",
        si_unit="kg",
        us_unit="lb",
        metric_unit="kg",
        units=("lb", "kg", "g"),
        example_us="110 lb",
        example_metric="50 kg",
        phrase="a mass",
    ),
    Kind(
        name="density",
        si_unit="kg/m3",
        us_unit="lb/ft3",
        metric_unit="kg/m3",
        units=("lb/ft3", "lb/gal", "kg/m3", "kg/L", "g/cm3"),
        example_us="54.3 lb/ft3",
        example_metric="870 kg/m3",
        phrase="a density",
    ),
    Kind(
        name="viscosity",
        si_unit="m2/s",
        us_unit="cSt",
        metric_unit="cSt",
        units=("cSt", "mm2/s", "m2/s"),
        example_us="46 cSt",
        example_metric="46 mm2/s",
        phrase="a kinematic viscosity",
    ),
    Kind(
        name="time",
        si_unit="s",
        us_unit="s",
        metric_unit="s",
        units=("s", "ms", "min", "h"),
        example_us="9.5 s",
        example_metric="20 min",
        phrase="a time",
    ),
    Kind(
        name="conductance",
        si_unit="W/K",
        us_unit="Btu/h/F",
        metric_unit="W/K",
        units=("Btu/h/F", "W/K"),
        example_us="19 Btu/h/F",
        example_metric="10 W/K",
        phrase="a heat conductance",
    ),
    Kind(
        name="heat_coefficient",
        si_unit="W/m2/K",
        us_unit="Btu/h/ft2/F",
        metric_unit="W/m2/K",
        units=("Btu/h/ft2/F", "W/m2/K"),
        example_us="2.6 Btu/h/ft2/F",
        example_metric="15 W/m2/K",
        phrase="a heat transfer coefficient",
    ),
    Kind(
        name="specific_heat",
        si_unit="J/kg/K",
        us_unit="Btu/lb/F",
        metric_unit="kJ/kg/K",
        units=("Btu/lb/F", "kJ/kg/K", "J/kg/K"),
        example_us="0.46 Btu/lb/F",
        example_metric="1.93 kJ/kg/K",
        phrase="a specific heat",
    ),
    Kind(
        name="fuel_consumption",
        si_unit="kg/J",
        us_unit="lb/hp/h",
        metric_unit="g/kWh",
        units=("lb/hp/h", "g/kWh", "kg/J"),
        example_us="0.57 lb/hp/h",
        example_metric="350 g/kWh",
        phrase="a specific fuel consumption",
    ),
    Kind(
        name="work_rate",
        si_unit="1/s",
        us_unit="1/h",
        metric_unit="1/h",
        units=("1/h", "1/min", "1/s"),
        example_us="120 1/h",
        example_metric="2 1/min",
        phrase="a work rate",
    ),
    Kind(
        name="wood_volume",
        si_unit="m3",
        us_unit="ft3",
        metric_unit="m3",
        units=("ft3", "in3", "L", "m3"),
        example_us="1.05 ft3",
        example_metric="0.03 m3",
        phrase="a volume of solid wood",
    ),
    Kind(
        name="wood_rate",
        si_unit="m3/s",
        us_unit="ft3/h",
        metric_unit="m3/h",
        units=("ft3/h", "m3/h", "m3/s"),
        example_us="60 ft3/h",
        example_metric="1.7 m3/h",
        phrase="a volume of wood per time",
    ),
    Kind(
        name="volume_price",
        si_unit="/m3",
        us_unit="/ft3",
        metric_unit="/m3",
        units=("/gal", "/ft3", "/L", "/m3"),
        example_us="3.60 /gal",
        example_metric="1.70 /L",
        phrase="an amount of money per volume",
    ),
    Kind(
        name="share",
        si_unit="",
        us_unit="%",
        metric_unit="%",
        units=("", "%"),
        example_us="35 %",
        example_metric="0.35",
        phrase="a share",
    ),
    Kind(
        name="count",
        si_unit="",
        us_unit="",
        metric_unit="",
        units=("",),
        example_us="4",
        example_metric="12",
        phrase="a plain number",
    ),
    Kind(
        name="money",
        si_unit="",
        us_unit="",
        metric_unit="",
        units=("",),
        example_us="249",
        example_metric="249.50",
        phrase="an amount of money without a currency sign",
    ),
)

KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
"""Every kind of quantity, by name."""

_SPELLINGS = {
    "in": ("in.", "inch", "inches", '"', "″"),
    "ft": ("foot", "feet", "'", "′"),
    "gal": ("gallon", "gallons"),
    "qt": ("quart", "quarts"),
    "L": ("l", "liter", "litre", "liters", "litres"),
    "mL": ("ml",),
    "in2": ("sq in",),
    "ft2": ("sq ft",),
    "in3": ("cu in",),
    "ft3": ("cu ft",),
    "cm3": ("cc",),
    "in3/rev": ("cu in/rev",),
    "cm3/rev": ("cc/rev", "mL/rev", "ml/rev"),
    "gpm": ("GPM", "gal/min"),
    "L/min": ("l/min", "lpm", "LPM"),
    "L/s": ("l/s",),
    "cm3/s": ("cc/s", "mL/s", "ml/s"),
    "psi": ("PSI", "psig", "lbf/in2"),
    "Pa": ("N/m2",),
    "MPa": ("N/mm2",),
    "tonf": ("ton-force",),
    "N m": ("Nm", "N-m", "N·m", "N⋅m", "N*m"),
    "lb ft": (
        "lb-ft",
        "lbf ft",
        "lbf-ft",
        "lbf·ft",
        "lbf*ft",
        "ft lb",
        "ft-lb",
        "ft lbf",
        "ft-lbf",
        "ft·lbf",
        "ft*lbf",
    ),
    "lb in": ("lb-in", "lbf in", "lbf-in", "in lb", "in-lb", "in lbf", "in-lbf"),
    "ft lbf": ("ft-lbf", "ft·lbf", "ft*lbf", "ft lb", "ft-lb"),
    "Btu": ("BTU",),
    "hp": ("HP",),
    "Btu/h": ("BTU/h", "Btu/hr", "BTU/hr"),
    "rpm": ("RPM", "rev/min", "r/min"),
    "degF": ("°F", "F", "deg F"),
    "degC": ("°C", "C", "deg C"),
    "lb": ("lbs", "lbm"),
    "s": ("sec",),
    "h": ("hr",),
    "kg/L": ("kg/l",),
    "W/K": ("W/degC", "W/°C"),
    "Btu/h/F": ("Btu/h/degF", "Btu/h/°F", "Btu/hr/F", "BTU/h/F", "BTU/hr/F"),
    "W/m2/K": ("W/(m2 K)", "W/m2/degC", "W/m2/°C"),
    "Btu/h/ft2/F": ("Btu/h/ft2/degF", "Btu/h/ft2/°F", "Btu/hr/ft2/F", "BTU/hr/ft2/F"),
    "J/kg/K": ("J/(kg K)", "J/kg/degC", "J/kg/°C"),
    "kJ/kg/K": ("kJ/(kg K)", "kJ/kg/degC", "kJ/kg/°C"),
    "Btu/lb/F": ("Btu/lb/degF", "Btu/lb/°F", "BTU/lb/F"),
    "g/kWh": ("g/kW/h", "g/(kW h)"),
    "lb/hp/h": ("lb/hp-h", "lb/hp-hr", "lb/hp/hr", "lb/(hp h)"),
    "ft3/h": ("cu ft/h",),
    "/gal": ("1/gal", "per gallon"),
    "/ft3": ("1/ft3", "per cubic foot"),
    "/L": ("/l", "1/L", "per litre", "per liter"),
    "/m3": ("1/m3", "per cubic metre"),
    "1/h": ("/h", "per hour"),
    "1/min": ("/min", "per minute"),
    "1/s": ("/s",),
    "%": ("percent",),
}

_ON_PAPER = {
    "degF": "°F",
    "degC": "°C",
    "in2": "in²",
    "cm2": "cm²",
    "ft3": "ft³",
    "m3": "m³",
    "ft3/h": "ft³/h",
    "m3/h": "m³/h",
    "/ft3": "/ft³",
    "/m3": "/m³",
    "lb/ft3": "lb/ft³",
    "kg/m3": "kg/m³",
    "in3/rev": "in³/rev",
    "cm3/rev": "cm³/rev",
    "lb ft": "lb-ft",
    "N m": "N·m",
    "ft lbf": "ft-lbf",
    "W/m2/K": "W/m²/K",
    "Btu/h/F": "Btu/h/°F",
    "Btu/h/ft2/F": "Btu/h/ft²/°F",
    "Btu/lb/F": "Btu/lb/°F",
}
"""Spellings for people of units that are shown, each of which is read too."""

_SPACES = str.maketrans({"\t": " ", "\u00a0": " ", "\u2009": " ", "\u202f": " "})
_POWERS = re.compile(r"(?<=[A-Za-z])(?:\^2|²)"), re.compile(r"(?<=[A-Za-z])(?:\^3|³)")
_QUANTITY = re.compile(
    r"""(?P<sign>[+-]?)
    (?: (?: (?P<whole>[0-9]+) (?:-|[ ]+) )? (?P<numerator>[0-9]+)/(?P<denominator>[0-9]+)
      | (?P<decimal> (?: [0-9]+ (?:\.[0-9]*)? | \.[0-9]+ ) (?:[eE][+-]?[0-9]+)? )
    )
    [ ]* (?P<unit>.*)""",
    re.VERBOSE | re.DOTALL,
)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b", re.IGNORECASE)
_UNIT_STARTS = re.compile(r"[A-Za-z°%\"'″′/$€£]|1/")
_TOO_LARGE = "the number is too large"
_TOO_SMALL = "the number is too small to be told from zero"
_OFFSETS = {"degC": Fraction(27315, 100), "degF": Fraction(45967, 100) * Fraction(5, 9)}
_PLAIN_EXPONENTS = range(-7, 15)


class UnitFault(ValueError):  # noqa: N818 - it is one entry of a list of faults
    """One text is no quantity of the kind wanted.

    Attributes
    ----------
    found
        The text, quoted and safe to print.
    expected
        The kind wanted with an example in both systems.
    hint
        Why the text was refused and what fits.
    """

    def __init__(self, found: str, expected: str, hint: str = "") -> None:
        super().__init__(found, expected, hint)
        self.found = found
        self.expected = expected
        self.hint = hint

    def __str__(self) -> str:
        """One sentence."""
        sentence = f"found {self.found}, expected {self.expected}"
        return f"{sentence}; {self.hint}" if self.hint else sentence


class _Unusable(Exception):  # noqa: N818 - carries a reason inside this module
    """A text cannot be used as a quantity; its own text says why."""


@functools.cache
def _spelled(kind: str) -> dict[str, str]:
    """Every accepted spelling of every unit of a kind, and the unit meant."""
    known = {unit: unit for unit in KINDS[kind].units}
    for unit in KINDS[kind].units:
        for spelling in _SPELLINGS.get(unit, ()):
            known.setdefault(spelling, unit)
    return known


@functools.cache
def _exact_factor(kind: str, unit: str) -> tuple[Fraction, Fraction]:
    """Scale and offset as ``factor``, in exact fractions; ``unit`` in the spelling of ``KINDS``."""
    scale = Fraction(SCALES[KINDS[kind].si_unit][unit])
    offset = _OFFSETS.get(unit, Fraction(0)) if kind == "temperature" else Fraction(0)
    return scale, offset


@functools.cache
def factor(kind: str, unit: str) -> tuple[float, float]:
    """Scale and offset of a unit: SI value = number * scale + offset.

    Parameters
    ----------
    kind
        A key of ``KINDS``.
    unit
        A unit of that kind in any accepted spelling.

    Raises
    ------
    KeyError
        No such kind, or no such unit in it.

    Examples
    --------
    >>> factor("length", "in")
    (0.0254, 0.0)
    >>> factor("temperature", "degC")
    (1.0, 273.15)
    """
    scale, offset = _exact_factor(kind, _spelled(kind)[unit])
    return float(scale), float(offset)


def expected(kind: str) -> str:
    """Say what a quantity of this kind looks like.

    Examples
    --------
    >>> print(expected("length"))
    a length with its unit, such as "24 in" or "610 mm"
    """
    wanted = KINDS[kind]
    with_unit = "" if wanted.bare else " with its unit"
    return f'{wanted.phrase}{with_unit}, such as "{wanted.example_us}" or "{wanted.example_metric}"'


def parse(text: str, kind: str) -> float:
    """Read a quantity such as "3.5 in", "1-1/2 in" or "190 bar".

    Parameters
    ----------
    text
        A number (sign, digits, decimal point, exponent; or a fraction, or a whole number and a
        fraction as the trade writes them) and a unit of the kind. Shares, counts and money may
        stand without a unit.
    kind
        A key of ``KINDS``.

    Returns
    -------
    float
        The quantity in the SI unit of its kind, finite and rounded once, so that a length written
        in inches or in millimetres gives the same bits. Signs are kept; an absolute temperature is
        never below zero kelvin.

    Raises
    ------
    UnitFault
        The text is anything else.
    KeyError
        No such kind.

    Examples
    --------
    >>> parse("1-1/2 in", "length"), parse("38.1 mm", "length")
    (0.0381, 0.0381)
    """
    if len(text) > LONGEST_TEXT:
        read: float | str = f"longer than {LONGEST_TEXT} characters"
    else:
        read = _read(text, kind)
    if isinstance(read, str):
        raise UnitFault(quoted(text) if text else "nothing", expected(kind), read)
    return read


@functools.lru_cache(maxsize=_MOST_REMEMBERED)
def _read(text: str, kind: str) -> float | str:
    """Quantity as ``parse`` gives it, or why the text is none."""
    try:
        match = _split(text)
        return _si_value(match, kind, _unit_meant(match["unit"], kind))
    except _Unusable as refused:
        return str(refused)


def _split(text: str) -> re.Match[str]:
    """Split a quantity into the parts of its number and its unit."""
    tidy = text.translate(_SPACES).strip(" ")
    match = _QUANTITY.fullmatch(tidy)
    if match is not None:
        return match
    if not tidy:
        raise _Unusable("it is empty")
    if _NOT_FINITE.match(tidy):
        raise _Unusable("the number must be finite")
    raise _Unusable("it must begin with a number in plain digits")


def _unit_meant(text: str, kind: str) -> str:
    """Look up a unit as it was typed, in the spellings of its kind."""
    squared, cubed = _POWERS
    spelling = re.sub(" +", " ", cubed.sub("3", squared.sub("2", text)))
    known = _spelled(kind)
    if spelling not in known:
        raise _Unusable(_why_no_unit(spelling, KINDS[kind]))
    return known[spelling]


def _si_value(match: re.Match[str], kind: str, unit: str) -> float:
    scale, offset = _exact_factor(kind, unit)
    number = _number(match)
    exact = number * scale + offset
    try:
        value = float(exact)
    except OverflowError:
        raise _Unusable(_TOO_LARGE) from None
    if value == 0.0 and exact != 0:
        raise _Unusable(_TOO_SMALL)
    if kind == "temperature" and exact < 0:
        raise _Unusable("no temperature is below absolute zero")
    return value


def _number(match: re.Match[str]) -> Fraction:
    """Work out the number of a matched quantity, exactly."""
    sign = -1 if match["sign"] == "-" else 1
    if match["decimal"] is not None:
        digits = match["decimal"]
        rounded = float(digits)
        if math.isinf(rounded):
            raise _Unusable(_TOO_LARGE)
        if rounded == 0.0:  # never Fraction("0e999999999"): it would work out the power
            if digits.lower().partition("e")[0].strip("0."):
                raise _Unusable(_TOO_SMALL)
            return Fraction(0)
        return sign * Fraction(digits)
    numerator, denominator = int(match["numerator"]), int(match["denominator"])
    if denominator == 0:
        raise _Unusable("a fraction over zero is no number")
    fraction = Fraction(numerator, denominator)
    if match["whole"] is None:
        return sign * fraction
    if fraction >= 1:
        raise _Unusable("the fraction after a whole number must be below one")
    return sign * (int(match["whole"]) + fraction)


def _why_no_unit(spelling: str, wanted: Kind) -> str:
    """Say why a unit does not fit and which do."""
    fitting = ", ".join(wanted.written_units)
    fit = f"units that fit: {fitting}" if fitting else "it takes no unit"
    if not spelling:
        return f"the unit is missing, {fit}"
    if spelling[0] in ",.":
        return "write the number with a decimal point and without thousands separators"
    others = [kind for kind in _KINDS if spelling in _spelled(kind.name)]
    if others:
        which = " or ".join(kind.phrase for kind in others)
        return f"{quoted(spelling)} is a unit of {which}, {fit}"
    if not _UNIT_STARTS.match(spelling):
        return f"write one number and one unit, {fit}"
    close = nearest(spelling, filter(None, _spelled(wanted.name)))
    meant = f", did you mean {quoted(close)}?" if close else ","
    return f"unknown unit {quoted(spelling)}{meant} {fit}"


def unit_of(kind: str, system: System) -> str:
    """Name the unit in which a kind is shown; "" for counts and money.

    Examples
    --------
    >>> unit_of("flow", "us"), unit_of("flow", "metric")
    ('gpm', 'L/min')
    """
    if system not in ("us", "metric"):
        raise ValueError(f"system must be us or metric, not {system!r}")
    wanted = KINDS[kind]
    return wanted.us_unit if system == "us" else wanted.metric_unit


def convert(value: _Value, kind: str, system: System) -> _Value:
    """Turn an SI value, or a column of them, into the unit in which its kind is shown.

    Examples
    --------
    >>> convert(0.0254, "length", "us")
    1.0
    """
    scale, offset = factor(kind, unit_of(kind, system))
    return (value - offset) / scale


def spelled(unit: str) -> str:
    """Unit as the trade spells it on paper; ``parse`` reads that too.

    Examples
    --------
    >>> spelled("degF"), spelled("in3/rev"), spelled("psi")
    ('°F', 'in³/rev', 'psi')
    """
    return _ON_PAPER.get(unit, unit)


def show(value: float, kind: str, system: System, digits: int = 4) -> str:
    """Write an SI value with its unit, to so many significant digits.

    Parameters
    ----------
    value
        In the SI unit of the kind.
    kind
        A key of ``KINDS``.
    system
        "us" or "metric".
    digits
        Significant digits, 1 to 17. Counts and money keep every digit before the decimal point.

    Returns
    -------
    str
        Such as "3.5 in", which ``parse`` reads back, but for a temperature that rounds to one below
        absolute zero; "no value" for NaN and "unlimited" or "unlimited below" for the infinities.
        Zeros that say nothing are left out, and so is the exponent between 1e-7 and 1e15.

    Examples
    --------
    >>> show(0.0889, "length", "us"), show(0.00138888, "flow", "metric", digits=3)
    ('3.5 in', '83.3 L/min')
    """
    if not 1 <= digits <= 17:
        raise ValueError(f"digits must be 1 to 17, not {digits}")
    unit = unit_of(kind, system)
    number = convert(float(value), kind, system)
    if math.isnan(number):
        return "no value"
    if math.isinf(number):
        return "unlimited" if number > 0.0 else "unlimited below"
    written = _written(number, digits, whole=not KINDS[kind].written_units)
    return f"{written} {spelled(unit)}" if unit else written


def _written(number: float, digits: int, *, whole: bool) -> str:
    rounded = f"{number:.{digits - 1}e}"
    exponent = int(rounded.partition("e")[2])
    if exponent not in _PLAIN_EXPONENTS:
        mantissa, _, power = rounded.partition("e")
        mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
        return f"{mantissa}e{int(power)}"
    whole_wanted = whole and exponent >= digits
    plain = f"{number:.0f}" if whole_wanted else format(Decimal(rounded), "f")
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return "0" if plain == "-0" else plain
