"""Oil: viscosity over temperature, viscosity index, density, stiffness with free air in it."""

from __future__ import annotations

import math

from optimise.columns import Column
from optimise.elementary import log10, power

ABSOLUTE_ZERO = 273.15
"""0 degC in kelvin."""

_SQUARE_MM = 1e-6
_AT_40, _AT_100 = math.log10(ABSOLUTE_ZERO + 40.0), math.log10(ABSOLUTE_ZERO + 100.0)
_REFERENCE_TEMPERATURE = ABSOLUTE_ZERO + 15.0


def _walther(kinematic_viscosity: Column) -> Column:
    doubled: Column = log10(log10(kinematic_viscosity / _SQUARE_MM + 0.7))
    return doubled


def walther_constants(viscosity_40: Column, viscosity_100: Column) -> tuple[Column, Column]:
    """Constants A and B of the viscosity-temperature line through 40 and 100 degC.

    log10 log10(nu + 0.7) = A - B log10 T, nu in mm2/s, T in K (ASTM D341, valid from 2 mm2/s up).

    Parameters
    ----------
    viscosity_40, viscosity_100
        Kinematic viscosity at 40 and 100 degC, m2/s, above 0.3e-6.

    Examples
    --------
    >>> a, b = walther_constants(32e-6, 5.4e-6)
    >>> f"{a:.3f} {b:.3f}"
    '9.531 3.747'
    """
    at_40 = _walther(viscosity_40)
    b = (at_40 - _walther(viscosity_100)) / (_AT_100 - _AT_40)
    return at_40 + b * _AT_40, b


def walther_viscosity(temperature: Column, a: Column, b: Column) -> Column:
    """Kinematic viscosity, m2/s, on the line of ASTM D341.

    Extrapolation far below 0 degC knows nothing of the pour point.

    Parameters
    ----------
    temperature
        K, above 0.
    a, b
        From `walther_constants`.

    Examples
    --------
    >>> a, b = walther_constants(32e-6, 5.4e-6)
    >>> f"{walther_viscosity(273.15 + 80, a, b) * 1e6:.2f}"
    '8.53'
    """
    inner = power(10.0, a - b * log10(temperature))
    viscosity: Column = (power(10.0, inner) - 0.7) * _SQUARE_MM
    return viscosity


def walther_temperature(kinematic_viscosity: Column, a: Column, b: Column) -> Column:
    """Temperature, K, at which the oil has the given viscosity: ASTM D341 solved for T.

    Parameters
    ----------
    kinematic_viscosity
        m2/s, above 0.3e-6.
    a, b
        From `walther_constants`.

    Examples
    --------
    >>> a, b = walther_constants(32e-6, 5.4e-6)
    >>> f"{walther_temperature(5.4e-6, a, b) - 273.15:.6f}"
    '100.000000'
    """
    temperature: Column = power(10.0, (a - _walther(kinematic_viscosity)) / b)
    return temperature


# Upper end of nu(100 degC) in mm2/s, then a, b, c of L = a Y2 + b Y + c and d, e, f of H:
# the quadratics of ASTM D2270 for computers; the last row is its equation above 70 mm2/s.
_INDEX_SEGMENTS = (
    (3.8, (1.14673, 1.7576, -0.109), (0.84155, 1.5521, -0.077)),
    (4.4, (3.38095, -15.4952, 33.196), (0.78571, 1.7929, -0.183)),
    (5.0, (2.5, -7.2143, 13.812), (0.82143, 1.5679, 0.119)),
    (6.4, (0.101, 16.635, -45.469), (0.04985, 9.1613, -18.557)),
    (7.0, (3.35714, -23.5643, 78.466), (0.22619, 7.7369, -16.656)),
    (7.7, (0.01191, 21.475, -72.87), (0.79762, -0.7321, 14.61)),
    (9.0, (0.41858, 16.1558, -56.04), (0.05794, 10.5156, -28.24)),
    (12.0, (0.88779, 7.5527, -16.6), (0.26665, 6.7015, -10.81)),
    (15.0, (0.7672, 10.7972, -38.18), (0.20073, 8.4658, -22.49)),
    (18.0, (0.97305, 5.3135, -2.2), (0.28889, 5.9741, -4.93)),
    (22.0, (0.97256, 5.25, -0.98), (0.24504, 7.416, -16.73)),
    (28.0, (0.91413, 7.4759, -21.82), (0.20323, 9.1267, -34.23)),
    (40.0, (0.87031, 9.7157, -50.77), (0.18411, 10.1015, -46.75)),
    (55.0, (0.84703, 12.6752, -133.31), (0.17029, 11.4866, -80.62)),
    (70.0, (0.85921, 11.1009, -83.19), (0.1713, 11.368, -76.94)),
    (math.inf, (0.8353, 14.67, -216.0), (0.1684, 11.85, -97.0)),
)
_LEAST_AT_100 = 2.0
_HALVINGS = 60


