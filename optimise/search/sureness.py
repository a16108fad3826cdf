"""How sure the designs of a front are: range of the cycle, chance of keeping every hard limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.search.chances import DRAWS
from optimise.search.front import FrontAnswer
from optimise.search.priors import Belief
from optimise.search.uncertainty import spread_of
from optimise.study.space import Space

CYCLE = "cycle.total_s"


@dataclass(frozen=True, eq=False)
class Sureness:
    """Columns over the designs of a front.

    Attributes
    ----------
    low, high
        Ends of the cycle time's 90 % interval [s].
    all_kept
        Chance of keeping every hard limit at once.
    least, least_limit
        Smallest chance of a single hard limit, and its name.
    """

    low: Array
    high: Array
    all_kept: Array
    least: Array
    least_limit: NDArray[np.str_]

    def some(self, lanes: NDArray[np.intp]) -> Sureness:
        """The same of some designs."""
        return Sureness(*(column[lanes] for column in vars(self).values()))


def sureness_of(space: Space, answer: FrontAnswer, setting: Setting, belief: Belief) -> Sureness:
    """Range and chances of each design of a front; the same draws stand behind all of them."""
    spread = spread_of(space.machine(answer.indices), setting, belief, keys=(CYCLE,), draws=DRAWS)
    names = np.asarray(list(spread.kept), dtype=np.str_)
    kept = np.stack(list(spread.kept.values()))
    points = spread.points[CYCLE]
    least = kept.min(axis=0)
    return Sureness(points[0], points[-1], spread.all_kept, least, names[kept.argmin(axis=0)])
