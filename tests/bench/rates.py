"""Machines a second: one by one, as columns, and as the search counts them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.readings import Readings
from optimise.machine.wood import levels_of
from optimise.search.brute import CHUNK, evaluate_fully
from optimise.search.exact import exact_front
from optimise.study.space import Space
from tests.bench.common import Row, problem, random_rows, seconds

SINGLES = 60
COLUMN = 4 * CHUNK
MANY = 2**20


def rates(name: str) -> Iterator[Row]:
    """Rates of a study, each with its ratio to the loop over single machines."""
    space, setting = problem(name)
    levels = levels_of(setting)
    hard = [limit for limit in limits_of(setting) if limit.kind == "hard"]

    def times(rows: NDArray[np.intp]) -> None:
        np.asarray(Evaluation(space.machine(rows), setting, levels).cycle_time)

    asked = Readings(
        [
            *(lambda e: e.cycle_time, lambda e: e.force, lambda e: e.steady_temperature),
            *(limit.margin for limit in hard),
        ]
    )

    def whole(rows: NDArray[np.intp]) -> None:
        asked.of(space.machine(rows), setting, levels)

    def kept(rows: NDArray[np.intp]) -> None:
        evaluate_fully(space.machine(rows), setting, levels)

    for what, act in (("cycle time", times), ("goals and limits", kept)):
        yield from _pair(f"{name}: {what}", space, act)
    yield from _pair(f"{name}: full model", space, whole, MANY)
    front = exact_front(space, setting)
    spent = seconds(lambda: exact_front(space, setting))
    yield Row(f"{name}: search", "machines covered", space.size / spent, "1/s")
    yield Row(f"{name}: search", "machines worked out", front.evaluated / spent, "1/s")


def _pair(
    group: str, space: Space, act: Callable[[NDArray[np.intp]], None], many: int = COLUMN
) -> Iterator[Row]:
    """One by one, then the first so many machines as columns with all compiling, then some more."""
    rows = random_rows(space, COLUMN)

    def columns(count: int) -> None:
        for n in range(0, count, CHUNK):
            act(rows[n % COLUMN : n % COLUMN + CHUNK])

    with np.errstate(all="ignore"):
        single = seconds(lambda: [act(rows[n : n + 1]) for n in range(SINGLES)]) / SINGLES
        first = seconds(lambda: columns(many), 1)
        column = seconds(lambda: columns(COLUMN))
    yield Row(group, "one by one", 1.0 / single, "1/s", 1.0)
    what = f"the first {many:,} as columns, compiling included"
    yield Row(group, what, many / first, "1/s", single * many / first)
    yield Row(group, "columns", COLUMN / column, "1/s", single * COLUMN / column)
