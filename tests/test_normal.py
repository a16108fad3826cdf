"""The standard normal distribution against a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from optimise.normal import point_at, share_below


def test_shares_equal_those_of_the_reference_library() -> None:
    numbers = np.concatenate([np.linspace(-37.0, 9.0, 2001), [-np.inf, np.inf, 0.0]])
    assert share_below(numbers) == pytest.approx(ndtr(numbers), rel=1e-12, abs=1e-300)
    assert np.isnan(share_below(np.nan))


def test_points_equal_those_of_the_reference_library() -> None:
    shares = np.concatenate([np.geomspace(1e-300, 0.5, 500), 1.0 - np.geomspace(1e-15, 0.5, 500)])
    assert point_at(shares) == pytest.approx(ndtri(shares), rel=1e-12, abs=1e-12)


def test_a_number_and_a_column_give_the_same_bits() -> None:
    numbers = np.linspace(-4.0, 4.0, 17)
    assert [float(share_below(x)) for x in numbers] == share_below(numbers).tolist()
    shares = share_below(numbers)
    assert [float(point_at(p)) for p in shares] == point_at(shares).tolist()
