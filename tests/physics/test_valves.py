import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.physics import valves

flows = st.floats(1e-5, 1e-2)
drops = st.floats(1e3, 1e7)


@given(flows, drops)
def test_rated_point_is_met(flow, drop):
    coefficient = valves.square_drop_coefficient(flow, drop, 870.0, 870.0)
    assert coefficient * flow**2 == pytest.approx(drop, rel=1e-12)
    assert valves.flow_at_drop(flow, drop, drop) == flow


@given(flows, drops, st.floats(0.05, 20.0))
def test_coefficient_and_scaling_are_each_other_s_inverse(flow, drop, factor):
    coefficient = valves.square_drop_coefficient(flow, drop, 1.0, 1.0)
    other = valves.flow_at_drop(flow, drop, drop * factor)
    assert coefficient * other**2 == pytest.approx(drop * factor, rel=1e-10)


def test_heavier_oil_drops_more_in_proportion():
    light = valves.square_drop_coefficient(1e-3, 5e5, 435.0, 870.0)
    assert light == valves.square_drop_coefficient(1e-3, 5e5, 870.0, 870.0) / 2


@given(flows, drops, st.floats(0.0, 1.0))
def test_two_parts_of_a_filter_make_its_rated_drop(flow, drop, share):
    linear = valves.element_linear_coefficient(flow, drop, share, 1.0)
    square = valves.element_square_coefficient(flow, drop, share, 1.0)
    assert linear * flow + square * flow**2 == pytest.approx(drop, rel=1e-12)


def test_cold_oil_multiplies_the_viscous_part_only():
    warm = valves.element_linear_coefficient(1e-3, 4e4, 0.75, 1.0)
    assert valves.element_linear_coefficient(1e-3, 4e4, 0.75, 20.0) == pytest.approx(20 * warm)
    assert valves.element_linear_coefficient(1e-3, 4e4, 0.0, 20.0) == 0.0
    assert valves.element_square_coefficient(1e-3, 4e4, 1.0, 1.0) == 0.0
