"""What a search is for: results to be least or most, and the money for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column, as_column
from optimise.errors import CallError, quoted
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Reading
from optimise.machine.parts import Part
from optimise.machine.results import RESULTS, Result, result_named

MONEY: dict[str, Callable[[Part], Column]] = {
    "cost.outlay": lambda part: part.outlay,
    "cost.price": lambda part: part.price,
}
"""Results that are sums over the parts, and what each part adds."""


@dataclass(frozen=True)
class Goals:
    """Objectives of a search.

    Attributes
    ----------
    results
        Results that are to be as small or as large as can be, by ``Result.aim``.
    money
        Key of :data:`MONEY`, to be as small as can be.
    """

    results: tuple[Result, ...]
    money: str = "cost.outlay"

    @property
    def keys(self) -> tuple[str, ...]:
        """Result keys in the order of the columns of points."""
        return (*(result.key for result in self.results), self.money)

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Objectives in that order, each such that smaller is better."""
        return (*map(_smaller_better, self.results), result_named(self.money).reading)

    def bounds(self, evaluation: Evaluation) -> list[Array]:
        """Objectives of a column but the money."""
        return [np.asarray(reading(evaluation)) for reading in self.readings[:-1]]

    def points(self, evaluation: Evaluation) -> Array:
        """Objectives of a column, shape (n, goals)."""
        return as_points([reading(evaluation) for reading in self.readings])

    def part_money(self, part: Part) -> Array:
        """What the parts of a list add to the money."""
        return np.asarray(MONEY[self.money](part), dtype=np.float64)

    @property
    def solved(self) -> tuple[bool, ...]:
        """For each result whether it rests on a solved flow, which may err a little."""
        return tuple(result.better != 0 for result in self.results)


def _smaller_better(result: Result) -> Reading:
    return lambda evaluation: -result.aim * as_column(result.reading(evaluation))


def as_points(objectives: Sequence[Column]) -> Array:
    """Objectives side by side, shape (n, goals)."""
    return np.stack(np.broadcast_arrays(*objectives), axis=-1)


LEAST_GAIN = 1e-6
"""Time [s] under which a machine counts as no quicker."""
CYCLE, PIECE = "cycle.total_s", "work.split_period_s"
STANDARD = Goals((result_named(CYCLE), result_named("force_N")))
"""Cycle time, force and outlay."""
PACES = {"piece": Goals((result_named(PIECE), result_named("force_N"))), "cycle": STANDARD}
"""Goals by the time that counts: off a piece, where a return behind the hands is worth nothing, or
of the cycle without a log, as a stopwatch shows it."""


def read_goals(keys: Sequence[str]) -> Goals:
    """Goals from result keys; outlay counts where no money is among them.

    Raises
    ------
    CallError
        A key that is no result, that has no side to be on or comes twice; every fault named.
    """
    faults, chosen, money = [], [], []
    for key in keys:
        if key in MONEY:
            money.append(key)
            continue
        try:
            result = result_named(key)
        except KeyError:
            faults.append(f"{quoted(key)} is no result")
            continue
        if result.aim:
            chosen.append(result)
        else:
            faults.append(
                f"{quoted(key)} is neither better small nor better large for every machine"
            )
    if len(set(keys)) < len(keys) or len(money) > 1:
        faults.append("each may be named once, and one kind of money")
    if not chosen and not faults:
        faults.append("money alone is no goal: name what it is spent for")
    if faults:
        known = ", ".join([*(result.key for result in RESULTS if result.aim), *MONEY])
        raise CallError(f"--objectives: {'; '.join(faults)}; expected some of {known}")
    return Goals(tuple(chosen), *money)
