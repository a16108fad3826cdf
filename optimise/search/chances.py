"""Hard limits that have to be kept with a chance: the same draws for every machine."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Column, Mask, as_column
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.search.priors import Belief
from optimise.search.unknowns import Unknowns

DRAWS = 128
"""Draws for each machine of a search: ends of a range are within 15 % of it, see the tests."""
SCATTER = 0.05
"""By how much a chance near 0.9 from so many draws may be off: twice its standard error."""


def limit_kept(limit: Limit, evaluation: Evaluation) -> Mask:
    """Where a limit is kept, by its screen where it has one; unknown is not kept."""
    margin: Column = (limit.screen or limit.margin)(evaluation)
    held: Mask = as_column(margin) >= 0.0
    return held


class Chances:
    """Draws of all that is not known, and in how many of them every hard limit must be kept.

    Parameters
    ----------
    setting
        As for :class:`~optimise.machine.evaluation.Evaluation`, numbers only.
    belief
        What is known of the constants.
    least
        Least share of the draws, from 0 to 1.
    draws, seed
        Number of draws; the same seed gives the same.
    """

    def __init__(
        self, setting: Setting, belief: Belief, least: float, draws: int = DRAWS, seed: int = 0
    ) -> None:
        self.belief = belief
        self.least = least
        self.draws = draws
        self.seed = seed
        self.needed = int((np.arange(draws + 1) / draws < least).sum())
        self._setting = setting
        self._unknowns = Unknowns(belief)
        self._uniform = self._unknowns.points(draws, seed)

    @property
    def meaning(self) -> str:
        """What is proven of machines that keep their limits so, and what is not."""
        return (
            f"machines that keep all hard limits by the plain numbers and in "
            f"{100.0 * self.least:g} % or more of {self.draws} draws of all that is not known, the "
            f"same draws for each; the chances themselves scatter by about {SCATTER:g}"
        )

    def evaluation(self, machine: Machine, draws: NDArray[np.intp]) -> Evaluation:
        """Machines laid along other axes than the last, some draws along the last."""
        return self._unknowns.evaluation(machine, self._setting, self._uniform[:, draws])
