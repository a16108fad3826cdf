"""The front as an answer: its machines with their sheets, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet, sheet_of
from optimise.search.exact import Progress, exact_front
from optimise.search.goals import STANDARD, Goals
from optimise.study.space import Space

OBJECTIVES = STANDARD.keys
"""Result keys of the three standard objectives, in the order of the front's columns."""
SAMPLE = 20_000
NEAREST = 5


@dataclass(frozen=True)
class Blocking:
    """How often a hard limit stands in the way, as shares of a random sample of the space.

    ``alone`` counts the machines that cross this limit and no other.
    """

    name: str
    crossed: float
    alone: float


@dataclass(frozen=True)
class FrontAnswer:
    """Front of a space.

    Attributes
    ----------
    indices
        Part index per design and category (n, categories).
    sheet
        Results and limits of the designs, columns of shape (n,).
    proven
        Whether the front is exact; ``why_not`` says otherwise why it is not.
    objectives
        Result keys of what the front is of, money last.
    blocking, nearest
        Only when no machine is feasible: limits in the way, most frequent first, and part indices
        of the machines of the sample with the least crossing.
    """

    indices: NDArray[np.intp]
    sheet: Sheet
    proven: bool
    why_not: str
    designs_in_space: int
    designs_evaluated: int
    seconds: float
    blocking: tuple[Blocking, ...]
    nearest: NDArray[np.intp]
    objectives: tuple[str, ...] = OBJECTIVES


def find_front(
    space: Space,
    setting: Setting,
    progress: Progress | None = None,
    goals: Goals = STANDARD,
) -> FrontAnswer:
    """Exact front of the goals over a space, best in the first of them first."""
    exact = exact_front(space, setting, progress, goals)
    points = exact.designs.points
    order = np.lexsort((*exact.designs.indices.T[::-1], *points.T[::-1]))
    indices = exact.designs.indices[order]
    blocking, nearest = ((), indices) if len(indices) else _in_the_way(space, setting)
    return FrontAnswer(
        indices,
        sheet_of(space.machine(indices), setting),
        proven=True,
        why_not="",
        designs_in_space=space.size,
        designs_evaluated=exact.evaluated,
        seconds=exact.seconds,
        blocking=blocking,
        nearest=nearest,
        objectives=goals.keys,
    )


def sampled(space: Space, setting: Setting) -> tuple[NDArray[np.intp], Sheet]:
    """Random machines of a space, the same ones each time."""
    chance = np.random.default_rng(0)
    rows = np.stack([chance.integers(0, size, SAMPLE) for size in space.sizes], axis=1)
    return rows, sheet_of(space.machine(rows), setting)


def blocking_of(sheet: Sheet, some: NDArray[np.bool_]) -> tuple[Blocking, ...]:
    """Limits that some machines of a sheet cross, the most frequent first; shares are of these."""
    hard = [reading for reading in sheet.limits if reading.limit.kind == "hard"]
    crossed = np.stack([~reading.kept[some] for reading in hard])
    alone = crossed & (crossed.sum(axis=0) == 1)
    table = (
        Blocking(reading.limit.name, float(many.mean()), float(only.mean()))
        for reading, many, only in zip(hard, crossed, alone, strict=True)
        if many.any()
    )
    return tuple(sorted(table, key=lambda blocking: (-blocking.crossed, blocking.name)))


def _in_the_way(space: Space, setting: Setting) -> tuple[tuple[Blocking, ...], NDArray[np.intp]]:
    rows, sheet = sampled(space, setting)
    margins: Array = np.nan_to_num(sheet.least_margin, nan=-np.inf)
    nearest = rows[np.argsort(-margins, kind="stable")[:NEAREST]]
    return blocking_of(sheet, np.ones(len(rows), dtype=np.bool_)), nearest
