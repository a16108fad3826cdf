import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.physics import pump

displacements = st.floats(1e-6, 1e-4)
speeds = st.floats(50.0, 400.0)
pressures = st.floats(1e5, 3e7)
viscosities = st.floats(5e-3, 0.5)
efficiencies = st.floats(0.6, 0.99)
slips = st.floats(1e-9, 1e-7)


@given(efficiencies, pressures, speeds, viscosities)
def test_catalogue_efficiency_comes_back_at_the_rated_point(efficiency, pressure, speed, viscosity):
    slip = pump.slip_coefficient(efficiency, pressure, speed, viscosity)
    back = pump.volumetric_efficiency(pressure, speed, viscosity, slip)
    assert back == pytest.approx(efficiency, rel=1e-12)


@given(efficiencies, pressures, speeds, viscosities, st.floats(0.0, 1.0))
def test_catalogue_torque_comes_back(efficiency, pressure, speed, viscosity, share):
    viscous, coulomb = pump.torque_loss_coefficients(efficiency, pressure, speed, viscosity, share)
    back = pump.mechanical_efficiency(pressure, speed, viscosity, viscous, coulomb)
    assert back == pytest.approx(efficiency, rel=1e-12)
    loss = 1 / efficiency - 1
    assert viscous * viscosity * speed / pressure == pytest.approx(
        share * loss, rel=1e-9, abs=1e-15
    )
    assert coulomb == pytest.approx((1 - share) * loss, rel=1e-9, abs=1e-15)


@given(displacements, pressures, viscosities, slips)
def test_slip_doubles_with_pressure_and_with_half_the_viscosity(d, pressure, viscosity, slip):
    base = pump.slip_flow(d, pressure, viscosity, slip)
    assert pump.slip_flow(d, 2 * pressure, viscosity, slip) == pytest.approx(2 * base, rel=1e-12)
    assert pump.slip_flow(d, pressure, viscosity / 2, slip) == pytest.approx(2 * base, rel=1e-12)


@given(displacements, speeds, speeds, pressures, viscosities, slips)
def test_slip_does_not_know_the_speed(d, first, second, pressure, viscosity, slip):
    lost = [
        pump.ideal_flow(d, speed) - pump.delivered_flow(d, speed, pressure, viscosity, slip)
        for speed in (first, second)
    ]
    largest = pump.ideal_flow(d, max(first, second))
    assert lost[0] == pytest.approx(lost[1], rel=1e-9, abs=1e-12 * largest)


@given(speeds, pressures, viscosities, slips, st.floats(1.01, 3.0))
def test_volumetric_efficiency_rises_with_speed_and_is_1_without_pressure(
    speed, pressure, viscosity, slip, factor
):
    slow = pump.volumetric_efficiency(pressure, speed, viscosity, slip)
    assert pump.volumetric_efficiency(pressure, factor * speed, viscosity, slip) > slow
    assert pump.volumetric_efficiency(0.0, speed, viscosity, slip) == 1.0


@given(displacements, speeds, pressures, viscosities, slips)
def test_delivered_over_ideal_is_the_volumetric_efficiency(d, speed, pressure, viscosity, slip):
    ratio = pump.delivered_flow(d, speed, pressure, viscosity, slip) / pump.ideal_flow(d, speed)
    expected = pump.volumetric_efficiency(pressure, speed, viscosity, slip)
    assert ratio == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(displacements, speeds, pressures, viscosities)
def test_ideal_over_shaft_torque_is_the_mechanical_efficiency(d, speed, pressure, viscosity):
    torque = pump.pressure_torque(d, pressure, 0.05) + speed * pump.viscous_torque_per_speed(
        d, viscosity, 1e5
    )
    ideal = d * pressure / (2 * math.pi)
    expected = pump.mechanical_efficiency(pressure, speed, viscosity, 1e5, 0.05)
    assert ideal / torque == pytest.approx(expected, rel=1e-10)


@given(speeds, viscosities)
def test_without_pressure_all_torque_is_loss(speed, viscosity):
    assert pump.mechanical_efficiency(0.0, speed, viscosity, 1e5, 0.05) == 0.0


def test_overall_efficiency_has_a_best_viscosity():
    """Thin oil leaks, thick oil drags: the best lies between."""
    milli = [2, 5, 10, 20, 30, 60, 120, 300, 900]
    overall = [
        pump.volumetric_efficiency(14e6, 188.5, m * 1e-3, 0.48e-7)
        * pump.mechanical_efficiency(14e6, 188.5, m * 1e-3, 1e5, 0.018)
        for m in milli
    ]
    best = overall.index(max(overall))
    assert 0 < best < len(milli) - 1
    assert overall[: best + 1] == sorted(overall[: best + 1])
    assert overall[best:] == sorted(overall[best:], reverse=True)


@given(displacements, speeds, pressures, viscosities, slips)
def test_power_out_never_exceeds_power_in(d, speed, pressure, viscosity, slip):
    out = pump.delivered_flow(d, speed, pressure, viscosity, slip) * pressure
    torque = pump.pressure_torque(d, pressure, 0.05) + speed * pump.viscous_torque_per_speed(
        d, viscosity, 1e5
    )
    assert out < torque * speed
