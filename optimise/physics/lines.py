"""Lines and fittings: velocity, Reynolds number, friction, pressure drop.

Drops are odd in the flow (a reversed flow gives a reversed drop). Most of them come as
coefficients of a flow and of its square, so that a solver can form them once.
"""

from __future__ import annotations

import math

import numpy as np

from optimise.columns import Column, as_column, where_any
from optimise.compiled.kernels import quick
from optimise.elementary import log10, power

LAMINAR_END = 2300.0
"""Reynolds number up to which the flow in a line is taken as laminar."""
TURBULENT_START = 4000.0
"""Reynolds number from which the turbulent formula stands alone."""

_LAMINAR = 64.0
_PER_BLEND = 1.0 / (TURBULENT_START - LAMINAR_END)
_INCH = 0.0254


def mean_velocity(flow: Column, inner_diameter: Column) -> Column:
    """Mean velocity, m/s: v = 4 Q / (pi D2).

    Parameters
    ----------
    flow
        m3/s.
    inner_diameter
        m, above 0.

    Examples
    --------
    >>> f"{mean_velocity(0.001, 0.030):.2f}"
    '1.41'
    """
    return flow / (inner_diameter * inner_diameter * (math.pi / 4.0))


def reynolds_number(flow: Column, inner_diameter: Column, kinematic_viscosity: Column) -> Column:
    """Reynolds number, -, of the flow's magnitude: Re = v D / nu = 4 |Q| / (pi D nu).

    Parameters
    ----------
    flow
        m3/s.
    inner_diameter
        m, above 0.
    kinematic_viscosity
        m2/s, above 0.

    Examples
    --------
    >>> f"{reynolds_number(5.0 * math.pi / 4.0 * 0.05**2, 0.05, 0.001):.0f}"
    '250'
    """
    reynolds: Column = np.abs(flow) / (inner_diameter * kinematic_viscosity * (math.pi / 4.0))
    return reynolds


def turbulent_factor(reynolds: Column, relative_roughness: Column) -> Column:
    """Darcy friction factor of turbulent flow, -.

    1/sqrt(f) = -1.8 log10((e/3.7)^1.11 + 6.9/Re): S. E. Haaland, J. Fluids Eng. 105 (1983) 89.
    Within 2 % of Colebrook for Re from 4000 to 1e8.

    Parameters
    ----------
    reynolds
        Reynolds number, above 0.
    relative_roughness
        Roughness over inner diameter, 0 to 0.05.

    Examples
    --------
    >>> f"{turbulent_factor(1e5, 0.0):.4f}"
    '0.0178'
    """
    root = _inverse_root(reynolds, roughness_term(relative_roughness))
    return 1.0 / (root * root)


def _inverse_root(reynolds: Column, rough: Column) -> Column:
    """1/sqrt(f) of turbulent flow."""
    return -1.8 * log10(rough + 6.9 / reynolds)


def roughness_term(relative_roughness: Column) -> Column:
    """What roughness adds under the logarithm of `turbulent_factor`, -: (e/3.7)^1.11.

    Parameters
    ----------
    relative_roughness
        Roughness over inner diameter, 0 to 0.05.

    Examples
    --------
    >>> f"{roughness_term(0.0037):.3g}"
    '0.000468'
    """
    term: Column = power(relative_roughness / 3.7, 1.11)
    return term


def friction_number(reynolds: Column, relative_roughness: Column) -> Column:
    """Darcy friction factor times Reynolds number, -: 64 while laminar, rising from there.

    64 up to Re 2300, `turbulent_factor` from 4000, in between blended by 3 s2 - 2 s3 (the blend is
    this project's). It never falls with the Reynolds number, so a drop never falls with the flow.

    Parameters
    ----------
    reynolds
        Reynolds number, from 0.
    relative_roughness
        Roughness over inner diameter, 0 to 0.05.

    Examples
    --------
    >>> f"{friction_number(500.0, 0.0):.0f} {friction_number(1e5, 0.0):.0f}"
    '64 1782'
    """
    return friction_number_at(reynolds, roughness_term(relative_roughness))


