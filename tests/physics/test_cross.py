"""Wide ranges against solvers and a reference library that go another way to the same number."""

import math

import numpy as np
import pytest
from fluids.friction import Colebrook, friction_factor, one_phase_dP
from scipy.integrate import solve_bvp, solve_ivp
from scipy.linalg import eigh
from scipy.stats import linregress

from optimise.physics import cylinder, heat, lines, oil, strength

# --- friction, laminar to turbulent --------------------------------------------------------------

ROUGH = (0.0, 1e-5, 1e-4, 1e-3, 1e-2)


@pytest.mark.parametrize("rough", ROUGH)
def test_laminar_factor_equals_the_reference_library(rough):
    reynolds = np.geomspace(1e-2, 2000.0, 60)
    theirs = [friction_factor(Re=re, eD=rough) for re in reynolds]
    assert lines.darcy_factor(reynolds, rough) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("rough", ROUGH)
def test_factor_between_lies_between_both_regimes(rough):
    """From 2300 to 4000 no formula is published as right; those of both regimes bound it."""
    reynolds = np.linspace(2300.0, 4000.0, 200)
    ours = np.asarray(lines.darcy_factor(reynolds, rough))
    turbulent = [Colebrook(re, rough, tol=1e-12) for re in reynolds]
    assert (ours >= 64.0 / reynolds * (1.0 - 1e-12)).all()
    assert (ours <= np.asarray(turbulent) * 1.02).all()


@pytest.mark.parametrize("viscosity", [5e-6, 30e-6, 200e-6, 2e-3])
@pytest.mark.parametrize("bore", [0.006, 0.0127, 0.025, 0.06])
def test_drop_of_a_line_against_the_reference_library(viscosity, bore):
    compared = 0
    for flow in np.geomspace(1e-6, 1e-2, 40):
        reynolds = float(lines.reynolds_number(flow, bore, viscosity))
        if 2000.0 < reynolds < 4000.0:
            continue
        ours = lines.pipe_drop(flow, bore, 3.0, 5e-6, viscosity, 870.0)
        theirs = one_phase_dP(
            m=flow * 870.0, rho=870.0, mu=viscosity * 870.0, D=bore, roughness=5e-6, L=3.0
        )
        assert ours == pytest.approx(theirs, rel=1e-9 if reynolds < 2000.0 else 0.02)
        compared += 1
    assert compared > 30


# --- viscosity and temperature --------------------------------------------------------------------


@pytest.mark.parametrize("grade", [10, 22, 46, 100, 320])
@pytest.mark.parametrize("index", [60.0, 100.0, 160.0])
def test_viscosity_is_a_straight_line_on_the_chart(grade, index):
    """ASTM D341 chart: log10 log10(nu + 0.7) over log10 T, a line through two drawn points."""
    at_100 = oil.viscosity_100_from_index(grade * 1e-6, index)
    a, b = oil.walther_constants(grade * 1e-6, at_100)
    heights = [math.log10(math.log10(nu * 1e6 + 0.7)) for nu in (grade * 1e-6, at_100)]
    line = linregress([math.log10(313.15), math.log10(373.15)], heights)
    for celsius in range(-30, 131, 5):
        height = line.intercept + line.slope * math.log10(celsius + 273.15)
        drawn = (10.0 ** (10.0**height) - 0.7) * 1e-6
        assert oil.walther_viscosity(celsius + 273.15, a, b) == pytest.approx(drawn, rel=1e-7)


# --- columns --------------------------------------------------------------------------------------


def beam_factor(fixed, cells=40):
    """Critical load over pi2 EI/L2 of a beam of cubic elements; ``fixed`` are held freedoms.

    Stiffness and geometric stiffness of a beam element with two deflections and two slopes, as in
    any book on finite elements.
    """
    size, h = 2 * cells + 2, 1.0 / cells
    bending, axial = np.zeros((size, size)), np.zeros((size, size))
    k = (
        np.array(
            [
                [12, 6 * h, -12, 6 * h],
                [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, 2 * h * h, -6 * h, 4 * h * h],
            ]
        )
        / h**3
    )
    g = np.array(
        [
            [36, 3 * h, -36, 3 * h],
            [3 * h, 4 * h * h, -3 * h, -h * h],
            [-36, -3 * h, 36, -3 * h],
            [3 * h, -h * h, -3 * h, 4 * h * h],
        ]
    ) / (30.0 * h)
    for cell in range(cells):
        at = slice(2 * cell, 2 * cell + 4)
        bending[at, at] += k
        axial[at, at] += g
    free = [i for i in range(size) if i not in {size + j if j < 0 else j for j in fixed}]
    values = eigh(bending[np.ix_(free, free)], axial[np.ix_(free, free)], eigvals_only=True)
    return float(values[0]) / math.pi**2


