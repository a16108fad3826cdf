import math

import numpy as np
import pytest
from fluids.fittings import Hooper, Hooper2K
from fluids.friction import Colebrook, Haaland
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from optimise.physics import lines

REYNOLDS = np.geomspace(4000.0, 1e8, 45)
ROUGHNESS = (0.0, 1e-6, 1e-4, 1e-3, 0.0018, 0.01, 0.05)

flows = st.floats(1e-6, 5e-3)
diameters = st.floats(0.005, 0.06)
viscosities = st.floats(3e-6, 2e-3)
roughness = st.floats(0.0, 1e-4)


@pytest.mark.parametrize("rough", ROUGHNESS)
def test_turbulent_factor_equals_haaland_of_the_reference_library(rough):
    ours = lines.turbulent_factor(REYNOLDS, rough)
    assert ours == pytest.approx([Haaland(re, rough) for re in REYNOLDS], rel=1e-12)


@pytest.mark.parametrize("rough", ROUGHNESS)
def test_turbulent_factor_is_within_two_per_cent_of_colebrook(rough):
    """Haaland's own claim."""
    ours = lines.turbulent_factor(REYNOLDS, rough)
    assert ours == pytest.approx([Colebrook(re, rough, tol=1e-12) for re in REYNOLDS], rel=0.02)


@pytest.mark.parametrize("name", sorted(Hooper))
@pytest.mark.parametrize("reynolds", [10.0, 500.0, 2e3, 1e5])
def test_fitting_coefficient_equals_hooper_of_the_reference_library(name, reynolds):
    laminar, turbulent = Hooper[name]
    for inches in (0.5, 1.0, 2.0):
        ours = lines.fitting_coefficient(reynolds, laminar, turbulent, inches * 0.0254)
        assert ours == pytest.approx(Hooper2K(Di=inches, Re=reynolds, name=name), rel=1e-12)


def test_laminar_drop_is_the_integral_of_the_velocity_profile():
    """Hagen-Poiseuille by a second route: flow of the parabolic profile under a known drop."""
    radius, length, nu, rho, drop = 0.008, 1.7, 4e-5, 870.0, 900.0

    def velocity(r):
        return drop * (radius**2 - r**2) / (4.0 * nu * rho * length)

    flow, _ = quad(lambda r: 2.0 * math.pi * r * velocity(r), 0.0, radius)
    assert lines.reynolds_number(flow, 2 * radius, nu) < 2300
    assert lines.pipe_drop(flow, 2 * radius, length, 0.0, nu, rho) == pytest.approx(drop, rel=1e-10)


@given(flows, diameters, viscosities, roughness)
def test_pipe_drop_is_darcy_weisbach(flow, diameter, viscosity, rough):
    velocity = lines.mean_velocity(flow, diameter)
    reynolds = lines.reynolds_number(flow, diameter, viscosity)
    assert reynolds == pytest.approx(velocity * diameter / viscosity, rel=1e-12)
    factor = lines.darcy_factor(reynolds, rough / diameter)
    expected = factor * 3.0 / diameter * 870.0 * velocity**2 / 2.0
    drop = lines.pipe_drop(flow, diameter, 3.0, rough, viscosity, 870.0)
    assert drop == pytest.approx(expected, rel=1e-10)


@given(flows, diameters, viscosities)
def test_fitting_drop_is_coefficient_times_dynamic_pressure(flow, diameter, viscosity):
    reynolds = lines.reynolds_number(flow, diameter, viscosity)
    loss = lines.fitting_coefficient(reynolds, 800.0, 0.4, diameter)
    expected = loss * 870.0 * lines.mean_velocity(flow, diameter) ** 2 / 2.0
    drop = lines.fitting_drop(flow, 800.0, 0.4, diameter, viscosity, 870.0)
    assert drop == pytest.approx(expected, rel=1e-10)


@given(st.sampled_from(ROUGHNESS))
def test_friction_number_is_64_then_never_falls(rough):
    number = lines.friction_number(np.linspace(0.0, 12_000.0, 24_001), rough)
    assert (number[:4600] == 64.0).all()
    assert (np.diff(number) >= 0.0).all()


@pytest.mark.parametrize("rough", ROUGHNESS)
@pytest.mark.parametrize("edge", [lines.LAMINAR_END, lines.TURBULENT_START])
def test_friction_number_has_no_step_at_the_ends_of_the_blend(rough, edge):
    below, above = lines.friction_number(np.array([edge - 1e-6, edge + 1e-6]), rough)
    assert above == pytest.approx(below, rel=1e-8)


def test_friction_number_is_the_turbulent_one_from_4000():
    for reynolds in (4000.0, 5000.0, 1e6):
        expected = reynolds * lines.turbulent_factor(reynolds, 1e-3)
        assert lines.friction_number(reynolds, 1e-3) == pytest.approx(expected, rel=1e-12)


def test_still_oil_has_no_drop():
    assert lines.pipe_drop(0.0, 0.02, 3.0, 1e-5, 3e-5, 870.0) == 0.0
    assert lines.fitting_drop(0.0, 800.0, 0.4, 0.02, 3e-5, 870.0) == 0.0
    assert lines.friction_number(0.0, 1e-3) == 64.0


@given(flows, diameters, viscosities, roughness, st.floats(1.0, 3.0))
def test_drop_rises_with_flow_and_falls_with_diameter(flow, diameter, viscosity, rough, factor):
    drop = lines.pipe_drop(flow, diameter, 3.0, rough, viscosity, 870.0)
    more = lines.pipe_drop(flow * factor, diameter, 3.0, rough, viscosity, 870.0)
    assert more >= drop * factor * (1 - 1e-9)
    wider = lines.pipe_drop(flow, diameter * factor, 3.0, rough, viscosity, 870.0)
    assert wider <= drop * (1 + 1e-9)


def test_drop_never_falls_with_the_flow_across_the_transition():
    flow = np.linspace(0.0, 4e-3, 40_001)
    drop = lines.pipe_drop(flow, 0.019, 3.0, 1e-5, 2e-5, 870.0)
    reynolds = lines.reynolds_number(flow, 0.019, 2e-5)
    assert reynolds[-1] > lines.TURBULENT_START
    assert reynolds[1] < lines.LAMINAR_END
    assert (np.diff(drop) > 0.0).all()


def test_drop_always_falls_with_the_diameter_across_the_transition():
    diameter = np.linspace(0.006, 0.06, 40_001)
    drop = lines.pipe_drop(1e-3, diameter, 3.0, 1e-5, 2e-5, 870.0)
    reynolds = lines.reynolds_number(1e-3, diameter, 2e-5)
    assert reynolds[0] > lines.TURBULENT_START
    assert reynolds[-1] < lines.LAMINAR_END
    assert (np.diff(drop) < 0.0).all()


@given(flows, diameters, viscosities, roughness)
def test_reversed_flow_reverses_the_drop(flow, diameter, viscosity, rough):
    there = lines.pipe_drop(flow, diameter, 3.0, rough, viscosity, 870.0)
    assert lines.pipe_drop(-flow, diameter, 3.0, rough, viscosity, 870.0) == -there
    there = lines.fitting_drop(flow, 800.0, 0.4, diameter, viscosity, 870.0)
    assert lines.fitting_drop(-flow, 800.0, 0.4, diameter, viscosity, 870.0) == -there
