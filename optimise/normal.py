"""The standard normal distribution, without loading a library of special functions for it."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from optimise.columns import Array, Column
from optimise.elementary import chosen, exponential, of_columns

_STANDARD = NormalDist()
_point = np.frompyfunc(_STANDARD.inv_cdf, 1, 1)

# (1 + 2 x) exp(x2) erfc(x) as a series of Chebyshev polynomials in t = (x - 3.75) / (x + 3.75), for
# x from 0 up; worked out with 50 figures, what is left out is under 1e-17.
_MIDDLE = 3.75
_FAR = 40.0
"""Where the share is nothing in 64 bits."""
_SERIES = (
    *(1.1775789345674017, -0.004590054580646478, -0.08424913336651792, 0.05920993999819189),
    *(-0.026658668435305753, 0.009074997670705265, -0.002413163540417608, 0.0004907758365258086),
    *(-6.916973302501207e-05, 4.13902798607301e-06, 7.740383066198491e-07, -2.1886401049234402e-07),
    *(1.0764999465670723e-08, 4.5219598112180145e-09, -7.754400208834395e-10),
    *(-6.318088340914295e-11, 2.8687950109113135e-11, 1.945586853844882e-13),
    *(-9.654696747825415e-13, 3.252548166362816e-14, 3.347811974968511e-14),
    *(-1.864562582130482e-15, -1.2507947824392546e-15, 7.418254222086145e-17),
    *(5.068156075955113e-17, -2.237116273477704e-18),
)


@of_columns
def share_below(number: Column) -> Column:
    """Share of a standard normal number that lies under ``number``; NaN for NaN.

    Examples
    --------
    >>> f"{share_below(1.0):.4f}"
    '0.8413'
    """
    size = chosen(number < 0.0, -number, number) * math.sqrt(0.5)
    size = chosen(size > _FAR, _FAR, size)
    t = (size - _MIDDLE) / (size + _MIDDLE)
    later: Column = 0.0
    following: Column = 0.0
    for coefficient in reversed(_SERIES[1:]):
        following, later = coefficient + 2.0 * t * following - later, following
    series = _SERIES[0] + t * following - later
    share = 0.5 * exponential(-(size * size)) * series / (1.0 + 2.0 * size)
    return chosen(number < 0.0, share, 1.0 - share)


def point_at(share: Column) -> Array:
    """Number under which a share of a standard normal one lies.

    Parameters
    ----------
    share
        More than 0 and less than 1; ``statistics.StatisticsError`` otherwise.
    """
    return np.asarray(_point(np.asarray(share, dtype=np.float64)), dtype=np.float64)