# Deflection and slope of the first end are freedoms 0 and 1, of the last -2 and -1.
ENDS = {
    "fixed-free": (0.25, (0, 1), 1e-4),
    "pinned-pinned": (1.0, (0, -2), 1e-4),
    "fixed-pinned": (2.0, (0, 1, -2), 0.025),  # books print 2 for 2.0457
    "fixed-fixed": (4.0, (0, 1, -2, -1), 1e-4),
}


@pytest.mark.parametrize("ends", ENDS)
@pytest.mark.parametrize("diameter", [0.02, 0.05, 0.1])
@pytest.mark.parametrize("slender", [1.5, 4.0, 12.0])
def test_euler_load_against_finite_elements(ends, diameter, slender):
    factor, fixed, tolerance = ENDS[ends]
    modulus, sy = 206.8e9, 500e6
    limit = float(strength.transition_slenderness(modulus, sy, factor))
    length = slender * limit * diameter / 4.0
    wanted = beam_factor(fixed) * math.pi**2 * modulus * math.pi * diameter**4 / 64.0 / length**2
    ours = strength.critical_load(diameter, length, factor, modulus, sy)
    assert ours == pytest.approx(wanted, rel=tolerance)


@pytest.mark.parametrize("mounting", sorted(strength.MOUNTING_FACTORS))
def test_mountings_never_promise_more_than_the_ideal_ends(mounting):
    ideal = {
        "fixed-free": (0, 1),
        "pinned-pinned": (0, -2),
        "fixed-guided": (0, 1, -2),
        "fixed-fixed": (0, 1, -2, -1),
    }
    assert strength.MOUNTING_FACTORS[mounting] <= beam_factor(ideal[mounting]) * (1.0 + 1e-4)


# --- thick wall -----------------------------------------------------------------------------------


@pytest.mark.parametrize("wall", np.geomspace(0.01, 1.5, 9))
def test_barrel_stresses_solve_the_equations_of_the_thick_ring(wall):
    """u'' + u'/r - u/r2 = 0, pressure inside, nothing outside; plane stress, Poisson 0.3."""
    pressure, inner, poisson = 20e6, 1.0, 0.3
    outer = inner * (1.0 + wall)

    def stresses(r, u, slope):
        scale = 1.0 / (1.0 - poisson**2)
        return scale * (slope + poisson * u / r), scale * (u / r + poisson * slope)

    def equations(r, y):
        return np.vstack([y[1], y[0] / r**2 - y[1] / r])

    def ends(a, b):
        return np.array([stresses(inner, a[0], a[1])[0] + 1.0, stresses(outer, b[0], b[1])[0]])

    mesh = np.linspace(inner, outer, 60)
    found = solve_bvp(equations, ends, mesh, np.vstack([1.0 / mesh, -1.0 / mesh**2]), tol=1e-9)
    assert found.success
    radial, hoop = stresses(inner, *found.sol(inner))
    bore, thickness = 2.0 * inner, outer - inner
    assert strength.lame_hoop_stress(pressure, bore, thickness) == pytest.approx(
        pressure * hoop, rel=1e-6
    )
    assert strength.lame_radial(pressure) == pytest.approx(pressure * radial, rel=1e-6)
    axial = cylinder.cap_area(bore) / cylinder.annulus_area(2.0 * outer, bore)
    mises = math.sqrt(((hoop - axial) ** 2 + (axial - radial) ** 2 + (radial - hoop) ** 2) / 2.0)
    assert strength.von_mises_barrel(pressure, bore, thickness) == pytest.approx(
        pressure * mises, rel=1e-6
    )


# --- heat -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("conductance", [5.0, 30.0, 200.0])
@pytest.mark.parametrize("power", [0.0, 300.0, 8e3])
@pytest.mark.parametrize("mass", [10.0, 150.0])
def test_warming_up_against_an_integrated_heat_balance(conductance, power, mass):
    """From a cold start: after one time constant 1 - 1/e of the way is done, from any start."""
    air, start, steel = 298.15, 268.15, 25.0
    time = float(heat.warm_up_time_constant(mass, 1900.0, steel, 460.0, conductance))
    steady = float(heat.steady_temperature(air, power, conductance))

    def slope(_, temperature):
        return (power - conductance * (temperature - air)) / (mass * 1900.0 + steel * 460.0)

    run = solve_ivp(slope, (0.0, 20.0 * time), [start], t_eval=[time, 20.0 * time], rtol=1e-10)
    assert run.y[0][1] == pytest.approx(steady, rel=1e-7)
    done = (run.y[0][0] - start) / (steady - start)
    assert done == pytest.approx(1.0 - math.exp(-1.0), rel=1e-6)
