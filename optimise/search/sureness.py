"""How sure the designs of a front are: range of the cycle, chance of keeping every hard limit."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.machine.sheet import LimitReading, Sheet
from optimise.search.front import FrontAnswer
from optimise.search.priors import Belief
from optimise.search.uncertainty import spread_of
from optimise.study.space import Space

CYCLE = "cycle.total_s"
DRAWS = 128
"""Draws for each design of a front: ends within 15 % of the range, see the tests."""
SCATTER = 0.05
"""By how much a chance near 0.9 from so many draws may be off: twice its standard error."""


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


@dataclass(frozen=True)
class Asked:
    """Designs asked to keep their hard limits with a chance.

    Attributes
    ----------
    chance
        Asked for.
    members, sure
        Designs of the plain front, and those of them that have it.
    surest
        Largest chance of a member.
    """

    chance: float
    members: int
    sure: int
    surest: float

    @property
    def meaning(self) -> str:
        """What is proven of the designs and what is not."""
        return (
            f"designs of the plain front that keep all hard limits in {100.0 * self.chance:g} % of "
            f"{DRAWS} draws or more (chances scatter by about {SCATTER:g}); that each is on the "
            "plain front is proven, that no sure machine off it is better is not"
        )


def sureness_of(space: Space, answer: FrontAnswer, setting: Setting, belief: Belief) -> Sureness:
    """Range and chances of each design of a front; the same draws stand behind all of them."""
    spread = spread_of(space.machine(answer.indices), setting, belief, keys=(CYCLE,), draws=DRAWS)
    names = np.asarray(list(spread.kept), dtype=np.str_)
    kept = np.stack(list(spread.kept.values()))
    points = spread.points[CYCLE]
    least = kept.min(axis=0)
    return Sureness(points[0], points[-1], spread.all_kept, least, names[kept.argmin(axis=0)])


def only_sure(
    answer: FrontAnswer, sureness: Sureness, chance: float
) -> tuple[FrontAnswer, Sureness, Asked]:
    """Designs of a front that keep every hard limit with a chance; not proven to be a front."""
    lanes = np.flatnonzero(sureness.all_kept >= chance)
    asked = Asked(
        chance, len(answer.indices), len(lanes), float(sureness.all_kept.max(initial=0.0))
    )
    sheet = Sheet(
        {key: column[lanes] for key, column in answer.sheet.results.items()},
        tuple(
            LimitReading(one.limit, one.value[lanes], one.bound[lanes], one.margin[lanes])
            for one in answer.sheet.limits
        ),
    )
    some = dataclasses.replace(
        answer, indices=answer.indices[lanes], sheet=sheet, proven=False, why_not=asked.meaning
    )
    return some, sureness.some(lanes), asked
