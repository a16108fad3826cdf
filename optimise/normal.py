"""The standard normal distribution, without loading a library of special functions for it."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from optimise.columns import Array, Column

_STANDARD = NormalDist()
_below = np.frompyfunc(lambda x: 0.5 * math.erfc(-x / math.sqrt(2.0)), 1, 1)
_point = np.frompyfunc(_STANDARD.inv_cdf, 1, 1)


def share_below(number: Column) -> Array:
    """Share of a standard normal number that lies under ``number``; NaN for NaN."""
    return np.asarray(_below(np.asarray(number, dtype=np.float64)), dtype=np.float64)


def point_at(share: Column) -> Array:
    """Number under which a share of a standard normal one lies.

    Parameters
    ----------
    share
        More than 0 and less than 1; ``statistics.StatisticsError`` otherwise.
    """
    return np.asarray(_point(np.asarray(share, dtype=np.float64)), dtype=np.float64)