def friction_number_at(reynolds: Column, rough: Column) -> Column:
    """`friction_number` where the `roughness_term` is known: it does not change with the flow.

    Parameters
    ----------
    reynolds
        Reynolds number, from 0.
    rough
        `roughness_term` of the line, -.

    Examples
    --------
    >>> f"{friction_number_at(1e5, 0.0):.0f}"
    '1782'
    """
    laminar = (as_column(reynolds) <= LAMINAR_END) & (as_column(rough) >= 0.0)
    always: tuple[Column] = (_LAMINAR,)
    (number,) = where_any(~laminar, lambda: (quick(_blended, reynolds, rough),), always)
    return number


def _blended(reynolds: Column, rough: Column) -> Column:
    turbulent_reynolds = np.maximum(reynolds, LAMINAR_END)
    root = _inverse_root(turbulent_reynolds, rough)
    turbulent = turbulent_reynolds / (root * root)
    share = np.minimum((turbulent_reynolds - LAMINAR_END) * _PER_BLEND, 1.0)
    blend = share * share * (3.0 - 2.0 * share)
    return _LAMINAR + blend * (turbulent - _LAMINAR)


def darcy_factor(reynolds: Column, relative_roughness: Column) -> Column:
    """Darcy friction factor in any regime, -: `friction_number` over the Reynolds number.

    Parameters
    ----------
    reynolds
        Reynolds number, above 0.
    relative_roughness
        Roughness over inner diameter, 0 to 0.05.

    Examples
    --------
    >>> f"{darcy_factor(1000.0, 0.0):.3f}"
    '0.064'
    """
    return friction_number(reynolds, relative_roughness) / reynolds


def pipe_linear_coefficient(
    inner_diameter: Column, length: Column, kinematic_viscosity: Column, density: Column
) -> Column:
    """Laminar pressure drop per flow of a round line, Pa s/m3: 128 mu L / (pi D4).

    Hagen-Poiseuille.

    Parameters
    ----------
    inner_diameter, length
        m, diameter above 0.
    kinematic_viscosity
        m2/s.
    density
        kg/m3.

    Examples
    --------
    >>> f"{pipe_linear_coefficient(0.02, 1.0, 46e-6, 870.0):.4g}"
    '1.019e+07'
    """
    square = inner_diameter * inner_diameter
    return (128.0 / math.pi) * density * kinematic_viscosity * length / (square * square)


def pipe_drop(
    flow: Column,
    inner_diameter: Column,
    length: Column,
    roughness: Column,
    kinematic_viscosity: Column,
    density: Column,
) -> Column:
    """Pressure drop of a straight round line, Pa, in any regime (Darcy-Weisbach).

    Laminar drop times f Re / 64, which equals f L/D rho v2/2.

    Parameters
    ----------
    flow
        m3/s.
    inner_diameter, length, roughness
        m, diameter above 0; roughness is the height of the sand grains that rub alike.
    kinematic_viscosity
        m2/s, above 0.
    density
        kg/m3.

    Examples
    --------
    >>> f"{pipe_drop(1e-4, 0.02, 1.0, 0.0, 46e-6, 870.0):.0f}"
    '1019'
    """
    laminar = pipe_linear_coefficient(inner_diameter, length, kinematic_viscosity, density) * flow
    reynolds = reynolds_number(flow, inner_diameter, kinematic_viscosity)
    return laminar * (friction_number(reynolds, roughness / inner_diameter) / _LAMINAR)


