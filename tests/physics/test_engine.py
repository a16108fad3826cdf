import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from optimise.physics import engine

# no-load, rated, rated torque, peak torque, speed of the peak
CURVE = (395.0, 375.0, 18.0, 24.0, 260.0)


@pytest.mark.parametrize("metres", [0.0, 300.0, 1000.0, 2500.0, 5000.0, 9000.0])
def test_atmosphere_equals_the_reference_library(metres):
    """The library takes geometric altitude and tells the geopotential one."""
    air = ATMOSPHERE_1976(metres)
    assert engine.standard_pressure(air.H) == pytest.approx(air.P, rel=1e-5)
    sea = ATMOSPHERE_1976(0.0).rho
    assert engine.standard_density_ratio(air.H) == pytest.approx(air.rho / sea, rel=1e-5)


def test_pressure_is_the_weight_of_the_air_above():
    """Second route: hydrostatic equation integrated with the density ratio."""
    gravity, sea_density = 9.80665, 1.2250

    def slope(height, _):
        return [-gravity * sea_density * float(engine.standard_density_ratio(height))]

    fall = solve_ivp(slope, (0.0, 4000.0), [101_325.0], rtol=1e-9, atol=1e-3)
    assert engine.standard_pressure(4000.0) == pytest.approx(fall.y[0, -1], rel=2e-5)


def test_engine_is_whole_at_sea_level_in_cool_air():
    assert engine.standard_density_ratio(0.0) == 1.0
    assert engine.altitude_factor(0.0) == pytest.approx(1.0, abs=1e-12)
    assert engine.air_temperature_factor(270.0) == 1.0
    assert engine.air_temperature_factor((60.0 + 459.67) / 1.8) == 1.0


@given(st.floats(0.0, 9000.0), st.floats(1.0, 1000.0))
def test_altitude_takes_more_power_than_density(metres, more):
    factor = engine.altitude_factor(metres + more)
    assert factor < engine.altitude_factor(metres)
    assert factor < engine.standard_density_ratio(metres + more)


def test_air_temperature_factor_keeps_its_floor():
    assert engine.air_temperature_factor(5000.0) == engine.LEAST_FACTOR


def test_full_load_curve_goes_through_its_two_points_and_is_level_at_the_peak():
    _, rated_speed, rated, peak, peak_speed = CURVE
    curve = (rated, rated_speed, peak, peak_speed)
    assert engine.full_load_torque(rated_speed, *curve) == rated
    assert engine.full_load_torque(peak_speed, *curve) == peak
    left, right = (engine.full_load_torque(peak_speed + d, *curve) for d in (-0.01, 0.01))
    assert left == pytest.approx(right, rel=1e-12)
    assert left < peak


curves = st.tuples(
    st.floats(1.01, 1.15),
    st.floats(200.0, 400.0),
    st.floats(5.0, 60.0),
    st.floats(1.0, 1.6),
    st.floats(0.5, 0.9),
).map(lambda c: (c[0] * c[1], c[1], c[2], c[2] * c[3], c[1] * c[4]))
constant_torques = st.floats(0.0, 80.0)
slopes = st.floats(0.0, 0.05)


def available(speed, curve):
    """Torque that the governed engine gives at a speed between its peak and no load."""
    no_load, rated_speed, rated, peak, peak_speed = curve
    if speed >= rated_speed:
        return rated * (no_load - speed) / (no_load - rated_speed)
    return float(engine.full_load_torque(speed, rated, rated_speed, peak, peak_speed))


@given(constant_torques, slopes, curves)
def test_running_speed_balances_the_torques(load, slope, curve):
    speed = float(engine.running_speed(load, slope, *curve))
    _, _, _, peak, peak_speed = curve
    if load + slope * peak_speed >= peak:
        assert speed == pytest.approx(peak_speed, rel=1e-12)
    else:
        needed = load + slope * speed
        assert available(speed, curve) == pytest.approx(needed, rel=1e-6, abs=1e-6 * peak)


@given(constant_torques, slopes, curves)
def test_running_speed_against_a_root_finder(load, slope, curve):
    no_load, _, _, peak, peak_speed = curve
    if load + slope * peak_speed >= peak * (1 - 1e-9):
        return
    root = brentq(lambda w: available(w, curve) - load - slope * w, peak_speed, no_load, xtol=1e-12)
    # Where the curve is nearly level (little torque rise) the root itself is soft.
    assert float(engine.running_speed(load, slope, *curve)) == pytest.approx(root, rel=1e-5)


@given(slopes, curves)
def test_running_speed_falls_with_load_without_a_step(slope, curve):
    no_load, rated_speed, _, peak, peak_speed = curve
    loads = np.linspace(0.0, 1.3 * peak, 4001)
    speed = engine.running_speed(loads, slope, *curve)
    assert (np.diff(speed) <= 1e-9).all()
    assert (speed >= peak_speed).all()
    assert (speed <= no_load).all()
    # The parabola is vertical at its peak, as a function of torque; up to there no step exceeds
    # what a square root makes of one step of load.
    step = loads[1]
    governor = step * (no_load - rated_speed) / curve[2]
    lugging = np.sqrt(step / max(peak - curve[2], step)) * (rated_speed - peak_speed)
    assert np.abs(np.diff(speed)).max() <= 1.01 * max(governor, lugging)


@given(curves)
def test_running_speed_meets_the_rated_point_from_both_sides(curve):
    _, rated_speed, rated, _, _ = curve
    near = [float(engine.running_speed(rated * f, 0.0, *curve)) for f in (1 - 1e-9, 1.0)]
    assert near == pytest.approx([rated_speed, rated_speed], rel=1e-6)


def test_running_speed_without_load_is_the_no_load_speed():
    assert engine.running_speed(0.0, 0.0, *CURVE) == CURVE[0]


def test_stalled_engine_is_told_by_the_reserve():
    speed = engine.running_speed(30.0, 0.01, *CURVE)
    assert speed == CURVE[4]
    assert engine.stall_reserve(30.0 + 0.01 * speed, CURVE[3]) < 0.0


@pytest.mark.parametrize("load", [0.0, 10.0, 18.0, 20.0, 40.0])
@pytest.mark.parametrize("slope", [0.0, 0.02])
def test_level_full_load_curve_divides_nothing_by_zero(load, slope):
    """Peak torque equal to rated torque: the engine drops from the governor to the stall."""
    speed = engine.running_speed(load, slope, 395.0, 375.0, 18.0, 18.0, 260.0)
    assert np.isfinite(speed)
    assert 260.0 <= speed <= 395.0


def test_standard_power_of_a_standard_day():
    assert engine.sae_j1349_factor(99e3, 298.15) == pytest.approx(1.0, abs=1e-12)


def test_mean_pressure_and_power_agree():
    """Work per two turns is mean pressure times swept volume."""
    torque = engine.torque_from_mean_pressure(8e5, 270e-6)
    assert torque * 4 * np.pi == pytest.approx(8e5 * 270e-6, rel=1e-12)
