"""The solver and its helpers close every lane by itself, whatever the start and the company."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimise.columns import (
    guessed,
    keep,
    solve_falling,
    together,
    trail_of,
    waypoint_at,
)

END = 10.0
TOLERANCE = 1e-9


def falling(root, bend):
    """Cubic that falls through a root."""
    return lambda x: (root - x) * (1.0 + bend * (root - x) ** 2)


def solved(function, start, width=1.0):
    lanes = np.size(start)
    seen = []

    def residual(x, _):
        seen.append(x)
        return function(x)

    found, closed = solve_falling(
        residual,
        np.zeros(lanes),
        np.full(lanes, END),
        np.asarray(start, dtype=float).reshape(lanes),
        np.full(lanes, TOLERANCE),
        width,
    )
    assert closed.all()
    return found, len(seen)


@settings(deadline=None)
@given(
    st.floats(0.01, 9.99),
    st.floats(0.0, 5.0),
    st.floats(0.0, END),
)
def test_root_equals_that_of_scipy(root, bend, start):
    function = falling(root, bend)
    expected = brentq(function, 0.0, END, xtol=1e-12)
    assert solved(function, [start])[0][0] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("root", "end"), [(-3.0, 0.0), (14.0, END)])
def test_without_a_change_of_sign_the_nearer_end_is_found_at_once(root, end):
    found, looks = solved(falling(root, 2.0), [5.0])
    assert found[0] == end
    assert looks <= 4


def test_a_jump_is_found_to_the_width_asked_for():
    def step(x):
        return np.where(x < 7.3, 50.0, -50.0)

    coarse, few = solved(step, [1.0], 1e6)
    fine, many = solved(step, [1.0])
    assert abs(coarse[0] - 7.3) < 1e6 * TOLERANCE
    assert abs(fine[0] - 7.3) < 2 * TOLERANCE
    assert few < many


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(-1.0, 11.0), st.floats(0.0, 5.0)), min_size=1, max_size=40))
def test_a_lane_has_the_same_bits_in_any_company(lanes):
    roots, bends = np.array(lanes).T
    alone = [
        solve_falling(
            lambda x, _, root=root, bend=bend: falling(root, bend)(x),
            np.zeros(1),
            np.full(1, END),
            np.full(1, 5.0),
            np.full(1, TOLERANCE),
            1.0,
        )[0][0]
        for root, bend in lanes
    ]

    def residual(x, chosen):
        if chosen is None:
            return falling(roots, bends)(x)
        return falling(roots[chosen], bends[chosen])(x)

    count = len(lanes)
    whole, _ = solve_falling(
        residual,
        np.zeros(count),
        np.full(count, END),
        np.full(count, 5.0),
        np.full(count, TOLERANCE),
        1.0,
    )
    assert np.array_equal(whole, np.array(alone))


@pytest.mark.parametrize("shape", [(), (4,), (3, 4)])
@pytest.mark.parametrize("case_shapes", [[(), ()], [(), (4,)], [(4,), (1, 4), ()]])
def test_cases_together_answer_as_one_by_one(shape, case_shapes):
    draw = np.random.default_rng(7)
    besides = draw.normal(size=shape)
    cases = [(draw.normal(size=case), draw.normal(size=case)) for case in case_shapes]
    axes = max(len(shape), *(len(case) for case in case_shapes))

    def act(case):
        return (case[0] * besides + case[1], besides, 3.0)

    found = together(act, cases, axes)
    assert len(found) == len(cases)
    for case, answer in zip(cases, found, strict=True):
        for one, other in zip(answer, act(case), strict=True):
            assert np.array_equal(
                np.broadcast_arrays(one, other)[0], np.broadcast_arrays(one, other)[1]
            )


def test_a_trail_guesses_straight_on_for_each_lane():
    trail = trail_of(3)
    first = waypoint_at(trail, np.array([0.0, 0.0, 0.0]), None)
    assert guessed(first, "flow") is None
    keep(first, "flow", np.array([1.0, 2.0, 3.0]))
    second = waypoint_at(trail, np.array([1.0, 2.0]), np.array([0, 2]))
    assert guessed(second, "flow").tolist() == [1.0, 3.0]
    keep(second, "flow", np.array([2.0, 7.0]))
    assert guessed(waypoint_at(trail, np.array([1.5, 9.0, 3.0]), None), "flow").tolist() == [
        2.5,
        2.0,
        9.0,
    ]
    far = guessed(waypoint_at(trail, np.array([50.0]), np.array([0])), "flow")
    assert far.tolist() == [2.0]
