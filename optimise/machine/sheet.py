"""The sheet of a machine: every result and every limit, read once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column, shape_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import Machine
from optimise.machine.results import RESULTS
from optimise.machine.setting import Setting


@dataclass(frozen=True)
class LimitReading:
    """One limit of one machine or a column: value, bound and signed margin, SI."""

    limit: Limit
    value: Array
    bound: Array
    margin: Array

    @property
    def kept(self) -> NDArray[np.bool_]:
        """Where the limit is kept; an unknown margin is not."""
        return self.margin >= 0.0


@dataclass(frozen=True)
class Sheet:
    """Results by key and limits in table order; arrays of the machine's shape."""

    results: dict[str, Array]
    limits: tuple[LimitReading, ...]

    def lane(self, at: int) -> Sheet:
        """Sheet of one machine of a column."""
        return Sheet(
            {key: column[at] for key, column in self.results.items()},
            tuple(
                LimitReading(one.limit, one.value[at], one.bound[at], one.margin[at])
                for one in self.limits
            ),
        )

    @property
    def feasible(self) -> NDArray[np.bool_]:
        """Where every hard limit is kept."""
        hard = [reading.kept for reading in self.limits if reading.limit.kind == "hard"]
        feasible: NDArray[np.bool_] = np.logical_and.reduce(hard)
        return feasible

    @property
    def least_margin(self) -> Array:
        """Smallest margin of a hard limit; the flow balance, which is kept or not, left out."""
        least: Array = np.min(self._hard_margins()[1], axis=0)
        return least

    @property
    def binding(self) -> NDArray[np.str_]:
        """Name of the hard limit with the smallest margin."""
        names, margins = self._hard_margins()
        first: NDArray[np.intp] = np.argmin(np.nan_to_num(margins, nan=-np.inf), axis=0)
        named: NDArray[np.str_] = np.asarray(names, dtype=np.str_)[first]
        return named

    def _hard_margins(self) -> tuple[list[str], Array]:
        hard = [
            reading
            for reading in self.limits
            if reading.limit.kind == "hard"
            and (reading.limit.name != "solution_found" or not reading.kept.all())
        ]
        names = [reading.limit.name for reading in hard]
        return names, np.stack([reading.margin for reading in hard])


def sheet_of(machine: Machine, setting: Setting) -> Sheet:
    """Everything that is shown of a machine, or of a column of machines."""
    shape = shape_of((machine, setting))

    def full(column: Column) -> Array:
        return np.broadcast_to(np.asarray(column, dtype=np.float64), shape)

    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting)
        results = {result.key: full(result.reading(evaluation)) for result in RESULTS}
        limits = tuple(
            LimitReading(
                limit,
                full(limit.value(evaluation)),
                full(limit.bound(evaluation)),
                full(limit.margin(evaluation)),
            )
            for limit in limits_of(setting)
        )
    return Sheet(results, limits)
