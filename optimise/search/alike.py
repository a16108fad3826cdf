"""Machines that stand for those nearly alike: a view of a front for people, beside the front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.errors import CallError, quoted
from optimise.search.front import OBJECTIVES, FrontAnswer
from optimise.units import UnitFault, parse

USUAL_TIME = 0.05
"""Cycle time [s] that few stopwatches tell apart by hand; common practice, no source."""
USUAL_SHARE = 0.02
"""Share of a machine's price that hardly decides; common practice, no source."""


@dataclass(frozen=True)
class Apart:
    """A view of a front.

    Attributes
    ----------
    time
        Seconds by which a machine may be slower than one that it stands for.
    share
        Share of the price of that one by which it may be dearer.
    stand_in
        For each design the position of the one that stands for it, shape (n,); no weaker, and its
        own where it is shown.
    """

    time: float
    share: float
    stand_in: NDArray[np.intp]

    @property
    def shown(self) -> NDArray[np.intp]:
        """Positions of the designs that stand for all."""
        return np.unique(self.stand_in)


def apart(answer: FrontAnswer, time: float = USUAL_TIME, share: float = USUAL_SHARE) -> Apart:
    """Few designs of a front that stand for all: each time the one that stands for most is taken.

    Parameters
    ----------
    answer
        Front with its results.
    time
        Least difference of cycle time that counts [s].
    share
        Least difference of money that counts, as a share of the dearer machine's price.
    """
    results = answer.sheet.results
    times, forces, outlays = (np.asarray(results[key], dtype=np.float64) for key in OBJECTIVES)
    prices = np.asarray(results["cost.price"], dtype=np.float64)
    return Apart(
        time, share, _cover(times, forces, outlays, times + time, outlays + share * prices)
    )


def read_apart(words: str) -> tuple[float, float]:
    """Time [s] and share of the price from words such as ``0.05 s, 2 %``.

    Raises
    ------
    CallError
        They cannot be read, or are less than nothing.
    """
    time, comma, share = words.partition(",")
    told = [
        f"--apart {quoted(words)}: expected a time and a share of the price, both 0 or more, with "
        'a comma between, such as "0.05 s, 2 %"'
    ]
    found: list[float] = []
    for part, kind in ((time, "time"), (share, "share")) if comma else ():
        try:
            found.append(parse(part.strip(), kind))
        except UnitFault as fault:
            told.append(str(fault))
    if len(found) < 2 or min(found) < 0.0:
        raise CallError("; ".join(told))
    return found[0], found[1]


def _cover(
    times: Array, forces: Array, outlays: Array, latest: Array, dearest: Array
) -> NDArray[np.intp]:
    covers = (times[:, None] <= latest[None, :]) & (outlays[:, None] <= dearest[None, :])
    covers &= forces[:, None] >= forces[None, :]
    stand_in = np.full(len(times), -1, dtype=np.intp)
    left = np.ones(len(times), dtype=np.bool_)
    counts = covers.sum(axis=1)
    while left.any():
        chosen = int(counts.argmax())
        newly = covers[chosen] & left
        stand_in[newly] = chosen
        left &= ~newly
        counts = counts - covers[:, newly].sum(axis=1)
    shown = np.unique(stand_in)
    stand_in[shown] = shown
    return stand_in
