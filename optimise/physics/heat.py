"""Heat: what the oil takes up and gives away."""

from __future__ import annotations

from optimise.columns import Column


def wall_rejection(coefficient: Column, area: Column, temperature_difference: Column) -> Column:
    """Heat given to the air by a wall, W: h A dT.

    Parameters
    ----------
    coefficient
        W/(m2 K); 6 in poor, 12 in normal, 24 in forced air for a tank.
    area
        m2.
    temperature_difference
        Oil less air, K.

    Examples
    --------
    >>> f"{wall_rejection(12.0, 1.7, 50.0):.0f}"
    '1020'
    """
    return coefficient * area * temperature_difference


def conductance_rejection(conductance: Column, temperature_difference: Column) -> Column:
    """Heat given away by a part known by its conductance (a cooler), W.

    Parameters
    ----------
    conductance
        W/K.
    temperature_difference
        Oil less air, K.

    Examples
    --------
    >>> conductance_rejection(50.0, 30.0)
    1500.0
    """
    return conductance * temperature_difference


def throttling_rise(drop: Column, density: Column, specific_heat: Column) -> Column:
    """Temperature rise of oil that loses pressure without doing work, K: dp/(rho c).

    Parameters
    ----------
    drop
        Pa.
    density
        kg/m3.
    specific_heat
        J/(kg K).

    Examples
    --------
    >>> f"{throttling_rise(70e5, 895.0, 1800.0):.2f}"
    '4.35'
    """
    return drop / (density * specific_heat)


def warm_up_time_constant(
    oil_mass: Column,
    oil_specific_heat: Column,
    steel_mass: Column,
    steel_specific_heat: Column,
    conductance: Column,
) -> Column:
    """Time after which 63 % of the final rise is reached, s: (mo co + ms cs)/(h A).

    Parameters
    ----------
    oil_mass, steel_mass
        kg.
    oil_specific_heat, steel_specific_heat
        J/(kg K).
    conductance
        To the air, W/K, above 0.

    Examples
    --------
    >>> f"{warm_up_time_constant(43.5, 1900.0, 40.0, 460.0, 14.4) / 60:.0f}"
    '117'
    """
    return (oil_mass * oil_specific_heat + steel_mass * steel_specific_heat) / conductance


def steady_temperature(ambient: Column, heat: Column, conductance: Column) -> Column:
    """Temperature at which as much heat leaves as enters, K: Ta + P/(h A).

    Parameters
    ----------
    ambient
        K.
    heat
        W.
    conductance
        W/K, above 0.

    Examples
    --------
    >>> f"{steady_temperature(298.15, 600.0, 12.0) - 273.15:.1f}"
    '75.0'
    """
    return ambient + heat / conductance
