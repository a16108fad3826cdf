"""Valve, filter, cooler core: pressure drop from one rated point."""

from __future__ import annotations

import numpy as np

from optimise.columns import Column


def square_drop_coefficient(
    nominal_flow: Column, nominal_drop: Column, density: Column, reference_density: Column
) -> Column:
    """Coefficient c of a sharp-edged resistance, Pa s2/m6: dp = c Q2, rated at one point.

    Parameters
    ----------
    nominal_flow
        Rated flow, m3/s, above 0.
    nominal_drop
        Drop at the rated flow, Pa.
    density, reference_density
        Of the oil in use and of the oil of the rating, kg/m3.

    Examples
    --------
    >>> f"{square_drop_coefficient(1e-3, 5e5, 870.0, 870.0) * 0.5e-3**2:.0f}"
    '125000'
    """
    return nominal_drop / (nominal_flow * nominal_flow) * (density / reference_density)


def element_linear_coefficient(
    nominal_flow: Column, clean_drop: Column, viscous_share: Column, viscosity_ratio: Column
) -> Column:
    """Viscous part of a filter's or core's drop per flow, Pa s/m3.

    The medium's part goes with viscosity and flow, the housing's with density and the square of
    the flow (`element_square_coefficient`). Common practice of filter makers.

    Parameters
    ----------
    nominal_flow
        Rated flow, m3/s, above 0.
    clean_drop
        Drop of the clean part at the rated flow and viscosity, Pa.
    viscous_share
        Share of it that is viscous, 0 to 1.
    viscosity_ratio
        Dynamic viscosity over that of the rating, -.

    Examples
    --------
    >>> f"{element_linear_coefficient(1e-3, 0.4e5, 0.75, 2.0) * 1e-3:.0f}"
    '60000'
    """
    return clean_drop * viscous_share * viscosity_ratio / nominal_flow


def element_square_coefficient(
    nominal_flow: Column, clean_drop: Column, viscous_share: Column, density_ratio: Column
) -> Column:
    """Rest of a filter's or core's drop per flow squared, Pa s2/m6.

    Parameters
    ----------
    nominal_flow
        Rated flow, m3/s, above 0.
    clean_drop
        Drop of the clean part at the rated flow and viscosity, Pa.
    viscous_share
        Share of it that is viscous, 0 to 1.
    density_ratio
        Density over that of the rating, -.

    Examples
    --------
    >>> f"{element_square_coefficient(1e-3, 0.4e5, 0.75, 1.0) * 2e-3**2:.0f}"
    '40000'
    """
    return clean_drop * (1.0 - viscous_share) * density_ratio / (nominal_flow * nominal_flow)


def flow_at_drop(nominal_flow: Column, nominal_drop: Column, drop: Column) -> Column:
    """Flow of a sharp-edged resistance at another drop, m3/s: Q = Qn sqrt(dp / dpn).

    Parameters
    ----------
    nominal_flow
        Rated flow, m3/s.
    nominal_drop
        Drop at the rated flow, Pa, above 0.
    drop
        Pa, from 0.

    Examples
    --------
    >>> f"{flow_at_drop(40.0, 10e5, 20e5):.1f}"
    '56.6'
    """
    flow: Column = nominal_flow * np.sqrt(drop / nominal_drop)
    return flow
