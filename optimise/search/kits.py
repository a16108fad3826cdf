"""Upgrade kits for the machine owned: the cheapest for each group of buyers, and the best value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array
from optimise.machine.sheet import sheet_of
from optimise.search.front import FrontAnswer, find_front
from optimise.search.goals import CYCLE, LEAST_GAIN, PACES, PIECE, STANDARD
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
    cycle_time, piece_time, force
        Of the machine with the kit on: without a log, a piece with hands and wood [s, s, N].
    seconds_gained
        Off a piece, against the machine owned [s].
    """

    parts: dict[str, str]
    fitting_time: float
    outlay: float
    price: float
    cycle_time: float
    piece_time: float
    force: float
    seconds_gained: float

    @property
    def per_second(self) -> float | None:
        """Price of each second off a piece; None where none is gained."""
        return self.price / self.seconds_gained if self.seconds_gained > LEAST_GAIN else None


@dataclass(frozen=True)
class Kits:
    """Kits of a study.

    Attributes
    ----------
    cycle_time, piece_time, force
        Of the machine owned.
    for_groups
        Cheapest kit that reaches force and cycle time of each group; None where no kit does.
    best_value
        Kit with the least price for each second off a piece that loses no force; None where none
        gains.
    """

    cycle_time: float
    piece_time: float
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
    by_piece: FrontAnswer | None = None,
) -> Kits:
    """Kits out of two exact fronts: of cycle time, and of time per piece, with force and outlay.

    Groups ask for a cycle time, so their cheapest kits stand on the first front. The least price
    for each second off a piece stands on the second: a machine that is no weaker, takes no longer
    for a piece and is no dearer has no higher one. Both, of the machines that the study searches,
    may be handed over.
    """
    space = searched_space(study)
    front = front or find_front(space, study.setting, progress)
    by_piece = by_piece or find_front(space, study.setting, progress, PACES["piece"])
    owned = sheet_of(owned_machine(study), study.setting)
    cycle_time, piece_time, force = (float(owned.results[key]) for key in (CYCLE, PIECE, "force_N"))

    def kit(of: FrontAnswer, lane: int) -> Kit:
        row = of.indices[lane]
        names = space.names(row)
        new = {part: name for part, name in names.items() if name != study.owned[part]}
        fitting = sum(
            float(np.asarray(prices.parts.fitting_time)[position])
            for prices, position in zip(space.lists, row, strict=True)
            if prices.category in new
        )
        outlay, cycle, piece, strength = (
            float(of.sheet.results[key][lane]) for key in ("cost.outlay", CYCLE, PIECE, "force_N")
        )
        price = _kit_price(terms, outlay)
        return Kit(new, fitting, outlay, price, cycle, piece, strength, piece_time - piece)

    def cheapest(need: Need) -> Kit | None:
        times, forces, outlays = (front.sheet.results[key] for key in STANDARD.keys)
        does = np.flatnonzero((times <= need.cycle_time) & (forces >= need.force))
        return kit(front, int(does[np.argmin(outlays[does])])) if len(does) else None

    times, forces, outlays = (by_piece.sheet.results[key] for key in by_piece.objectives)
    gained = piece_time - times
    better = np.flatnonzero((forces >= force) & (gained > LEAST_GAIN))
    best = None
    if len(better):
        prices: Array = np.array([_kit_price(terms, float(outlay)) for outlay in outlays[better]])
        best = kit(by_piece, int(better[np.argmin(prices / gained[better])]))
    return Kits(cycle_time, piece_time, force, tuple(cheapest(need) for need in needs), best)
