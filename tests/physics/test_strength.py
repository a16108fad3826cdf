import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh_tridiagonal
from scipy.optimize import brentq

from optimise.physics import cylinder, strength

E, SY = 207e9, 500e6
diameters = st.floats(0.01, 0.12)
lengths = st.floats(0.01, 5.0)
ends = st.sampled_from([0.25, 1.0, 1.2, 2.0])
yields = st.floats(2e8, 1.2e9)


@given(diameters, ends, yields)
def test_euler_and_johnson_meet_at_the_transition_in_value_and_slope(diameter, end, sy):
    length = strength.transition_slenderness(E, sy, end) * diameter / 4.0
    area = cylinder.rod_area(diameter)

    def load(factor):
        return float(strength.critical_load(diameter, length * factor, end, E, sy))

    assert load(1.0) == pytest.approx(0.5 * sy * area, rel=1e-9)
    step = 1e-5
    below, above = (load(1.0) - load(1.0 - step)), (load(1.0 + step) - load(1.0))
    assert below == pytest.approx(above, rel=1e-3)


@given(diameters, lengths, ends, yields)
def test_critical_load_follows_the_two_printed_equations(diameter, length, end, sy):
    """Shigley eqs. 4-44 and 4-46 as printed, chosen by eq. 4-45."""
    area, ratio = math.pi / 4 * diameter**2, length / (diameter / 4)
    if ratio > math.sqrt(2 * math.pi**2 * end * E / sy):
        expected = area * end * math.pi**2 * E / ratio**2
    else:
        expected = area * (sy - (sy * ratio / (2 * math.pi)) ** 2 / (end * E))
    assert strength.critical_load(diameter, length, end, E, sy) == pytest.approx(expected, rel=1e-9)


@given(diameters, lengths, ends, yields, st.floats(1.01, 2.0))
def test_longer_buckles_earlier_and_thicker_later(diameter, length, end, sy, factor):
    load = strength.critical_load(diameter, length, end, E, sy)
    assert strength.critical_load(diameter, length * factor, end, E, sy) < load
    assert strength.critical_load(diameter * factor, length, end, E, sy) > load
    assert load <= sy * cylinder.rod_area(diameter) * (1 + 1e-12)


def test_rod_without_length_carries_its_yield_strength():
    expected = SY * cylinder.rod_area(0.05)
    assert strength.critical_load(0.05, 0.0, 1.0, E, SY) == pytest.approx(expected, rel=1e-12)


@given(st.floats(1e3, 1e6), diameters)
def test_axial_stress_times_area_is_the_force(force, diameter):
    stress = strength.axial_stress(force, diameter)
    assert stress * cylinder.rod_area(diameter) == pytest.approx(force, rel=1e-12)


def finite_differences(ratio, fraction, cells=1200):
    """Smallest eigenvalue of the pinned stepped column by a second route.

    u'' + (P/EI) u = 0 on a grid: generalised problem made symmetric with the root of the
    stiffness; K = P L2 / (pi2 E I_rod). A cell that the step cuts gets the mean compliance.
    """
    nodes = np.arange(1, cells) / cells
    stiff = np.clip((fraction - nodes) * cells + 0.5, 0.0, 1.0)
    compliance = stiff / ratio + (1.0 - stiff)
    scale = 1.0 / np.sqrt(compliance)
    diagonal = 2.0 * cells**2 * scale**2
    beside = -(cells**2) * scale[1:] * scale[:-1]
    values = eigh_tridiagonal(diagonal, beside, select="i", select_range=(0, 0))[0]
    return float(values[0]) / math.pi**2


@pytest.mark.parametrize("ratio", [0.5, 1.0, 1.5, 4.0, 10.0, 40.0])
@pytest.mark.parametrize("fraction", [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0])
def test_stepped_column_against_finite_differences(ratio, fraction):
    expected = finite_differences(ratio, fraction)
    assert strength.stepped_column_factor(ratio, fraction) == pytest.approx(expected, rel=2e-4)


