"""A plan: which machine to go for, and in which order to put its parts on.

The goal is a member of the exact front of time, force and outlay: the quickest within a budget, or
the cheapest within a time, and no weaker than asked. Which time counts, off a piece or of the cycle
without a log, is one of ``optimise.search.goals.PACES``. Parts are put on one by one; parts go on
together only where a machine between would cross a hard limit or be weaker than asked. Of all such
orders the plan takes the one that leaves the least area under time over money spent: what a step
costs, times the time that one still has while paying for it. So quick gains for little money come
first.

Proof of the order: machines on the way are the subsets of the parts that change. The area of an
order is a sum over its steps, each a function of the subsets before and after it, so the best way
to a subset is the best way to one before it and a step (dynamic programming over subsets).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet, sheet_of
from optimise.machine.wood import levels_of
from optimise.search.brute import evaluate_fully
from optimise.search.goals import Goals
from optimise.study.space import Space

Rows = NDArray[np.intp]
Mask = NDArray[np.bool_]

MOST_PARTS = 13
"""Parts of a plan that can be ordered: 2^13 machines on the way."""


@dataclass(frozen=True)
class Plan:
    """Machines from the one owned (first) to the goal (last).

    Attributes
    ----------
    rows
        Part index per category of each machine, (steps + 1, categories).
    sheet
        Results and limits of each, columns of shape (steps + 1,).
    area
        Time before each step times its outlay, summed.
    """

    rows: Rows
    sheet: Sheet
    area: float

    @property
    def together(self) -> list[int]:
        """How many parts each step puts on."""
        return [int(count) for count in (self.rows[1:] != self.rows[:-1]).sum(axis=1)]


def goal_for_budget(points: Array, budget: float, least_force: float) -> int | None:
    """Row of the quickest machine within a budget; the stronger, then cheaper of equals.

    Parameters
    ----------
    points
        Time [s], negative force [N] and outlay of the front's members, (n, 3).
    """
    fit = np.flatnonzero((points[:, 2] <= budget) & (-points[:, 1] >= least_force))
    if len(fit) == 0:
        return None
    return int(fit[np.lexsort((points[fit, 2], points[fit, 1], points[fit, 0]))[0]])


def goal_for_time(points: Array, target: float, least_force: float) -> int | None:
    """Row of the cheapest machine within a time [s]; the quicker, then stronger of equals."""
    fit = np.flatnonzero((points[:, 0] <= target) & (-points[:, 1] >= least_force))
    if len(fit) == 0:
        return None
    return int(fit[np.lexsort((points[fit, 1], points[fit, 0], points[fit, 2]))[0]])


def bends(times: Array, outlays: Array) -> bool:
    """Whether a staircase has a :func:`knee`: three points or more, one under the chord."""
    if len(times) < 3 or outlays[-1] <= outlays[0] or times[-1] >= times[0]:
        return False
    nth = knee(times, outlays)
    share = (outlays[nth] - outlays[0]) / (outlays[-1] - outlays[0])
    chord = times[0] + share * (times[-1] - times[0])
    return bool(chord - times[nth] > 1e-6 * (times[0] - times[-1]))


def knee(times: Array, outlays: Array) -> int:
    """Place at which a staircase of falling times over rising outlays bends most.

    The point furthest under the straight line from its first to its last point, both axes scaled
    to that span (a common geometric rule); the first of equals.
    """
    if len(times) < 3 or outlays[-1] <= outlays[0] or times[-1] >= times[0]:
        return len(times) - 1
    across = (outlays - outlays[0]) / (outlays[-1] - outlays[0])
    down = (times[0] - times) / (times[0] - times[-1])
    return int(np.argmax(down - across))


def goal_at_knee(points: Array, least_force: float) -> int | None:
    """Row of the machine at the knee of time over outlay, among those strong enough."""
    fit = np.flatnonzero(-points[:, 1] >= least_force)
    if len(fit) == 0:
        return None
    fit = fit[np.lexsort((points[fit, 0], points[fit, 2]))]
    quickest = np.minimum.accumulate(points[fit, 0])
    stairs = fit[np.concatenate([[True], quickest[1:] < quickest[:-1]])]
    return int(stairs[knee(points[stairs, 0], points[stairs, 2])])


def best_order(times: Array, outlays: Array, kept: Mask) -> tuple[list[int], float]:
    """Way over subsets with the least area under time over outlay.

    Parameters
    ----------
    times, outlays, kept
        Of the machine with each subset of n changes made, (2^n,); bit i of the place is change i.
        ``kept`` says whether it may be on the way; the first and the last always may.

    Returns
    -------
    tuple
        Subsets on the way, from 0 to the last, and the area. Steps are as small as ``kept`` lets
        them be: no subset that may be on the way lies inside a step.
    """
    full = len(times) - 1
    allowed = kept.copy()
    allowed[[0, full]] = True
    open_places = np.flatnonzero(allowed)
    sizes = np.array([int(place).bit_count() for place in open_places])
    order = open_places[np.argsort(sizes, kind="stable")]
    area = np.full(full + 1, np.inf)
    come_from = np.full(full + 1, -1, dtype=np.intp)
    area[0] = 0.0
    for place in order[1:]:
        inside = order[(order & place == order) & (order != place)]
        between = inside[:, None] & inside[None, :] == inside[:, None]
        np.fill_diagonal(between, False)
        before = inside[~between.any(axis=1)]
        costs = area[before] + times[before] * (outlays[place] - outlays[before])
        best = int(np.argmin(costs))
        area[place], come_from[place] = costs[best], before[best]
    way = [full]
    while way[-1] != 0:
        way.append(int(come_from[way[-1]]))
    return way[::-1], float(area[full])


def subsets_of(owned: NDArray[np.intp], goal: NDArray[np.intp]) -> Rows:
    """Machine with each subset of the changes from one machine to another, (2^n, categories)."""
    places = np.flatnonzero(owned != goal)
    codes = np.arange(1 << len(places))
    rows = np.repeat(owned[None, :], len(codes), axis=0)
    for bit, place in enumerate(places):
        rows[:, place] = np.where((codes >> bit) & 1, goal[place], owned[place])
    return rows


def plan_to(
    space: Space,
    setting: Setting,
    owned: Sequence[int],
    goal: Sequence[int],
    least_force: float,
    goals: Goals,
) -> Plan:
    """Best order of the parts from the machine owned to another, by the time of ``goals``.

    Machines on the way keep every hard limit and have ``least_force`` [N].

    Raises
    ------
    ValueError
        More than :data:`MOST_PARTS` parts differ.
    """
    start, end = np.asarray(owned, dtype=np.intp), np.asarray(goal, dtype=np.intp)
    if (start != end).sum() > MOST_PARTS:
        raise ValueError(f"more than {MOST_PARTS} parts differ")
    rows = subsets_of(start, end)
    points, kept = evaluate_fully(space.machine(rows), setting, levels_of(setting), goals)
    kept &= -points[:, 1] >= least_force
    way, area = best_order(points[:, 0], points[:, 2], kept) if len(rows) > 1 else ([0], 0.0)
    return Plan(rows[way], sheet_of(space.machine(rows[way]), setting), area)
