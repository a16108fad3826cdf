import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.physics import work

seconds = st.floats(0.5, 30.0)
shares = st.floats(0.0, 1.0)
costs = st.floats(1.0, 1e5)


def test_without_overlap_everything_runs_in_a_row():
    assert work.piece_period(6.0, 4.0, 0.5, 5.0, 0.0) == 15.5


def test_hands_hide_behind_the_retract():
    assert work.piece_period(6.0, 4.0, 0.5, 5.0, 0.6) == pytest.approx(15.5 - 3.0)


@given(st.floats(1.0, 60.0), st.floats(0.0, 0.99), st.floats(0.1, 1.0))
def test_a_split_piece_takes_as_long_as_the_hour_says(
    period: float, unsplit: float, use: float
) -> None:
    rate = work.pieces_per_hour(period, 1.0 - unsplit, use)
    assert work.split_period(period, unsplit) == pytest.approx(3600.0 * use / rate)
    assert work.split_period(period, 0.0) == period


def test_what_splits_nothing_takes_for_ever() -> None:
    assert work.split_period(9.0, 1.0) == math.inf


def test_retract_hides_no_more_than_it_lasts():
    assert work.piece_period(6.0, 4.0, 0.5, 5.0, 1.0) == pytest.approx(15.5 - 4.0)


@given(seconds, seconds, seconds, shares)
def test_retract_quicker_than_the_hands_gains_nothing(extend, handling, slow, share):
    hidden = share * handling
    if slow > hidden:
        return
    period = [work.piece_period(extend, t, 0.5, handling, share) for t in (slow, slow / 2)]
    assert period[0] == pytest.approx(period[1], rel=1e-12)


@given(seconds, seconds, seconds, shares, st.floats(0.0, 5.0))
def test_period_never_falls_when_a_part_of_it_grows(extend, retract, handling, share, more):
    base = work.piece_period(extend, retract, 0.5, handling, share)
    slack = base * (1 - 1e-12)
    assert work.piece_period(extend + more, retract, 0.5, handling, share) >= slack
    assert work.piece_period(extend, retract + more, 0.5, handling, share) >= slack
    assert work.piece_period(extend, retract, 0.5 + more, handling, share) >= slack
    assert work.piece_period(extend, retract, 0.5, handling + more, share) >= slack


@given(seconds, st.floats(1.0, 4.0), st.floats(0.1, 1.0))
def test_pieces_times_period_fill_the_hours_worked(period, pieces, utilisation):
    rate = work.pieces_per_hour(period, pieces, utilisation)
    assert rate / pieces * period == pytest.approx(3600.0 * utilisation, rel=1e-12)


@given(st.floats(1.0, 1e5), st.floats(0.05, 0.6), st.floats(0.0, 0.8))
def test_wedge_force_by_energy(normal, half_angle, friction):
    """Work of the force over a travel is opening work plus friction work of both faces."""
    travel = 1e-3
    opening = 2 * normal * math.cos(half_angle) * travel * math.tan(half_angle)
    rubbing = 2 * friction * normal * math.cos(half_angle) * travel
    force = work.wedge_force(normal, half_angle, friction)
    assert force * travel == pytest.approx(opening + rubbing, rel=1e-9)


@given(costs, st.floats(0.01, 0.9))
def test_margin_is_the_share_of_the_price(cost, margin):
    price = work.margin_price(cost, margin)
    assert (price - cost) / price == pytest.approx(margin, rel=1e-9)
    assert work.markup_price(cost, margin / (1 - margin)) == pytest.approx(price, rel=1e-9)


def test_editions_of_the_two_hand_rule_lie_300_mm_apart():
    newer, older = (work.two_hand_distance(0.2, edition) for edition in ("2024", "2010"))
    assert newer - older == pytest.approx(0.300, rel=1e-12)
    assert work.two_hand_distance(0.2) == older
