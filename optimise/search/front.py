"""The front as an answer: its machines with their sheets, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, shape_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet, sheet_of
from optimise.machine.wood import levels_of
from optimise.search.archive import not_dominated
from optimise.search.brute import Designs, evaluate_fully, keeps
from optimise.search.chances import Chances
from optimise.search.crew import ALONE, Effort
from optimise.search.exact import ExactFront, exact_front
from optimise.search.goals import STANDARD, Goals
from optimise.search.problem import Progress
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
    chances
        Chance with which the machines keep their limits, where one was asked for.
    blocking, nearest
        Only when no machine was found and no chance was asked for: limits in the way, most
        frequent first, and part indices of the machines of the sample with the least crossing.
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
    chances: Chances | None = None


def find_front(
    space: Space,
    setting: Setting,
    progress: Progress | None = None,
    goals: Goals = STANDARD,
    chances: Chances | None = None,
    effort: Effort = ALONE,
) -> FrontAnswer:
    """Exact front of the goals over a space, best in the first of them first.

    Of machines that keep their limits with a chance where ``chances`` are given. Where ``effort``
    sets a time and that is over, the best of the machines found so far.
    """
    exact = exact_front(space, setting, progress, goals, chances, effort)
    why_not = _why_not(exact, effort)
    designs = exact.designs
    if why_not and len(designs.indices) == 0 and chances is None:
        designs = _best_of_some(space, setting, goals)
        why_not += f"; these are the best of {SAMPLE:,} machines taken at random"
    points = designs.points
    order = np.lexsort((*designs.indices.T[::-1], *points.T[::-1]))
    indices = designs.indices[order]
    nothing = len(indices) == 0 and chances is None
    blocking, nearest = _in_the_way(space, setting) if nothing else ((), indices)
    return FrontAnswer(
        indices,
        sheet_of(space.machine(indices), setting),
        proven=not why_not,
        why_not=why_not,
        designs_in_space=space.size,
        designs_evaluated=exact.evaluated,
        seconds=exact.seconds,
        blocking=blocking,
        nearest=nearest,
        objectives=goals.keys,
        chances=chances,
    )


def _why_not(exact: ExactFront, effort: Effort) -> str:
    """Why a front is not proven, in words; nothing where it is."""
    if exact.gone_through == 1.0:
        return ""
    words = (
        f"the search was stopped after {effort.seconds:g} s, with "
        f"{100.0 * exact.gone_through:.0f} % of the list gone through"
    )
    if exact.blind:
        words += (
            f"; it takes long because nothing is ruled out by {', '.join(exact.blind)} before a "
            "machine is nearly whole"
        )
    return words


def _best_of_some(space: Space, setting: Setting, goals: Goals) -> Designs:
    """Feasible machines of a random sample that no other of it beats."""
    rows = np.unique(random_rows(space), axis=0)
    points, feasible = evaluate_fully(space.machine(rows), setting, levels_of(setting), goals)
    rows, points = rows[feasible], points[feasible]
    front = not_dominated(points)
    return Designs(rows[front], points[front])


def random_rows(space: Space) -> NDArray[np.intp]:
    """Random machines of a space, the same ones each time."""
    chance = np.random.default_rng(0)
    return np.stack([chance.integers(0, size, SAMPLE) for size in space.sizes], axis=1)


def crossed_by(machine: Machine, setting: Setting) -> dict[str, NDArray[np.bool_]]:
    """Which of a column of machines cross each hard limit, by name, as read from screens."""
    shape = shape_of(machine)
    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting, levels_of(setting))
        return {
            limit.name: np.broadcast_to(~keeps(evaluation, (limit,)), shape)
            for limit in limits_of(setting)
            if limit.kind == "hard"
        }


def blocking_of(
    crossed: dict[str, NDArray[np.bool_]], some: NDArray[np.bool_]
) -> tuple[Blocking, ...]:
    """Limits that some machines cross, the most frequent first; shares are of these machines."""
    table = np.stack([column[some] for column in crossed.values()])
    alone = table & (table.sum(axis=0) == 1)
    found = (
        Blocking(name, float(many.mean()), float(only.mean()))
        for name, many, only in zip(crossed, table, alone, strict=True)
        if many.any()
    )
    return tuple(sorted(found, key=lambda blocking: (-blocking.crossed, blocking.name)))


def _in_the_way(space: Space, setting: Setting) -> tuple[tuple[Blocking, ...], NDArray[np.intp]]:
    rows = random_rows(space)
    sheet = sheet_of(space.machine(rows), setting)
    hard = [reading for reading in sheet.limits if reading.limit.kind == "hard"]
    crossed = {reading.limit.name: ~reading.kept for reading in hard}
    margins: Array = np.nan_to_num(sheet.least_margin, nan=-np.inf)
    nearest = rows[np.argsort(-margins, kind="stable")[:NEAREST]]
    return blocking_of(crossed, np.ones(len(rows), dtype=np.bool_)), nearest
