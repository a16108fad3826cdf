"""Elementary functions against numpy's, and the same bits however they are asked for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.compiled.kernels import Kernel
from optimise.elementary import cosine, exponential, log10, power, sine

DRAW = np.random.default_rng(5)
POSITIVE = np.concatenate([10.0 ** DRAW.uniform(-300, 300, 4000), 1.0 + DRAW.normal(0, 1e-3, 999)])
EDGES = np.array([0.0, 1.0, np.inf, np.nan, -1.0, 5e-300, 1e-310, 5e-324])
ANGLES = np.concatenate([DRAW.uniform(-50.0, 50.0, 4000), np.pi * np.arange(-4, 5) / 2.0])


def units_off(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance in units of the last place."""
    return float(np.max(np.abs(found - true) / np.spacing(np.abs(true))))


def test_logarithm() -> None:
    assert units_off(log10(POSITIVE), np.log10(POSITIVE)) <= 4.0
    assert log10(EDGES[:3]).tolist() == [-np.inf, 0.0, np.inf]
    assert np.isnan(log10(EDGES[3:5])).all()


@given(st.floats(1e-9, 1e9), st.floats(-4.0, 4.0).filter(lambda x: abs(x) > 1e-3))
def test_power(base: float, exponent: float) -> None:
    true = float(np.power(np.longdouble(base), np.longdouble(exponent)))
    scale = 1.0 + abs(exponent * np.log(base))
    assert power(base, exponent) == pytest.approx(true, rel=3e-16 * scale)


def test_power_and_exponential_at_the_edges() -> None:
    assert power(0.0, 1.11) == 0.0
    assert power(10.0, 400.0) == np.inf
    assert power(10.0, -400.0) == 0.0
    assert np.isnan(power(np.nan, 2.0))
    assert exponential(np.array([-np.inf, 0.0, np.inf])).tolist() == [0.0, 1.0, np.inf]
    far = np.array([-707.9, -700.0, 700.0, 708.9])
    assert exponential(far) == pytest.approx(np.exp(far), rel=1e-12)


def test_sine_and_cosine() -> None:
    assert sine(ANGLES) == pytest.approx(np.sin(ANGLES), abs=4e-16)
    assert cosine(ANGLES) == pytest.approx(np.cos(ANGLES), abs=8e-15)


@pytest.mark.parametrize(
    ("act", "numbers"),
    [
        (log10, np.concatenate([POSITIVE, EDGES])),
        (lambda x: power(x, 1.11), np.concatenate([POSITIVE[:500] ** 0.1, EDGES])),
        (lambda x: power(10.0, x), np.concatenate([ANGLES, EDGES])),
        (exponential, np.concatenate([ANGLES * 20.0, EDGES])),
        (sine, ANGLES),
        (cosine, ANGLES),
    ],
)
def test_same_bits_alone_in_a_column_and_compiled(act, numbers) -> None:
    with np.errstate(all="ignore"):
        column = act(numbers)
        assert np.array_equal(column, [act(float(x)) for x in numbers], equal_nan=True)
        assert np.array_equal(column, [act(x) for x in numbers], equal_nan=True)
        compiled = Kernel(lambda x: [act(x)], 1)([numbers], numbers.size)[0]
    assert np.array_equal(column, compiled, equal_nan=True)
