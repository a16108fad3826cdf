"""Diminishing returns over machines: which to look at, and where to stop.

*Stairs* are the machines that split a piece quicker than any that costs no more. A machine that
leaves more pieces unsplit than the one asked about has to be given more of them: its time counts as
that for as many split pieces. A second off every
piece is worth what it saves until an upgrade has to have paid, so the stair to stop at is the one
with the most left over: worth of the seconds off the piece, less outlay. Up to it the seconds of
the stairs' lower hull cost less than they are worth, beyond it more. The knee of the same stairs is
a second opinion that knows no money's worth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.sheet import Sheet
from optimise.physics.work import period_for_as_many
from optimise.search.goals import LEAST_GAIN, PIECE, UNSPLIT
from optimise.search.plan import bends, knee


def periods_of(sheet: Sheet, base: Sheet) -> Array:
    """Time per piece of machines for as many split pieces as the one asked about splits, s."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(
            period_for_as_many(sheet.results[PIECE], sheet.results[UNSPLIT], base.results[UNSPLIT])
        )


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
    onward = (outlays[best + 1 :] - outlays[best]) / (periods[best] - periods[best + 1 :])
    return Returns(
        places=stairs,
        outlays=outlays,
        periods=periods,
        prices=prices,
        worth_stair=best,
        knee_stair=knee(periods, outlays),
        next_price=float(onward.min()) if len(onward) else np.inf,
        next_stair=best + 1 + int(np.argmin(onward)) if len(onward) else best,
    )
