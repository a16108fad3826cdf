"""Designs of lists and free numbers worked out, each once, and the front of those within limits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.wood import levels_of
from optimise.search.archive import not_dominated
from optimise.search.goals import Goals
from optimise.study.made_to_order import MadeToOrder

BARRED = 1e6
"""Constraint of a design whose margin is unknown: larger than any crossing."""
DIGITS = 9
"""Significant digits to which two free numbers are the same."""


class Judge:
    """Works designs out, each once, and keeps the front of those that keep every hard limit."""

    def __init__(self, made: MadeToOrder, goals: Goals) -> None:
        self.made, self.goals = made, goals
        self.levels = levels_of(made.study.setting)
        self.hard: tuple[Limit, ...] = tuple(
            limit for limit in limits_of(made.study.setting) if limit.kind == "hard"
        )
        self.known: dict[tuple[float, ...], tuple[Array, Array]] = {}
        self.rows = np.zeros((0, len(made.space.sizes)), dtype=np.intp)
        self.numbers = np.zeros((0, len(made.free)))
        self.points = np.zeros((0, len(goals.keys)))

    def key(self, row: NDArray[np.intp], numbers: Array) -> tuple[float, ...]:
        """What makes a design the same as another."""
        return (*map(float, row), *(float(f"{number:.{DIGITS}g}") for number in numbers))

    def __call__(self, rows: NDArray[np.intp], numbers: Array) -> tuple[Array, Array]:
        """Goals (n, goals) and constraints (n, limits): at most 0 where kept, share of bound."""
        keys = [self.key(row, some) for row, some in zip(rows, numbers, strict=True)]
        fresh = sorted({key: at for at, key in enumerate(keys) if key not in self.known}.values())
        if fresh:
            points, over = self._worked_out(rows[fresh], numbers[fresh])
            for at, point, some in zip(fresh, points, over, strict=True):
                self.known[keys[at]] = (point, some)
            self._keep(rows[fresh], numbers[fresh], points, over)
        found = [self.known[key] for key in keys]
        shapes = (len(found), len(self.goals.keys)), (len(found), len(self.hard))
        return (
            np.array([point for point, _ in found]).reshape(shapes[0]),
            np.array([over for _, over in found]).reshape(shapes[1]),
        )

    def remember(self, rows: NDArray[np.intp], numbers: Array, points: Array, over: Array) -> None:
        """Take designs as worked out elsewhere."""
        for row, some, point, crossing in zip(rows, numbers, points, over, strict=True):
            self.known[self.key(row, some)] = (point, crossing)
        self._keep(rows, numbers, points, over)

    def _worked_out(self, rows: NDArray[np.intp], numbers: Array) -> tuple[Array, Array]:
        machine, setting = self.made.column(rows, numbers)
        with np.errstate(all="ignore"):
            evaluation = Evaluation(machine, setting, self.levels)
            points = np.broadcast_to(
                self.goals.points(evaluation), (len(rows), len(self.goals.keys))
            )
            over = np.stack(
                [np.broadcast_to(-limit.margin(evaluation), len(rows)) for limit in self.hard],
                axis=1,
            )
        unknown = np.asarray(~np.isfinite(points).all(axis=1))
        over = np.where(np.isnan(over) | unknown[:, None], BARRED, np.clip(over, -BARRED, BARRED))
        return np.where(np.isfinite(points), points, BARRED), over

    def _keep(self, rows: NDArray[np.intp], numbers: Array, points: Array, over: Array) -> None:
        kept = (over <= 0.0).all(axis=1)
        points = np.concatenate([self.points, points[kept]])
        front = not_dominated(points)
        self.points = points[front]
        self.rows = np.concatenate([self.rows, rows[kept]])[front]
        self.numbers = np.concatenate([self.numbers, numbers[kept]])[front]
