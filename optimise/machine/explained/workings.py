"""One machine's calculation written out: what a line of it is, and how lines find their numbers.

A line holds a result that the model worked out, the formula as a person would type it into a
calculator, and the numbers that the formula takes. No line computes anything: results are read from
the model, and the tests put the printed numbers into the printed formula.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from optimise.columns import Column
from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import CATEGORIES
from optimise.machine.quantities import quantities

FUNCTIONS = ("sqrt", "log10", "sin", "abs", "min", "max")
"""Functions that a formula may use, besides ``+ - * / ^`` and ``pi``."""
_NAME = re.compile(r"(?<![\w.])[A-Za-z]\w*")
PASCAL_S = "Pa s"
TORQUE_PER_SPEED = "N m s"
"""Units of what is no kind of quantity in a study."""
SOLVED = "found by search"
"""Origin of a number that two lines have to agree on."""


@dataclass(frozen=True)
class Input:
    """A number that a formula takes.

    Attributes
    ----------
    symbol, value, unit
        As in :class:`Line`.
    origin
        Where it comes from: a key of the study, a line of the calculation, or words.
    """

    symbol: str
    value: float
    unit: str
    origin: str | int


@dataclass(frozen=True)
class Line:
    """One line of the calculation.

    Attributes
    ----------
    number
        From 1.
    title, symbol
        Words for the result and its sign in the formulas.
    formula
        In coherent SI units with angles in radians and temperatures in kelvin. One with ``=`` in it
        is an equation that the result satisfies.
    inputs
        Numbers that the formula takes, in the order in which they stand in it.
    value, unit
        Result in SI, and its kind of unit or, where there is none, the unit itself.
    source
        Who says so.
    """

    number: int
    title: str
    symbol: str
    formula: str
    inputs: tuple[Input, ...]
    value: float
    unit: str
    source: str


@dataclass(frozen=True)
class Chapter:
    """Lines that belong together; ``verdict`` is what follows from them."""

    title: str
    note: str
    lines: tuple[Line, ...]
    verdict: str = ""


def names_in(formula: str) -> list[str]:
    """Symbols of a formula, each once.

    Examples
    --------
    >>> names_in("pi/4 * (D^2 - d_r^2) + 1e-6*D")
    ['D', 'd_r']
    """
    found = [name for name in _NAME.findall(formula) if name not in (*FUNCTIONS, "pi")]
    return list(dict.fromkeys(found))


class Workings:
    """Lines as they are written down, one chapter after another."""

    def __init__(self, evaluation: Evaluation) -> None:
        self.evaluation = evaluation
        self._chapters: list[Chapter] = []
        self._lines: list[Line] = []
        self._head = ("", "")
        self._count = 0
        self._known: dict[str, Input] = {}
        self._defined: dict[tuple[float, str], int] = {}

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """Chapters that are closed."""
        return tuple(self._chapters)

    def begin(self, title: str, note: str = "") -> None:
        """Open a chapter."""
        self._head = (title, note)

    def end(self, verdict: str = "") -> None:
        """Close the chapter that is open."""
        self._chapters.append(Chapter(*self._head, tuple(self._lines), verdict))
        self._lines = []

    def take(
        self,
        symbol: str,
        value: Column,
        unit: str,
        origin: str = "",
        *,
        otherwise: str = SOLVED,
    ) -> None:
        """Have a symbol stand for a number.

        Where no origin is stated it is the line that gave this number, or else ``otherwise``.
        """
        number = float(value)
        told = origin or self._defined.get((number, unit), otherwise)
        self._known[symbol] = Input(symbol, number, unit, told)

    def given(self, **keys: str) -> None:
        """Have symbols stand for numbers of the study: ``given(D="bore.diameter")``."""
        for symbol, key in keys.items():
            value, kind = self._of_study(key)
            self.take(symbol, value, kind, key)

    def same(self, **symbols: str) -> None:
        """Have symbols stand for what others stand for: ``same(p="p_shift")``."""
        for symbol, other in symbols.items():
            held = self._known[other]
            self._known[symbol] = Input(symbol, held.value, held.unit, held.origin)

    def value(self, symbol: str) -> float:
        """Number that a symbol stands for."""
        return self._known[symbol].value

    def line(
        self, symbol: str, title: str, formula: str, value: Column, unit: str, source: str
    ) -> None:
        """Write a line: ``value`` is the model's, ``formula`` takes what its symbols stand for."""
        names = [name for name in names_in(formula) if name != symbol or "=" not in formula]
        inputs = tuple(self._known[name] for name in names)
        self._count += 1
        number = float(value)
        self._lines.append(Line(self._count, title, symbol, formula, inputs, number, unit, source))
        self._known[symbol] = Input(symbol, number, unit, self._count)
        if number != 0.0:
            self._defined.setdefault((number, unit), self._count)

    def _of_study(self, key: str) -> tuple[float, str]:
        """Value and kind of unit of a key as ``--set`` knows it."""
        *way, field = key.split(".")
        evaluation = self.evaluation
        owner: Any = evaluation.machine if way[0] in CATEGORIES else evaluation.setting
        for step in way:
            owner = getattr(owner, step)
        return float(getattr(owner, field)), quantities(type(owner))[field].kind
