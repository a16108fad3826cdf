"""The solver closes every lane by itself, whatever the start and the company."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimise.roots import Waypoint, guessed, keep, solve_falling, trail_of

END = 10.0
TOLERANCE = 1e-9


def cubic(tree, x, _):
    """Cubic that falls through a root."""
    root, bend = tree
    return (root - x) * (1.0 + bend * (root - x) ** 2)


def solved(residual, tree, start, width=1.0, first=None):
    looks = 0

    def counted(tree, x, waypoint):
        nonlocal looks
        looks += 1
        return residual(tree, x, waypoint)

    found = solve_falling(counted, tree, (0.0, END), start, TOLERANCE, width, first)
    assert np.isfinite(found).all()
    return found, looks


@settings(deadline=None)
@given(st.floats(0.01, 9.99), st.floats(0.0, 5.0), st.floats(0.0, END))
def test_root_equals_that_of_scipy(root, bend, start):
    expected = brentq(lambda x: cubic((root, bend), x, None), 0.0, END, xtol=1e-12)
    assert solved(cubic, (root, bend), start)[0] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("root", "end"), [(-3.0, 0.0), (14.0, END)])
def test_without_a_change_of_sign_the_nearer_end_is_found_at_once(root, end):
    found, looks = solved(cubic, (root, 2.0), 5.0)
    assert found == end
    assert looks <= 4


def test_a_jump_is_found_to_the_width_asked_for():
    def step(_, x, __):
        return np.where(x < 7.3, 50.0, -50.0)

    coarse, few = solved(step, (), 1.0, 1e6)
    fine, many = solved(step, (), 1.0)
    assert abs(coarse - 7.3) < 1e6 * TOLERANCE
    assert abs(fine - 7.3) < 2 * TOLERANCE
    assert few < many


def test_what_is_known_at_the_start_is_not_asked_for_again():
    tree, start = (3.0, 0.5), 5.0
    plain, looks = solved(cubic, tree, start)
    known, fewer = solved(cubic, tree, start, first=cubic(tree, start, None))
    assert known == plain
    assert fewer == looks - 1


def test_a_lane_without_an_answer_is_unknown():
    found = solve_falling(
        lambda tree, x, _: tree - x, np.array([2.0, np.nan]), (0.0, END), 5.0, TOLERANCE, 1.0
    )
    assert found[0] == 2.0
    assert np.isnan(found[1])


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(-1.0, 11.0), st.floats(0.0, 5.0)), min_size=1, max_size=40))
def test_a_lane_has_the_same_bits_in_any_company(lanes):
    roots, bends = np.array(lanes).T
    alone = [float(solve_falling(cubic, lane, (0.0, END), 5.0, TOLERANCE, 1.0)) for lane in lanes]
    whole = solve_falling(cubic, (roots, bends), (0.0, END), 5.0, TOLERANCE, 1.0)
    assert whole.tolist() == alone


def test_a_trail_guesses_straight_on_for_each_lane():
    assert guessed(None, "flow") is None
    trail = trail_of(0.0, [("flow", [np.array([1.0, 2.0, 3.0])])], (3,))
    second = Waypoint(trail, np.array([1.0, 2.0]), np.array([0, 2]))
    assert guessed(second, "flow").tolist() == [1.0, 3.0]
    keep(second, "flow", np.array([2.0, 7.0]))
    third = Waypoint(trail, np.array([1.5, 9.0, 3.0]), None)
    assert guessed(third, "flow").tolist() == [2.5, 2.0, 9.0]
    far = Waypoint(trail, np.array([50.0]), np.array([0]))
    assert guessed(far, "flow").tolist() == [2.0]
