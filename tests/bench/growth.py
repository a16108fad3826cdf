"""Time of the exact front as the price lists grow, one list doubled after another."""

from __future__ import annotations

import dataclasses
import resource
import time
from collections.abc import Iterator

import numpy as np

from optimise.machine.parts import CATEGORIES, physical
from optimise.search.exact import exact_front
from optimise.study.model import PriceList
from optimise.study.space import Space
from tests.bench.common import Row, problem

LARGEST = 10**13


def denser(prices: PriceList, seed: int) -> PriceList:
    """List with a made-up part beside each: quantities and prices within 3 % of it."""
    chance = np.random.default_rng(seed)
    changed = {}
    for field in dataclasses.fields(prices.parts):
        column = np.asarray(getattr(prices.parts, field.name), dtype=np.float64)
        moved = column
        if field.name in {*physical(CATEGORIES[prices.category]), "price", "outlay"}:
            moved = column * chance.uniform(0.97, 1.03, column.shape)
        changed[field.name] = np.concatenate([column, moved])
    names = (*prices.names, *(f"{name}, another make" for name in prices.names))
    return PriceList(
        category=prices.category, names=names, parts=dataclasses.replace(prices.parts, **changed)
    )


def growth(name: str) -> Iterator[Row]:
    """Wall time, machines worked out and members of the front for each size."""
    space, setting = problem(name)
    place, first = 0, 0.0
    while True:
        start = time.perf_counter()
        front = exact_front(space, setting)
        spent = time.perf_counter() - start
        first = first or spent
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        note = (
            f"{front.evaluated:,} worked out, {len(front.designs.indices):,} on the front, "
            f"{memory:,.0f} MB at most so far"
        )
        yield Row(f"{name}: growth", f"{space.size:.3g} machines", spent, "s", spent / first, note)
        if space.size >= LARGEST:
            return
        lists = list(space.lists)
        lists[place] = denser(lists[place], place)
        space, place = Space(lists), (place + 1) % len(lists)
