"""One number or a column: the same bits in every lane, whatever stands beside it."""

import numpy as np
import pytest

from tests.physics.formulas import ARGUMENTS, MODULES, SCALARS_ONLY, formula, public_functions

NAMES = sorted(ARGUMENTS)
# Factors that carry the arguments across the branches (laminar and turbulent, governor and
# lugging, Euler and Johnson). A whole number of ulp is not needed: any factor will do.
SPREAD = (1.0, 1.13, 0.91)

# A lane in which this argument is unknown is still known.
DOES_NOT_NEED = {
    # on the governor the shape of the full-load curve does not matter
    ("engine.running_speed", 5),
    ("engine.running_speed", 6),
}


def lanes(name, spread=SPREAD):
    """Argument columns in which every argument moves on its own."""
    arguments = ARGUMENTS[name]
    columns = []
    for place, value in enumerate(arguments):
        turned = [spread[(lane + place * (lane + 1)) % len(spread)] for lane in range(len(spread))]
        columns.append(np.array([value * factor for factor in turned]))
    return columns


def outputs(result):
    return result if isinstance(result, tuple) else (result,)


def bits(value):
    return np.asarray(value, dtype=np.float64).view(np.int64)


def test_table_holds_every_public_formula():
    known = {f"{m}.{f.__name__}" for m in MODULES for f in public_functions(m)}
    assert known == set(ARGUMENTS) | SCALARS_ONLY


@pytest.mark.parametrize("name", NAMES)
def test_float_zero_d_and_column_agree_bit_by_bit(name):
    function, columns = formula(name), lanes(name)
    originals = [column.copy() for column in columns]
    for column in columns:
        column.flags.writeable = False
    together = outputs(function(*columns))
    for lane in range(3):
        floats = outputs(function(*(float(column[lane]) for column in columns)))
        zero_d = outputs(function(*(np.array(column[lane]) for column in columns)))
        for whole, single, zero in zip(together, floats, zero_d, strict=True):
            assert whole.dtype == np.float64
            assert whole.shape == (3,)
            assert np.ndim(single) == np.ndim(zero) == 0
            assert isinstance(single, float) or np.asarray(single).dtype == np.float64
            assert np.isfinite(single)
            assert bits(single) == bits(whole[lane])
            assert bits(zero) == bits(whole[lane])
    for column, original in zip(columns, originals, strict=True):
        assert column.tobytes() == original.tobytes()


@pytest.mark.parametrize("name", NAMES)
def test_a_lane_of_nan_stays_alone(name):
    function, columns = formula(name), lanes(name)
    clean = outputs(function(*columns))
    spoilt = [np.insert(column, 1, np.nan) for column in columns]
    for before, after in zip(clean, outputs(function(*spoilt)), strict=True):
        assert np.isnan(after[1])
        assert np.array_equal(bits(np.delete(after, 1)), bits(before))


@pytest.mark.parametrize("name", NAMES)
def test_one_unknown_argument_makes_the_result_unknown(name):
    function, arguments = formula(name), ARGUMENTS[name]
    for place in range(len(arguments)):
        if (name, place) in DOES_NOT_NEED:
            continue
        given = [np.array([value]) for value in arguments]
        given[place] = np.array([np.nan])
        results = outputs(function(*given))
        assert any(np.isnan(result).all() for result in results), place


@pytest.mark.parametrize("name", NAMES)
def test_long_and_strided_columns_agree_bit_by_bit(name):
    """Vector instructions, their tails and strides do not change a bit."""
    function = formula(name)
    factors = np.linspace(0.93, 1.07, 37)
    columns = [value * np.roll(factors, 5 * place) for place, value in enumerate(ARGUMENTS[name])]
    together = outputs(function(*columns))
    wide = [np.repeat(column, 3)[::3] for column in columns]
    strided = outputs(function(*wide))
    for lane in range(37):
        floats = outputs(function(*(float(column[lane]) for column in columns)))
        for whole, spread, single in zip(together, strided, floats, strict=True):
            assert bits(whole[lane]) == bits(single)
            assert bits(spread[lane]) == bits(single)


@pytest.mark.parametrize("name", NAMES)
def test_a_float_beside_a_column_broadcasts(name):
    """A study constant given once equals the same constant given in every lane."""
    function, columns = formula(name), lanes(name)
    for place, constant in enumerate(ARGUMENTS[name]):
        if len(columns) == 1:
            continue
        once = [*columns[:place], constant, *columns[place + 1 :]]
        spread = [*columns[:place], np.full(3, constant), *columns[place + 1 :]]
        for left, right in zip(outputs(function(*once)), outputs(function(*spread)), strict=True):
            assert np.array_equal(
                bits(np.broadcast_to(left, (3,)).copy()),
                bits(np.broadcast_to(right, (3,)).copy()),
            )
