"""Engine: what altitude and heat leave of it, its torque curve, the speed it settles at, fuel."""

from __future__ import annotations

import math

import numpy as np

from optimise.columns import Column, where_any

_SEA_LEVEL_PRESSURE = 101_325.0
_SEA_LEVEL_TEMPERATURE = 288.15
_LAPSE = 0.0065
# g / (R L) of the standard atmosphere: 9.80665 / (287.05287 * 0.0065)
_PRESSURE_EXPONENT = 9.80665 / (287.05287 * _LAPSE)

_DEGREE_F = 5.0 / 9.0
_SIXTY_F = (60.0 + 459.67) * _DEGREE_F
_LOSS_PER_KELVIN = 0.01 / (10.0 * _DEGREE_F)
LEAST_FACTOR = 0.01
"""Floor of `air_temperature_factor`."""

_LEAST_SLOPE = 1e-30


def _temperature_ratio(altitude: Column) -> Column:
    return 1.0 - altitude * (_LAPSE / _SEA_LEVEL_TEMPERATURE)


def standard_pressure(altitude: Column) -> Column:
    """Air pressure of the standard atmosphere, Pa (ISO 2533, troposphere).

    Parameters
    ----------
    altitude
        Geopotential altitude, m, up to 11 000.

    Examples
    --------
    >>> f"{standard_pressure(1000.0):.0f}"
    '89875'
    """
    pressure: Column = _SEA_LEVEL_PRESSURE * np.power(
        _temperature_ratio(altitude), _PRESSURE_EXPONENT
    )
    return pressure


def standard_density_ratio(altitude: Column) -> Column:
    """Density of the standard atmosphere over that at sea level, - (ISO 2533, troposphere).

    Parameters
    ----------
    altitude
        Geopotential altitude, m, up to 11 000.

    Examples
    --------
    >>> f"{standard_density_ratio(1000.0):.4f}"
    '0.9075'
    """
    ratio: Column = np.power(_temperature_ratio(altitude), _PRESSURE_EXPONENT - 1.0)
    return ratio


def altitude_factor(altitude: Column) -> Column:
    """Power of a piston engine without charger over that at sea level, -: 1.1324 s - 0.1324.

    Gagg and Farrar, SAE Trans. 29 (1934), constants from memory; s is the density ratio. Friction
    stays while the charge thins, so power falls quicker than density.

    Parameters
    ----------
    altitude
        m, up to 11 000.

    Examples
    --------
    >>> f"{altitude_factor(2000.0):.3f}"
    '0.798'
    """
    return 1.1324 * standard_density_ratio(altitude) - 0.1324


def air_temperature_factor(temperature: Column) -> Column:
    """Power in warm air over rated power, -: 1 % less per 10 degF above 60 degF, 1 below.

    Rule of the trade for petrol and gas engines, with a floor of 0.01.

    Parameters
    ----------
    temperature
        Of the air drawn in, K.

    Examples
    --------
    >>> f"{air_temperature_factor((90.0 + 459.67) / 1.8):.3f}"
    '0.970'
    """
    factor: Column = np.minimum(
        np.maximum(1.0 - _LOSS_PER_KELVIN * (temperature - _SIXTY_F), LEAST_FACTOR), 1.0
    )
    return factor


def full_load_torque(
    speed: Column,
    rated_torque: Column,
    rated_speed: Column,
    peak_torque: Column,
    peak_torque_speed: Column,
) -> Column:
    """Torque at full throttle, N m: a parabola, level at the peak, through the rated point.

    Common practice where only two points of the curve are known; used from the peak up.

    Parameters
    ----------
    speed
        rad/s.
    rated_torque, rated_speed
        N m and rad/s at full load on the governor.
    peak_torque, peak_torque_speed
        Not below the rated torque, N m; below the rated speed, rad/s.

    Examples
    --------
    >>> f"{full_load_torque(300.0, 20.0, 350.0, 24.0, 250.0):.1f}"
    '23.0'
    """
    travel = (speed - peak_torque_speed) / (rated_speed - peak_torque_speed)
    return peak_torque - (peak_torque - rated_torque) * travel * travel