def fitting_coefficient(
    reynolds: Column, laminar_k: Column, turbulent_k: Column, inner_diameter: Column
) -> Column:
    """Loss coefficient of a fitting, -: K = K1/Re + Kinf (1 + 0.0254 m / D).

    W. B. Hooper, The two-K method, Chem. Eng. (24 Aug 1981) 96-100.

    Parameters
    ----------
    reynolds
        Reynolds number, above 0.
    laminar_k, turbulent_k
        Hooper's K1 and Kinf; (800, 0.40) for a screwed elbow.
    inner_diameter
        m, above 0.

    Examples
    --------
    >>> f"{fitting_coefficient(1000.0, 800.0, 0.40, 0.0254):.2f}"
    '1.60'
    """
    return laminar_k / reynolds + turbulent_k * (1.0 + _INCH / inner_diameter)


def fitting_linear_coefficient(
    laminar_k: Column, inner_diameter: Column, kinematic_viscosity: Column, density: Column
) -> Column:
    """Part of a fitting's drop that goes with the flow, Pa s/m3: 2 K1 rho nu / (pi D3).

    K1/Re of `fitting_coefficient` times rho v2/2, over the flow.

    Parameters
    ----------
    laminar_k
        Hooper's K1, -.
    inner_diameter
        m, above 0.
    kinematic_viscosity
        m2/s.
    density
        kg/m3.

    Examples
    --------
    >>> f"{fitting_linear_coefficient(800.0, 0.02, 46e-6, 870.0):.4g}"
    '2.548e+06'
    """
    cube = inner_diameter * inner_diameter * inner_diameter
    return (2.0 / math.pi) * density * kinematic_viscosity * laminar_k / cube


def fitting_square_coefficient(
    turbulent_k: Column, inner_diameter: Column, density: Column
) -> Column:
    """Part of a fitting's drop that goes with the square of the flow, Pa s2/m6.

    Kinf (1 + 0.0254 m / D) of `fitting_coefficient` times rho v2/2, over the flow squared.

    Parameters
    ----------
    turbulent_k
        Hooper's Kinf, -.
    inner_diameter
        m, above 0.
    density
        kg/m3.

    Examples
    --------
    >>> f"{fitting_square_coefficient(0.40, 0.0254, 870.0):.4g}"
    '1.355e+09'
    """
    full = turbulent_k * (1.0 + _INCH / inner_diameter)
    return minor_square_coefficient(full, inner_diameter, density)


def minor_square_coefficient(
    loss_coefficient: Column, inner_diameter: Column, density: Column
) -> Column:
    """Drop of a plain loss coefficient per flow squared, Pa s2/m6: 8 K rho / (pi2 D4).

    Parameters
    ----------
    loss_coefficient
        K, -; 0.5 for a sharp entrance, 1 for an exit.
    inner_diameter
        m, above 0.
    density
        kg/m3.

    Examples
    --------
    >>> f"{minor_square_coefficient(1.0, 0.0254, 870.0):.4g}"
    '1.694e+09'
    """
    square = inner_diameter * inner_diameter
    return (8.0 / (math.pi * math.pi)) * density * loss_coefficient / (square * square)


def fitting_drop(
    flow: Column,
    laminar_k: Column,
    turbulent_k: Column,
    inner_diameter: Column,
    kinematic_viscosity: Column,
    density: Column,
) -> Column:
    """Pressure drop of a fitting, Pa, from its two coefficients; 0 without flow.

    Parameters
    ----------
    flow
        m3/s.
    laminar_k, turbulent_k
        Hooper's K1 and Kinf, -.
    inner_diameter
        m, above 0.
    kinematic_viscosity
        m2/s.
    density
        kg/m3.

    Examples
    --------
    >>> f"{fitting_drop(1e-3, 800.0, 0.40, 0.0254, 46e-6, 870.0):.0f}"
    '2599'
    """
    linear = fitting_linear_coefficient(laminar_k, inner_diameter, kinematic_viscosity, density)
    square = fitting_square_coefficient(turbulent_k, inner_diameter, density)
    drop: Column = (linear + square * np.abs(flow)) * flow
    return drop
