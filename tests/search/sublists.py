"""Random small parts of a study's price lists, with prices drawn anew."""

from __future__ import annotations

import dataclasses

import numpy as np

from optimise.machine.parts import take
from optimise.study.model import PriceList
from optimise.study.space import Space


def sublists(space: Space, chance: np.random.Generator, keep: tuple[int, ...], most: int) -> Space:
    """Space with few parts: each list has the part at ``keep`` first, then others at random.

    About half of the categories have the kept part only; the others have up to ``most`` parts.
    Outlays are drawn anew: the kept part costs nothing, some others neither.
    """
    lists = []
    for place, prices in enumerate(space.lists):
        count = len(prices.names)
        others = [part for part in range(count) if part != keep[place]]
        number = int(chance.integers(1, most)) if chance.random() < 0.55 else 0
        chosen = chance.permutation(others)[:number].tolist()
        lanes = np.array([keep[place], *chosen], dtype=np.intp)
        outlay = np.concatenate([[0.0], chance.integers(-2, 40, len(chosen)) * 10.0])
        parts = dataclasses.replace(take(prices.parts, lanes), outlay=outlay)
        names = tuple(prices.names[lane] for lane in lanes)
        lists.append(PriceList(category=prices.category, names=names, parts=parts))
    return Space(lists)
