import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from optimise.physics import heat

positive = st.floats(0.1, 1e4)


@given(st.floats(250.0, 320.0), st.floats(0.0, 1e4), st.floats(1.0, 500.0))
def test_at_the_steady_temperature_heat_in_is_heat_out(ambient, power, conductance):
    steady = heat.steady_temperature(ambient, power, conductance)
    out = heat.conductance_rejection(conductance, steady - ambient)
    assert out == pytest.approx(power, rel=1e-9, abs=1e-8)


@given(positive, positive, st.floats(0.0, 80.0))
def test_wall_is_a_conductance_of_coefficient_times_area(coefficient, area, difference):
    wall = heat.wall_rejection(coefficient, area, difference)
    assert wall == pytest.approx(
        heat.conductance_rejection(coefficient * area, difference), rel=1e-12
    )


def test_time_constant_and_steady_temperature_against_an_integrated_warm_up():
    oil, steel, conductance, power, ambient = 43.5, 40.0, 14.4, 900.0, 298.15
    capacity = oil * 1900.0 + steel * 460.0
    time = float(heat.warm_up_time_constant(oil, 1900.0, steel, 460.0, conductance))
    steady = float(heat.steady_temperature(ambient, power, conductance))

    def slope(_, temperature):
        return [(power - conductance * (temperature[0] - ambient)) / capacity]

    run = solve_ivp(slope, (0.0, 12 * time), [ambient], t_eval=[time, 12 * time], rtol=1e-9)
    after_one, at_end = run.y[0]
    assert at_end == pytest.approx(steady, rel=1e-5)
    assert (after_one - ambient) / (steady - ambient) == pytest.approx(0.6321206, rel=1e-5)


@given(st.floats(1e5, 3e7), st.floats(1e-5, 1e-2))
def test_throttling_turns_hydraulic_power_into_heat_whatever_the_flow(drop, flow):
    rise = heat.throttling_rise(drop, 870.0, 1900.0)
    assert flow * 870.0 * 1900.0 * rise == pytest.approx(flow * drop, rel=1e-12)
