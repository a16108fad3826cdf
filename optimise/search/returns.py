"""Diminishing returns over machines: which to look at, and where to stop.

*Stairs* are the machines that split a piece quicker than any that costs no more; pieces that stay
whole count by their time (``Evaluation.split_period``). A second off every piece is worth what it
saves until an upgrade has to have paid, so the stair to stop at is the one with the most left over:
worth of the seconds off the piece, less outlay. Up to it the seconds of the stairs' lower hull cost
less than they are worth, beyond it more. The knee of the same stairs is a second opinion that knows
no money's worth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.search.goals import LEAST_GAIN
from optimise.search.plan import bends, knee


def stairs_of(periods: Array, outlays: Array) -> NDArray[np.intp]:
    """Places of points that are quicker than every one that costs no more, cheapest first."""
    order = np.lexsort((periods, outlays))
    quickest = np.minimum.accumulate(periods[order])
    first = np.ones(len(order), dtype=np.bool_)
    first[1:] = quickest[1:] < quickest[:-1] - LEAST_GAIN
    places: NDArray[np.intp] = order[first]
    return places


def worth_stop(periods: Array, outlays: Array, second_worth: float) -> int:
    """Stair with the most left over: worth of the seconds less the outlay; the first of equals."""
    return int(np.argmax(-second_worth * periods - outlays))


@dataclass(frozen=True, eq=False)
class Returns:
    """Diminishing returns over some machines.

    Attributes
    ----------
    places
        Of the stairs among the machines, cheapest first.
    outlays, periods, prices
        Of the stairs; price is money per second from the stair before, NaN for the first.
    worth_stair, knee_stair
        Stairs to stop at.
    next_price, next_stair
        Money per second of the best way on from the worth stair, and where it leads: infinite, and
        the worth stair itself, where there is none.
    """

    places: NDArray[np.intp]
    outlays: Array
    periods: Array
    prices: Array
    worth_stair: int
    knee_stair: int
    next_price: float
    next_stair: int

    def onward(self, nth: int) -> float:
        """Money per second of the best way on from a stair; infinite where there is none."""
        return _onward(self.periods, self.outlays, nth)[0]

    @property
    def bends(self) -> bool:
        """Whether the stairs have a knee at all."""
        return bends(self.periods, self.outlays)


def returns_of(periods: Array, outlays: Array, second_worth: float) -> Returns:
    """Stairs of one machine or more, and where to stop on them."""
    stairs = stairs_of(periods, outlays)
    outlays, periods = outlays[stairs], periods[stairs]
    best = worth_stop(periods, outlays, second_worth)
    prices = np.full(len(stairs), np.nan)
    prices[1:] = np.diff(outlays) / -np.diff(periods)
    next_price, next_stair = _onward(periods, outlays, best)
    return Returns(
        places=stairs,
        outlays=outlays,
        periods=periods,
        prices=prices,
        worth_stair=best,
        knee_stair=knee(periods, outlays),
        next_price=next_price,
        next_stair=next_stair,
    )


def _onward(periods: Array, outlays: Array, nth: int) -> tuple[float, int]:
    """Money per second of the best way on from a stair, and where it leads."""
    prices = (outlays[nth + 1 :] - outlays[nth]) / (periods[nth] - periods[nth + 1 :])
    if len(prices) == 0:
        return np.inf, nth
    return float(prices.min()), nth + 1 + int(np.argmin(prices))
