"""Every result as a range: what constants, tolerances and the model's own error leave open.

The same draws stand behind every machine of a column, so that differences between machines are
sharper than each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column, Mask, flattened, map_columns, shape_of
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import Machine
from optimise.machine.readings import readings_for
from optimise.machine.setting import Setting
from optimise.search.chances import limit_kept
from optimise.search.priors import Belief, FromTheTrade
from optimise.search.unknowns import LANES, Unknowns, with_error

LEVELS = (0.05, 0.50, 0.95)
"""Points of every range."""
LEVEL_SHARE = 0.9
"""Share of the cases that lie between the first and the last of them."""
DRAWS = 256
"""Draws for one machine: the ends of a range are within 8 % of its width, a probability within 0.06
of what many draws give."""


@dataclass(frozen=True, eq=False)
class Spread:
    """Ranges of a machine, or of a column of machines.

    Attributes
    ----------
    draws
        Number of draws behind each range.
    points
        For each result key its 5, 50 and 95 % points, shape (3,) + the machine's; NaN where some
        draw has no flow balance.
    kept
        For each limit asked about the probability of keeping it, in the machine's shape.
    all_kept
        Probability of keeping every hard limit at once.
    """

    draws: int
    points: dict[str, Array]
    kept: dict[str, Array]
    all_kept: Array


def _upright(flat: Machine, rows: slice) -> Machine:
    """Some machines of a flat column, laid along the first axis; draws go along the second."""
    return map_columns(
        flat, lambda column: np.asarray(column)[rows, None] if np.ndim(column) else column
    )


def _erring(key: str) -> Callable[..., Column | Mask]:
    return lambda evaluation, errors: with_error(evaluation, key, errors)


def _held(limit: Limit) -> Callable[..., Column | Mask]:
    return lambda evaluation, _: limit_kept(limit, evaluation)


def spread_of(
    machine: Machine,
    setting: Setting,
    belief: Belief | None = None,
    *,
    keys: Sequence[str],
    draws: int = DRAWS,
    seed: int = 0,
    kinds: Iterable[str] = ("hard",),
) -> Spread:
    """Ranges of results and probabilities of limits.

    Oil temperature counts by the heat balance at its bound, which needs no steady temperature; a
    key or a limit of the study on that temperature itself takes some ten times as long. Times,
    pump pressures and engine speed hold the model's own error too; limits and other results do not.

    Parameters
    ----------
    machine
        One machine or a column of machines.
    setting
        As for :class:`~optimise.machine.evaluation.Evaluation`, numbers only.
    belief
        What is known of the constants: a :class:`~optimise.search.fit.Fit`, or the priors of the
        trade when not given.
    keys
        Results that are given a range.
    draws
        Number of draws.
    seed
        The same seed gives the same bytes.
    kinds
        Kinds of limits that are given a probability.
    """
    kinds = frozenset(kinds)
    unknowns = Unknowns(belief or FromTheTrade(setting.constants))
    uniform = unknowns.points(draws, seed)
    errors = tuple(unknowns.model_errors(uniform))
    limits = [limit for limit in limits_of(setting) if limit.kind in kinds]

    def asked() -> list[Callable[..., Column | Mask]]:
        return [*map(_erring, keys), *map(_held, limits)]

    readings = readings_for(setting, (tuple(keys), kinds), asked)
    shape = shape_of(machine)
    flat = flattened(machine, shape)
    count = int(np.prod(shape, dtype=int))
    points = {key: np.full((len(LEVELS), count), np.nan) for key in keys}
    kept = {limit.name: np.full(count, np.nan) for limit in limits}
    all_kept = np.full(count, np.nan)
    step = max(1, LANES // draws)
    for first in range(0, count, step):
        rows = slice(first, min(first + step, count))
        full = (rows.stop - rows.start, draws)
        together = np.ones(full, dtype=np.bool_)
        with np.errstate(all="ignore"):
            drawn = unknowns.drawn(_upright(flat, rows), setting, uniform)
            found = [np.broadcast_to(one, full) for one in readings.of(*drawn, errors)]
        for key, column in zip(keys, found, strict=False):
            points[key][:, rows] = np.quantile(column, LEVELS, axis=1)
        for limit, held in zip(limits, found[len(keys) :], strict=True):
            kept[limit.name][rows] = held.mean(axis=1)
            if limit.kind == "hard":
                together &= held
        all_kept[rows] = together.mean(axis=1)
    return Spread(
        draws,
        {key: column.reshape(len(LEVELS), *shape) for key, column in points.items()},
        {name: column.reshape(shape) for name, column in kept.items()},
        all_kept.reshape(shape),
    )
