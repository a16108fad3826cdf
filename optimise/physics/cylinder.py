"""Cylinder: areas, what the rod end sees, volumes."""

from __future__ import annotations

import math

from optimise.columns import Column

_QUARTER_PI = math.pi / 4.0


def cap_area(bore: Column) -> Column:
    """Piston area on the cap side, m2.

    Parameters
    ----------
    bore
        m.

    Examples
    --------
    >>> f"{cap_area(0.1) * 1e4:.2f}"
    '78.54'
    """
    return _QUARTER_PI * bore * bore


def rod_area(rod_diameter: Column) -> Column:
    """Cross-section of the rod, m2.

    Parameters
    ----------
    rod_diameter
        m.

    Examples
    --------
    >>> f"{rod_area(0.05) * 1e4:.3f}"
    '19.635'
    """
    return _QUARTER_PI * rod_diameter * rod_diameter


def annulus_area(bore: Column, rod_diameter: Column) -> Column:
    """Piston area on the rod side, m2.

    Parameters
    ----------
    bore, rod_diameter
        m, the rod smaller than the bore.

    Examples
    --------
    >>> f"{annulus_area(0.075, 0.014) * 1e6:.0f}"
    '4264'
    """
    return _QUARTER_PI * (bore * bore - rod_diameter * rod_diameter)


def area_ratio(bore: Column, rod_diameter: Column) -> Column:
    """Cap area over annulus area, -: on retract the cap end returns that many times the inflow.

    Parameters
    ----------
    bore, rod_diameter
        m, the rod smaller than the bore.

    Examples
    --------
    >>> f"{area_ratio(5.0, 3.5):.2f}"
    '1.96'
    """
    square = bore * bore
    return square / (square - rod_diameter * rod_diameter)


def intensified_pressure(
    cap_pressure: Column, bore: Column, rod_diameter: Column, load: Column = 0.0
) -> Column:
    """Pressure in a blocked rod end, Pa: (p A_cap - F) / A_annulus.

    Parameters
    ----------
    cap_pressure
        Pa.
    bore, rod_diameter
        m, the rod smaller than the bore.
    load
        Force against the rod, N.

    Examples
    --------
    >>> f"{intensified_pressure(3000.0, 4.0, 2.0):.0f}"
    '4000'
    """
    return (cap_pressure * cap_area(bore) - load) / annulus_area(bore, rod_diameter)


def compression_volume(pressure: Column, volume: Column, bulk_modulus: Column) -> Column:
    """Oil that must flow in to bring a filled volume to a pressure, m3: p V / B.

    Parameters
    ----------
    pressure
        Rise, Pa.
    volume
        m3.
    bulk_modulus
        Pa, above 0.

    Examples
    --------
    >>> f"{compression_volume(20e6, 5e-3, 1.7e9) * 1e6:.1f}"
    '58.8'
    """
    return pressure * volume / bulk_modulus


def rod_displacement(rod_diameter: Column, stroke: Column) -> Column:
    """Swing of the oil in the tank between rod in and rod out, m3.

    Parameters
    ----------
    rod_diameter, stroke
        m.

    Examples
    --------
    >>> f"{rod_displacement(0.0508, 0.6096) * 1e3:.3f}"
    '1.236'
    """
    return rod_area(rod_diameter) * stroke