def running_speed(
    pressure_torque: Column,
    viscous_torque_per_speed: Column,
    no_load_speed: Column,
    rated_speed: Column,
    rated_torque: Column,
    peak_torque: Column,
    peak_torque_speed: Column,
) -> Column:
    """Speed at which the engine carries the load torque Tp + k w, rad/s, in closed form.

    On the governor w = w0 - T (w0 - wr)/Tr down to the rated speed; under more load on the
    parabola of `full_load_torque` down to its peak. An engine asked for more than the peak torque
    is stalled and stays at the peak's speed here (see `stall_reserve`).

    Parameters
    ----------
    pressure_torque
        Tp, load torque that does not depend on speed, N m.
    viscous_torque_per_speed
        k, load torque per speed, N m s, from 0.
    no_load_speed, rated_speed, peak_torque_speed
        w0 > wr > wp, rad/s.
    rated_torque, peak_torque
        Tr and Tpk, N m, 0 < Tr <= Tpk.

    Examples
    --------
    >>> f"{running_speed(10.0, 0.0, 370.0, 350.0, 20.0, 24.0, 250.0):.1f}"
    '360.0'
    >>> f"{running_speed(23.0, 0.0, 370.0, 350.0, 20.0, 24.0, 250.0):.1f}"
    '300.0'
    """
    slope = (no_load_speed - rated_speed) / rated_torque
    governed = (no_load_speed - slope * pressure_torque) / (1.0 + slope * viscous_torque_per_speed)
    overloaded = governed < rated_speed

    def with_overloaded() -> tuple[Column]:
        span = rated_speed - peak_torque_speed
        curvature = (peak_torque - rated_torque) / (span * span)
        surplus = np.maximum(
            peak_torque - pressure_torque - viscous_torque_per_speed * peak_torque_speed, 0.0
        )
        root = np.sqrt(
            viscous_torque_per_speed * viscous_torque_per_speed + 4.0 * curvature * surplus
        )
        above_peak = 2.0 * surplus / np.maximum(viscous_torque_per_speed + root, _LEAST_SLOPE)
        return (np.where(overloaded, peak_torque_speed + above_peak, governed),)

    (speed,) = where_any(overloaded, with_overloaded, (governed,))
    return speed


def stall_reserve(load_torque: Column, peak_torque: Column) -> Column:
    """Share of the peak torque that is left, -: 1 - T/Tpk; below 0 the engine stalls.

    Parameters
    ----------
    load_torque
        N m.
    peak_torque
        N m, above 0.

    Examples
    --------
    >>> stall_reserve(18.0, 24.0)
    0.25
    """
    return 1.0 - load_torque / peak_torque


def fuel_mass_flow(power: Column, specific_consumption: Column) -> Column:
    """Fuel burnt, kg/s.

    Parameters
    ----------
    power
        Shaft power, W.
    specific_consumption
        kg/J; 400 g/kWh is 1.11e-7.

    Examples
    --------
    >>> f"{fuel_mass_flow(4000.0, 0.4 / 3.6e6) * 3600:.2f}"
    '1.60'
    """
    return power * specific_consumption


def sae_j1349_factor(dry_pressure: Column, temperature: Column) -> Column:
    """Factor from observed to standard power, -: 1.180 (99 kPa/pd) sqrt(T/298.15 K) - 0.18.

    SAE J1349, form of 1990, petrol engine without charger. Meant for factors of 0.93 to 1.07.

    Parameters
    ----------
    dry_pressure
        Pressure of the dry part of the air, Pa, above 0.
    temperature
        Of the air drawn in, K.

    Examples
    --------
    >>> f"{sae_j1349_factor(95e3, 273.15 + 35):.4f}"
    '1.0701'
    """
    factor: Column = 1.180 * (99e3 / dry_pressure) * np.sqrt(temperature / 298.15) - 0.18
    return factor


def governor_droop(no_load_speed: Column, full_load_speed: Column) -> Column:
    """Fall of speed from no load to full load over the latter, -.

    Parameters
    ----------
    no_load_speed, full_load_speed
        rad/s (or any one unit), the second above 0.

    Examples
    --------
    >>> f"{governor_droop(3750.0, 3570.0):.4f}"
    '0.0504'
    """
    return (no_load_speed - full_load_speed) / full_load_speed


def torque_from_mean_pressure(mean_effective_pressure: Column, swept_volume: Column) -> Column:
    """Torque of a four-stroke engine, N m: T = bmep V / (4 pi).

    Parameters
    ----------
    mean_effective_pressure
        Brake mean effective pressure, Pa.
    swept_volume
        m3.

    Examples
    --------
    >>> f"{torque_from_mean_pressure(8e5, 100e-6):.2f}"
    '6.37'
    """
    return mean_effective_pressure * swept_volume / (4.0 * math.pi)
