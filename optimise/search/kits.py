"""Upgrade kits for the machine owned: the cheapest for each group of buyers, and the best value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array
from optimise.machine.sheet import sheet_of
from optimise.search.front import OBJECTIVES, FrontAnswer, find_front
from optimise.search.lineup import Need, Terms
from optimise.search.problem import Progress
from optimise.study.model import Study
from optimise.study.space import owned_machine, searched_space


@dataclass(frozen=True)
class Kit:
    """Parts that turn the machine owned into another of the price lists.

    Attributes
    ----------
    parts
        Names of the parts that are new, by category.
    fitting_time
        To fit them [s].
    outlay
        Parts and hours, less what the parts taken off bring.
    price
        With the study's margin; nothing where the parts taken off bring more than the kit costs.
    cycle_time, seconds_gained, force
        Of the machine with the kit on, gained against the machine owned [s, s, N].
    """

    parts: dict[str, str]
    fitting_time: float
    outlay: float
    price: float
    cycle_time: float
    seconds_gained: float
    force: float

    @property
    def per_second(self) -> float | None:
        """Price of each second gained; None where none is."""
        return self.price / self.seconds_gained if self.seconds_gained > 0.0 else None


@dataclass(frozen=True)
class Kits:
    """Kits of a study.

    Attributes
    ----------
    cycle_time, force
        Of the machine owned.
    for_groups
        Cheapest kit that reaches force and cycle time of each group; None where no kit does.
    best_value
        Kit with the least price for each second gained that loses no force; None where none gains.
    """

    cycle_time: float
    force: float
    for_groups: tuple[Kit | None, ...]
    best_value: Kit | None


def _kit_price(terms: Terms, outlay: float) -> float:
    return terms.price(max(outlay, 0.0))


def upgrade_kits(
    study: Study,
    needs: Sequence[Need],
    terms: Terms,
    progress: Progress | None = None,
    front: FrontAnswer | None = None,
) -> Kits:
    """Kits out of the exact front of cycle time, force and outlay.

    The front holds the cheapest kit for any force and cycle time, and the one with the least price
    for each second: a machine that is no weaker, no slower and no dearer has no higher one.
    A ``front`` of the machines that the study searches may be handed over.
    """
    space = searched_space(study)
    front = front or find_front(space, study.setting, progress)
    owned = sheet_of(owned_machine(study), study.setting)
    cycle_time, force = (float(owned.results[key]) for key in OBJECTIVES[:2])
    times, forces, outlays = (np.asarray(front.sheet.results[key]) for key in OBJECTIVES)

    def kit(lane: int) -> Kit:
        row = front.indices[lane]
        names = space.names(row)
        new = {part: name for part, name in names.items() if name != study.owned[part]}
        fitting = sum(
            float(np.asarray(prices.parts.fitting_time)[position])
            for prices, position in zip(space.lists, row, strict=True)
            if prices.category in new
        )
        outlay, time = float(outlays[lane]), float(times[lane])
        price = _kit_price(terms, outlay)
        return Kit(new, fitting, outlay, price, time, cycle_time - time, float(forces[lane]))

    def cheapest(need: Need) -> Kit | None:
        does = np.flatnonzero((times <= need.cycle_time) & (forces >= need.force))
        return kit(int(does[np.argmin(outlays[does])])) if len(does) else None

    stronger = np.flatnonzero((forces >= force) & (times < cycle_time))
    best = None
    if len(stronger):
        prices: Array = np.array([_kit_price(terms, float(outlay)) for outlay in outlays[stronger]])
        best = kit(int(stronger[np.argmin(prices / (cycle_time - times[stronger]))]))
    return Kits(cycle_time, force, tuple(cheapest(need) for need in needs), best)