@given(st.floats(0.1, 500.0), st.floats(0.02, 0.98))
def test_stepped_column_factor_is_a_root_and_the_first(ratio, fraction):
    """k1 cot(k1 L1) + k2 cot(k2 L2) = 0, with the poles left out by the sines."""
    s = 1 / math.sqrt(ratio)

    def equation(x):
        a, b = (1 - fraction) * x, fraction * s * x
        return math.cos(a) * math.sin(b) + s * math.cos(b) * math.sin(a)

    x = math.pi * math.sqrt(float(strength.stepped_column_factor(ratio, fraction)))
    root = brentq(equation, x * (1 - 1e-6), x * (1 + 1e-6), xtol=1e-14, rtol=1e-14)
    assert x == pytest.approx(root, rel=1e-11)
    earlier = [equation(x * share) for share in np.linspace(1e-3, 1 - 1e-6, 400)]
    assert min(earlier) > 0.0


@given(st.floats(0.1, 500.0))
def test_stepped_column_of_one_piece(ratio):
    assert strength.stepped_column_factor(1.0, 0.37) == pytest.approx(1.0, rel=1e-12)
    assert strength.stepped_column_factor(ratio, 0.0) == pytest.approx(1.0, rel=1e-12)
    assert strength.stepped_column_factor(ratio, 1.0) == pytest.approx(ratio, rel=1e-12)


@given(st.floats(0.2, 300.0), st.floats(0.0, 1.0))
def test_stepped_column_turned_round(ratio, fraction):
    """Counting from the other end, in the other stiffness, is the same column."""
    other = strength.stepped_column_factor(1 / ratio, 1 - fraction)
    expected = strength.stepped_column_factor(ratio, fraction)
    assert ratio * other == pytest.approx(expected, rel=1e-9)


def test_stepped_column_of_nine_quarters():
    """Stiffness 4 over two thirds is exactly 9/4."""
    assert strength.stepped_column_factor(4.0, 2 / 3) == pytest.approx(2.25, rel=1e-12)


inner = st.floats(0.02, 0.3)
walls = st.floats(0.02, 1.0)  # share of the inner radius


@given(st.floats(1e5, 4e7), inner, walls)
def test_equivalent_stress_is_von_mises_of_the_three(pressure, bore, share):
    wall = share * bore / 2
    hoop = strength.lame_hoop_stress(pressure, bore, wall)
    axial = strength.lame_axial(pressure, bore, wall)
    radial = strength.lame_radial(pressure)
    three = math.sqrt(((hoop - axial) ** 2 + (axial - radial) ** 2 + (radial - hoop) ** 2) / 2)
    assert strength.von_mises_barrel(pressure, bore, wall) == pytest.approx(three, rel=1e-9)


@given(st.floats(1e5, 4e7), inner, walls)
def test_axial_stress_holds_the_closed_end(pressure, bore, share):
    wall = share * bore / 2
    ring = cylinder.cap_area(bore + 2 * wall) - cylinder.cap_area(bore)
    held = strength.lame_axial(pressure, bore, wall) * ring
    assert held == pytest.approx(pressure * cylinder.cap_area(bore), rel=1e-9)


@given(st.floats(1e5, 4e7), inner)
def test_thick_wall_becomes_thin_wall(pressure, bore):
    """Lame tends to p D/(2 t) with the mean diameter; the rest is of second order in t/D."""
    wall = bore * 1e-3
    thin = pressure * (bore + wall) / (2 * wall)
    assert strength.lame_hoop_stress(pressure, bore, wall) == pytest.approx(thin, rel=1e-5)
    assert strength.mean_diameter_burst(thin, bore, wall) == pytest.approx(pressure, rel=1e-12)


@given(st.floats(1e5, 4e7), inner, walls, st.floats(1.01, 2.0))
def test_thicker_wall_is_less_stressed_and_bore_is_above_the_mean(pressure, bore, share, factor):
    wall = share * bore / 2
    stress = strength.lame_hoop_stress(pressure, bore, wall)
    assert strength.lame_hoop_stress(pressure, bore, wall * factor) < stress
    # Force balance of half a ring: mean hoop stress is p Di / (2 t).
    assert stress > pressure * bore / (2 * wall)
