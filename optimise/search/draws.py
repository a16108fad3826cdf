"""Points that fill a space evenly, and normal numbers from them."""

from __future__ import annotations

import numpy as np

from optimise.columns import Array
from optimise.normal import point_at

_EDGE = 2.0**-40


def even_points(dimensions: int, count: int, seed: int) -> Array:
    """Latin hypercube sample in the open unit cube, shape (dimensions, count).

    Every row has one point in each of ``count`` equal strata, in random order (McKay, Beckman and
    Conover, Technometrics 21 (1979), 239): what depends on each number by itself is sampled far
    better than by plain random numbers. The same seed gives the same bytes.
    """
    chance = np.random.default_rng(seed)
    order = chance.permuted(np.tile(np.arange(count), (dimensions, 1)), axis=1)
    points: Array = (order + chance.random((dimensions, count))) / count
    return np.clip(points, _EDGE, 1.0 - _EDGE)


def golden_points(dimensions: int, count: int) -> Array:
    """Kronecker sequence in the open unit cube, shape (dimensions, count); for few dimensions.

    Step in row j: g^-(j+1) with g^(d+1) = g + 1, the golden ratio for one dimension. Pairs and
    triples of rows are even too, not only each by itself (Niederreiter, Random Number Generation
    and Quasi-Monte Carlo Methods, 1992, ch. 3; the choice of steps: common practice, no source).
    """
    ratio = 2.0
    for _ in range(60):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1.0)
    points: Array = (0.5 + steps[:, None] * np.arange(1, count + 1)) % 1.0
    return np.clip(points, _EDGE, 1.0 - _EDGE)


def normal_of(uniform: Array) -> Array:
    """Standard normal numbers from uniform ones."""
    return point_at(uniform)
