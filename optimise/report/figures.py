"""How a quantity is written on the page; the script of the page does alike."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from decimal import ROUND_HALF_UP, Decimal
from typing import TypedDict

from optimise.units import System, factor, spelled, unit_of

NO_VALUE = "no value"

_DECIMALS: dict[str, tuple[int, int]] = {
    "time": (2, 2),
    "force": (0, 1),
    "flow": (1, 1),
    "pressure": (0, 1),
    "speed": (1, 0),
    "power": (2, 2),
    "rotation": (0, 0),
    "temperature": (0, 0),
    "temperature_difference": (1, 1),
    "share": (1, 1),
    "viscosity": (1, 1),
    "money": (0, 0),
}
"""Decimals in US and in metric units; any other kind gets three significant digits."""

_THOUSANDS: dict[System, str] = {"us": ",", "metric": "\u202f"}
_WORDS = ((10**12, "trillion"), (10**9, "billion"), (10**6, "million"))
_MINUS = "−"


class Scale(TypedDict):
    """Unit in which a kind is shown: SI value = number * scale + offset."""

    unit: str
    scale: float
    offset: float
    decimals: int | None


def scale_of(kind: str, system: System, currency: str) -> Scale:
    """Say how a kind is shown in a unit system.

    Parameters
    ----------
    kind
        A key of ``units.KINDS``.
    system
        "us" or "metric".
    currency
        Shown as the unit of money.
    """
    unit = unit_of(kind, system)
    scale, offset = factor(kind, unit)
    decimals = _DECIMALS.get(kind)
    return {
        "unit": currency if kind == "money" else spelled(unit),
        "scale": scale,
        "offset": offset,
        "decimals": None if decimals is None else decimals[system == "metric"],
    }


def written(value: float | None, scale: Scale, system: System) -> str:
    """Write an SI value with its unit.

    Examples
    --------
    >>> written(120000.0, scale_of("force", "us", "USD"), "us")
    '26,977 lbf'
    """
    if value is None or not math.isfinite(value):
        return NO_VALUE
    number = (value - scale["offset"]) / scale["scale"]
    text = grouped(number, decimals_of(number, scale["decimals"]), system)
    return f"{text}\u00a0{scale['unit']}" if scale["unit"] else text


def decimals_of(number: float, decimals: int | None) -> int:
    """Decimals of a number: as its kind has them, else those of three significant digits."""
    if decimals is not None:
        return decimals
    if number == 0.0:
        return 0
    return min(max(2 - math.floor(math.log10(abs(number))), 0), 6)


def grouped(number: float, decimals: int, system: System) -> str:
    """Write a number with its thousands grouped and a true minus sign; halves go away from zero.

    Examples
    --------
    >>> grouped(-1234.5, 0, "us")
    '−1,235'
    """
    exact = Decimal(number).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    text = f"{abs(exact):,f}".replace(",", _THOUSANDS[system])
    return _MINUS + text if exact < 0 else text


def counted(number: int, system: System) -> str:
    """Write a count that may be huge in words that can be read aloud.

    Examples
    --------
    >>> counted(3_628_800_000, "us"), counted(2480, "us")
    ('3.63 billion', '2,480')
    """
    if number >= 10**15:
        power = len(str(number)) - 1
        return f"{number / 10**power:.2f} × 10{str(power).translate(_RAISED)}"
    for size, word in _WORDS:
        if number >= size:
            return f"{grouped(number / size, decimals_of(number / size, None), system)} {word}"
    return f"{number:,}".replace(",", _THOUSANDS[system])


def figures_grouped(words: str, units: Collection[str], names: Collection[str]) -> str:
    """Words with the thousands of their quantities grouped by commas; names stay as they are.

    Parameters
    ----------
    units
        What stands after the number of a quantity.
    names
        Names of parts and the like, whose numbers are not to be touched.

    Examples
    --------
    >>> figures_grouped("with relief 2500 psi it rises to 31800 lbf", ["psi", "lbf"],
    ...                 ["relief 2500 psi"])
    'with relief 2500 psi it rises to 31,800 lbf'
    """
    known = "|".join(re.escape(one) for one in sorted(names, key=len, reverse=True) if one)
    unit = "|".join(re.escape(one) for one in units if one)
    quantity = rf"(?<![\w.,])(?P<whole>\d{{4,}})(?=(?:\.\d+)? (?:{unit})(?!\w))"
    found = re.compile(f"{known}|{quantity}" if known else quantity)
    return found.sub(
        lambda one: f"{int(one['whole']):,}" if one["whole"] is not None else one[0], words
    )


_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
