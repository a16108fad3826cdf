"""The benchmark's made-up parts: lists twice as long, close to the listed ones."""

from __future__ import annotations

import numpy as np

from tests.bench.common import problem, random_rows
from tests.bench.growth import denser


def test_a_denser_list_holds_the_listed_parts_and_as_many_near_them() -> None:
    space, _ = problem("kvarnby")
    for prices in space.lists:
        twice = denser(prices, 1)
        count = len(prices.names)
        assert len(set(twice.names)) == 2 * count
        assert twice.names[:count] == prices.names
        price = np.asarray(twice.parts.price)
        assert np.array_equal(price[:count], np.asarray(prices.parts.price))
        near = price[count:][price[:count] > 0.0] / price[:count][price[:count] > 0.0]
        assert ((near >= 0.97) & (near <= 1.03)).all()
        assert (near != 1.0).all()


def test_random_machines_are_of_the_space() -> None:
    space, _ = problem("kvarnby")
    rows = random_rows(space, 500)
    assert (rows >= 0).all()
    assert (rows < np.array(space.sizes)).all()
    assert len(np.unique(rows, axis=0)) == 500
