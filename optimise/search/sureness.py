"""How sure the designs of a front are: range of the cycle, chance of keeping every hard limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.search.chances import DRAWS
from optimise.search.crew import ALONE, Crew, Effort
from optimise.search.front import FrontAnswer
from optimise.search.goals import STANDARD
from optimise.search.priors import Belief
from optimise.search.problem import Problem, Progress, Tally
from optimise.search.uncertainty import spread_of
from optimise.study.space import Space

CYCLE = "cycle.total_s"


SHARE = 256
"""Designs that a worker gets at a time."""


@dataclass(frozen=True)
class _Share:
    indices: NDArray[np.intp]
    belief: Belief


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


def sureness_of(
    space: Space,
    answer: FrontAnswer,
    setting: Setting,
    belief: Belief,
    progress: Progress | None = None,
    effort: Effort = ALONE,
) -> Sureness:
    """Range and chances of each design of a front; the same draws stand behind all of them.

    The designs are shared among the workers of ``effort``; its time does not count here.
    """
    count = len(answer.indices)
    loads = [
        _Share(answer.indices[first : first + SHARE], belief)
        for first in range(0, max(count, 1), SHARE)
    ]
    tally = Tally()
    with (
        np.errstate(all="ignore"),
        Crew(Problem(space, setting, STANDARD), effort, tally, progress) as crew,
    ):
        crew.stage("how sure each of them is", 0.0, 1.0)
        parts = crew.each(_sure_share, loads)
    low, high, all_kept, least, least_limit = map(np.concatenate, zip(*parts, strict=True))
    return Sureness(low, high, all_kept, least, least_limit)


def _sure_share(problem: Problem, share: _Share, tally: Tally) -> tuple[NDArray[Any], ...]:
    """Columns of :class:`Sureness` of some designs."""
    machine = problem.space.machine(share.indices)
    spread = spread_of(machine, problem.setting, share.belief, keys=(CYCLE,), draws=DRAWS)
    tally.add(len(share.indices))
    names = np.asarray(list(spread.kept), dtype=np.str_)
    kept = np.stack(list(spread.kept.values()))
    points = spread.points[CYCLE]
    least = kept.min(axis=0)
    return points[0], points[-1], spread.all_kept, least, names[kept.argmin(axis=0)]