def viscosity_index(viscosity_40: float, viscosity_100: float) -> float:
    """Viscosity index, not rounded, by procedures A (up to 100) and B (above) of ASTM D2270.

    Parameters
    ----------
    viscosity_40, viscosity_100
        Study constants: kinematic viscosity at 40 and 100 degC, m2/s; the second at least 2e-6
        and below the first.

    Raises
    ------
    ValueError
        Outside the standard's range.

    Examples
    --------
    >>> round(viscosity_index(73.30e-6, 8.86e-6))
    92
    """
    u, y = viscosity_40 / _SQUARE_MM, viscosity_100 / _SQUARE_MM
    # Division can leave 2 mm2/s a few bits short of 2.
    if not (y > _LEAST_AT_100 * (1.0 - 1e-12) and y < u < math.inf):
        raise ValueError(
            "The viscosity index needs a viscosity at 100 degC of at least 2 mm2/s and a higher"
            f" one at 40 degC; given {y:.4g} and {u:.4g} mm2/s."
        )
    low, high = next((low, high) for end, low, high in _INDEX_SEGMENTS if y < end)
    index_0 = (low[0] * y + low[1]) * y + low[2]
    index_100 = (high[0] * y + high[1]) * y + high[2]
    if u >= index_100:
        return 100.0 * (index_0 - u) / (index_0 - index_100)
    exponent = math.log10(index_100 / u) / math.log10(y)
    return (math.pow(10.0, exponent) - 1.0) / 0.00715 + 100.0


def viscosity_100_from_index(viscosity_40: float, index: float) -> float:
    """Kinematic viscosity at 100 degC, m2/s, of an oil known by its 40 degC value and index.

    Inverse of `viscosity_index`, by bisection to the last bits.

    Parameters
    ----------
    viscosity_40
        Study constant, m2/s, above 2e-6.
    index
        Study constant, viscosity index, -.

    Raises
    ------
    ValueError
        No viscosity at 100 degC gives that index.

    Examples
    --------
    >>> f"{viscosity_100_from_index(73.30e-6, 92.43) * 1e6:.2f}"
    '8.86'
    """
    least, most = _LEAST_AT_100 * _SQUARE_MM, viscosity_40 * (1.0 - 1e-9)
    if not least < most < math.inf:
        raise ValueError(
            "The viscosity index is defined for oils thicker than 2 mm2/s at 100 degC; given"
            f" {viscosity_40 / _SQUARE_MM:.4g} mm2/s at 40 degC."
        )
    lowest, highest = viscosity_index(viscosity_40, least), viscosity_index(viscosity_40, most)
    if not lowest <= index <= highest:
        raise ValueError(
            f"No oil of {viscosity_40 / _SQUARE_MM:.4g} mm2/s at 40 degC has the viscosity index"
            f" {index:.4g}; possible are {lowest:.4g} to {highest:.4g}."
        )
    for _ in range(_HALVINGS):
        middle = 0.5 * (least + most)
        if viscosity_index(viscosity_40, middle) < index:
            least = middle
        else:
            most = middle
    return 0.5 * (least + most)


def density(temperature: Column, density_15: Column, expansion: Column) -> Column:
    """Density, kg/m3, at atmospheric pressure: rho = rho15 / (1 + beta (T - 288.15 K)).

    Parameters
    ----------
    temperature
        K.
    density_15
        Density at 15 degC, kg/m3.
    expansion
        Coefficient of cubic expansion, 1/K; 0.0006 to 0.0009 for mineral oil.

    Examples
    --------
    >>> f"{density(273.15 + 60, 870.0, 0.00063):.0f}"
    '846'
    """
    return density_15 / (1.0 + expansion * (temperature - _REFERENCE_TEMPERATURE))


def effective_bulk_modulus(
    pressure: Column,
    bulk_modulus: Column,
    air_fraction: Column,
    polytropic_index: float = 1.4,
) -> Column:
    """Bulk modulus of oil with free air, Pa: 1/Be = a / (n p) + (1 - a) / B.

    Rabie, Fluid Power Engineering (2009), eq. 2.57, with the air fraction taken at the pressure.

    Parameters
    ----------
    pressure
        Absolute pressure, Pa, above 0.
    bulk_modulus
        Of the oil without air, Pa.
    air_fraction
        Volume of free air in the volume of the mixture at that pressure, 0 to 1.
    polytropic_index
        Study constant: 1 for slow, 1.4 for quick compression.

    Examples
    --------
    >>> f"{effective_bulk_modulus(50e5, 1.5e9, 0.01) / 1e9:.3f}"
    '0.479'
    """
    return 1.0 / (
        air_fraction / (polytropic_index * pressure) + (1.0 - air_fraction) / bulk_modulus
    )
