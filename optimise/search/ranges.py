"""Ranges of one machine's results, chances of its limits, and what drives its cycle time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.machine.parts import Machine
from optimise.machine.results import RESULTS
from optimise.machine.setting import Setting
from optimise.search.drivers import influences
from optimise.search.knowledge import Knowledge
from optimise.search.uncertainty import DRAWS, spread_of

DRIVEN = "cycle.total_s"
"""Result whose drivers are told."""
SMALL = 0.05
"""Share of the variance under which a driver is not worth a word."""


@dataclass(frozen=True)
class Driver:
    """One thing not known, and its share of the variance of the cycle time with interactions."""

    name: str
    share: float


@dataclass(frozen=True)
class Ranges:
    """What is known of one machine beside its point values.

    Attributes
    ----------
    knowledge
        What the ranges rest on.
    draws
        Number of draws behind them.
    intervals
        Ends of the 90 % interval of each result that is not certain, SI, by key; NaN where some
        draw has no flow balance.
    chances
        Chance of keeping each limit, by name.
    all_kept
        Chance of keeping every hard limit at once.
    drivers
        Largest first; empty where the cycle time is unknown in some draw.
    """

    knowledge: Knowledge
    draws: int
    intervals: dict[str, tuple[float, float]]
    chances: dict[str, float]
    all_kept: float
    drivers: tuple[Driver, ...]


def ranges_of(machine: Machine, setting: Setting, knowledge: Knowledge) -> Ranges | None:
    """Ranges of one machine, every field one number; None where nothing is known of constants."""
    belief = knowledge.belief
    if belief is None:
        return None
    keys = tuple(result.key for result in RESULTS)
    spread = spread_of(machine, setting, belief, keys=keys, kinds=("hard", "advisory"))
    intervals = {
        key: (float(points[0]), float(points[-1]))
        for key, points in spread.points.items()
        if points[0] != points[-1]
    }
    shares = influences(machine, setting, belief, keys=(DRIVEN,))
    drivers = tuple(
        Driver(name, min(max(float(share), 0.0), 1.0))
        for name, share in zip(shares.factors, shares.total[0], strict=True)
        if np.isfinite(share)
    )
    return Ranges(
        knowledge,
        DRAWS,
        intervals,
        {name: float(chance) for name, chance in spread.kept.items()},
        float(spread.all_kept),
        tuple(sorted(drivers, key=lambda driver: -driver.share)),
    )
