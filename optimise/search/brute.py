"""Every machine of a space evaluated: the plain answer that the exact search must equal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, flattened, lanes_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, Reading, limits_of
from optimise.machine.parts import Machine
from optimise.machine.readings import readings_for
from optimise.machine.setting import Setting
from optimise.machine.wood import WorkLevels, levels_of
from optimise.search.archive import not_dominated
from optimise.search.chances import Chances
from optimise.search.goals import STANDARD, Goals, as_points
from optimise.search.uncertainty import spread_of
from optimise.study.space import Space

SCREEN_SLACK = 1e-6
"""A screened margin this near to zero is left to the margin itself."""
CHUNK = 16_384
"""Machines per evaluation: enough to keep numpy busy, few enough to stay in cache."""


@dataclass(frozen=True)
class Designs:
    """Machines of a space: part indices (n, categories), objectives (n, goals), smaller better."""

    indices: NDArray[np.intp]
    points: Array


def keeps(evaluation: Evaluation, limits: tuple[Limit, ...]) -> NDArray[np.bool_]:
    """Mask of the machines with no negative (and no unknown) margin.

    A screen has the sign of the margin; the margin itself is read where the screen is close to 0.
    """
    kept: NDArray[np.bool_] = np.asarray(True)
    for limit in limits:
        reading = np.asarray((limit.screen or limit.margin)(evaluation))
        close = _too_close(limit, reading)
        if close.any():
            reading = np.where(close, limit.margin(evaluation), reading)
        kept = kept & (reading >= 0.0)
    return kept


def _too_close(limit: Limit, reading: Array) -> NDArray[np.bool_]:
    close: NDArray[np.bool_] = np.abs(reading) <= SCREEN_SLACK
    return close & (limit.screen is not None)


def evaluate_fully(
    machine: Machine, setting: Setting, levels: WorkLevels, goals: Goals = STANDARD
) -> tuple[Array, NDArray[np.bool_]]:
    """Objectives (n, goals) and feasibility (n,) of a column of machines under the hard limits."""
    hard = tuple(limit for limit in limits_of(setting) if limit.kind == "hard")

    def asked() -> tuple[Reading, ...]:
        return (*goals.readings, *(limit.screen or limit.margin for limit in hard))

    with np.errstate(all="ignore"):
        found = readings_for(setting, goals, asked).of(machine, setting, levels)
        points = as_points(found[: len(goals.keys)])
        count = len(points)
        kept = np.asarray(np.isfinite(points).all(axis=1))
        for limit, reading in zip(hard, found[len(goals.keys) :], strict=True):
            margin = np.broadcast_to(np.asarray(reading), (count,))
            close = np.flatnonzero(_too_close(limit, margin))
            if close.size:
                some = lanes_of(flattened(machine, (count,)), close)
                margin = margin.copy()
                margin[close] = limit.margin(Evaluation(some, setting, levels))
            kept = kept & (margin >= 0.0)
        return points, kept


def all_indices(sizes: tuple[int, ...], start: int, stop: int) -> NDArray[np.intp]:
    """Part indices of the machines ``start`` to ``stop`` of a space, last category fastest."""
    return np.stack(np.unravel_index(np.arange(start, stop), sizes), axis=1)


def brute_front(
    space: Space, setting: Setting, goals: Goals = STANDARD, chances: Chances | None = None
) -> Designs:
    """Front of a space by evaluating all of it; ties are kept, rows in order of their indices.

    Limits that need no solved stroke are read first, and strokes solved for what is left. Where a
    chance is asked for, each feasible machine is drawn in full.
    """
    levels = levels_of(setting)
    plain = tuple(
        limit for limit in limits_of(setting) if limit.kind == "hard" and not limit.solved
    )
    kept_rows, kept_points = [], []
    for start in range(0, space.size, CHUNK):
        rows = all_indices(space.sizes, start, min(start + CHUNK, space.size))
        with np.errstate(all="ignore"):
            rows = rows[keeps(Evaluation(space.machine(rows), setting, levels), plain)]
        points, feasible = evaluate_fully(space.machine(rows), setting, levels, goals)
        if chances is not None:
            feasible[feasible] = _sure(space, rows[feasible], setting, chances)
        kept_rows.append(rows[feasible])
        kept_points.append(points[feasible])
    rows, points = np.concatenate(kept_rows), np.concatenate(kept_points)
    front = not_dominated(points)
    return Designs(rows[front], points[front])


def _sure(
    space: Space, rows: NDArray[np.intp], setting: Setting, chances: Chances
) -> NDArray[np.bool_]:
    spread = spread_of(
        space.machine(rows),
        setting,
        chances.belief,
        keys=(),
        draws=chances.draws,
        seed=chances.seed,
    )
    sure: NDArray[np.bool_] = spread.all_kept >= chances.least
    return sure
