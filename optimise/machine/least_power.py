"""Least power that a machine may take with worse hoses, filter and cooler: a bound for a search.

A wider hose may keep the pump in high stage against more wood, which takes more power: so power and
heat have no better direction in hoses. At given stages they have one, and worse parts only take
phases down a ladder of stages: regenerative, both sections, hunting, small section alone. While the
unloader hunts, time and work of a phase are both straight in the share of the large section, so
that the ends of a rung bound what lies between.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from optimise.columns import Column
from optimise.machine.strokes import Phase, Strokes

LEAST_STEP = 1e-12
"""Relative fall of a least mean under which it has been found."""


def least_power(
    ladder: Sequence[Strokes], period: Callable[[Column, Column], Column], *, counts_wood: bool
) -> tuple[Column, Column]:
    """Least mean power while splitting, and standing in neutral, over the rungs of a ladder [W].

    The mean is a ratio of sums over the phases. The least is found by choosing for each phase what
    takes least over the last mean, which falls until it stays (Dinkelbach, On nonlinear fractional
    programming, Management Science 13, 1967).

    Parameters
    ----------
    ladder
        Strokes in the machine's own stages first, then in ever slower ones, the small section alone
        last.
    period
        Time of a piece [s] from those of its out and back stroke.
    counts_wood
        Whether the mean is of shaft power; of what does not split wood otherwise.
    """
    ends = (ladder[0], *ladder[-2:])
    standing: Column = np.inf
    for strokes in ends:
        standing = np.fmin(standing, strokes.neutral.power)
    phases = list(zip(*(strokes.out_phases for strokes in ladder), strict=True))
    least: Column = np.inf
    for back in (strokes.back_phase for strokes in ends):
        rest = period(0.0, back.time)
        spent = back.time * back.power + (rest - back.time) * standing
        if not counts_wood:
            spent = spent - ladder[0].wood_work
        least = np.fmin(least, _least_mean(phases, spent, rest))
    return least, standing


def _least_mean(phases: Sequence[Sequence[Phase]], spent: Column, rest: Column) -> Column:
    """Least of (work of phases + ``spent``) / (time of phases + ``rest``), one choice for each.

    Parameters
    ----------
    phases
        For each phase of the out stroke what it may be; a choice with no time is none.
    spent, rest
        Work [J] and time [s] of all else.
    """
    mean: Column = np.inf
    guess: Column = 0.0
    while True:
        work, time = spent, rest
        for choices in phases:
            best: Column = np.inf
            taken: tuple[Column, Column] = (np.nan, np.nan)
            for phase in choices:
                over = phase.time * (phase.power - guess)
                better = np.asarray(over) < best
                best = np.where(better, over, best)
                taken = (
                    np.where(better, phase.time, taken[0]),
                    np.where(better, phase.power, taken[1]),
                )
            work, time = work + taken[0] * taken[1], time + taken[0]
        found = work / time
        if not np.any(np.asarray(found) < mean * (1.0 - LEAST_STEP)):
            return np.fmin(mean, found)
        mean = np.fmin(mean, found)
        guess = mean
