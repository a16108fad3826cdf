"""Pump with constant coefficients after Wilson: leakage, flow, torque, efficiencies.

Q = D w - Cs D p/mu and T = D p (1 + Cf) + Cv D mu w, with D the displacement per radian, w the
speed, p the pressure rise and mu the dynamic viscosity: W. E. Wilson, Positive-Displacement Pumps
and Fluid Motors (1950). Displacements are per revolution here.
"""

from __future__ import annotations

import math

from optimise.columns import Column

_PER_RADIAN = 0.5 / math.pi
"""Of what is stated per revolution."""


def slip_coefficient(
    volumetric_efficiency: Column,
    rated_pressure: Column,
    rated_speed: Column,
    reference_viscosity: Column,
) -> Column:
    """Wilson's slip coefficient Cs, -, from a catalogue efficiency: eta_v = 1 - Cs p/(mu w).

    Parameters
    ----------
    volumetric_efficiency
        At the rated point, above 0 to 1.
    rated_pressure
        Pa, above 0.
    rated_speed
        rad/s, above 0.
    reference_viscosity
        Dynamic viscosity of the rating, Pa s.

    Examples
    --------
    >>> f"{slip_coefficient(0.9, 20e6, 200.0, 0.03):.2e}"
    '3.00e-08'
    """
    return (1.0 - volumetric_efficiency) * reference_viscosity * rated_speed / rated_pressure


def torque_loss_coefficients(
    mechanical_efficiency: Column,
    rated_pressure: Column,
    rated_speed: Column,
    reference_viscosity: Column,
    viscous_share: Column,
) -> tuple[Column, Column]:
    """Wilson's viscous and Coulomb coefficients Cv and Cf, -, from a catalogue efficiency.

    1/eta_m - 1 = Cv mu w/p + Cf, the share given in the first term.

    Parameters
    ----------
    mechanical_efficiency
        At the rated point, above 0 to 1.
    rated_pressure
        Pa.
    rated_speed
        rad/s, above 0.
    reference_viscosity
        Dynamic viscosity of the rating, Pa s, above 0.
    viscous_share
        Share of the loss that goes with viscosity and speed, 0 to 1.

    Examples
    --------
    >>> cv, cf = torque_loss_coefficients(0.8, 24e6, 200.0, 0.03, 0.4)
    >>> f"{cv:.3g} {cf:.3g}"
    '4e+05 0.15'
    """
    loss = 1.0 / mechanical_efficiency - 1.0
    viscous = viscous_share * loss * rated_pressure / (reference_viscosity * rated_speed)
    return viscous, (1.0 - viscous_share) * loss


def ideal_flow(displacement: Column, speed: Column) -> Column:
    """Flow without leakage, m3/s.

    Parameters
    ----------
    displacement
        m3 per revolution.
    speed
        rad/s.

    Examples
    --------
    >>> f"{ideal_flow(60e-6, 2 * math.pi * 50):.4f}"
    '0.0030'
    """
    return displacement * _PER_RADIAN * speed


def slip_flow(
    displacement: Column, pressure: Column, dynamic_viscosity: Column, slip_coefficient: Column
) -> Column:
    """Leakage, m3/s: Cs D p/mu.

    Parameters
    ----------
    displacement
        m3 per revolution.
    pressure
        Pressure rise, Pa.
    dynamic_viscosity
        Pa s, above 0.
    slip_coefficient
        Cs, -.

    Examples
    --------
    >>> f"{slip_flow(2 * math.pi * 1e-5, 20e6, 0.03, 3e-8):.1e}"
    '2.0e-04'
    """
    return slip_coefficient * displacement * _PER_RADIAN / dynamic_viscosity * pressure


def delivered_flow(
    displacement: Column,
    speed: Column,
    pressure: Column,
    dynamic_viscosity: Column,
    slip_coefficient: Column,
) -> Column:
    """Flow at the outlet, m3/s: `ideal_flow` less `slip_flow`; below 0 when all of it leaks.

    Parameters
    ----------
    displacement
        m3 per revolution.
    speed
        rad/s.
    pressure
        Pressure rise, Pa.
    dynamic_viscosity
        Pa s, above 0.
    slip_coefficient
        Cs, -.

    Examples
    --------
    >>> f"{delivered_flow(2 * math.pi * 1e-5, 200.0, 20e6, 0.03, 3e-8):.1e}"
    '1.8e-03'
    """
    leakage = slip_flow(displacement, pressure, dynamic_viscosity, slip_coefficient)
    return ideal_flow(displacement, speed) - leakage


def pressure_torque(displacement: Column, pressure: Column, coulomb_coefficient: Column) -> Column:
    """Shaft torque that goes with pressure, N m: D p (1 + Cf).

    Parameters
    ----------
    displacement
        m3 per revolution.
    pressure
        Pressure rise, Pa.
    coulomb_coefficient
        Cf, -.

    Examples
    --------
    >>> f"{pressure_torque(100e-6, 70e5, 0.0):.2f}"
    '111.41'
    """
    return displacement * _PER_RADIAN * (1.0 + coulomb_coefficient) * pressure


def viscous_torque_per_speed(
    displacement: Column, dynamic_viscosity: Column, viscous_coefficient: Column
) -> Column:
    """Shaft torque that goes with speed, per speed, N m s: Cv D mu.

    Parameters
    ----------
    displacement
        m3 per revolution.
    dynamic_viscosity
        Pa s.
    viscous_coefficient
        Cv, -.

    Examples
    --------
    >>> f"{viscous_torque_per_speed(2 * math.pi * 1e-5, 0.03, 1e5):.3f}"
    '0.030'
    """
    return viscous_coefficient * displacement * _PER_RADIAN * dynamic_viscosity


def volumetric_efficiency(
    pressure: Column, speed: Column, dynamic_viscosity: Column, slip_coefficient: Column
) -> Column:
    """Delivered over ideal flow, -: 1 - Cs p/(mu w).

    Parameters
    ----------
    pressure
        Pressure rise, Pa.
    speed
        rad/s, above 0.
    dynamic_viscosity
        Pa s, above 0.
    slip_coefficient
        Cs, -.

    Examples
    --------
    >>> f"{volumetric_efficiency(20e6, 200.0, 0.03, 3e-8):.2f}"
    '0.90'
    """
    return 1.0 - slip_coefficient * pressure / (dynamic_viscosity * speed)


def mechanical_efficiency(
    pressure: Column,
    speed: Column,
    dynamic_viscosity: Column,
    viscous_coefficient: Column,
    coulomb_coefficient: Column,
) -> Column:
    """Ideal over shaft torque, -: 1/(1 + Cv mu w/p + Cf); 0 without pressure.

    Parameters
    ----------
    pressure
        Pressure rise, Pa, from 0.
    speed
        rad/s, above 0.
    dynamic_viscosity
        Pa s, above 0.
    viscous_coefficient, coulomb_coefficient
        Cv (above 0) and Cf, -.

    Examples
    --------
    >>> f"{mechanical_efficiency(24e6, 200.0, 0.03, 4e5, 0.15):.2f}"
    '0.80'
    """
    viscous = viscous_coefficient * dynamic_viscosity * speed
    return pressure / (pressure * (1.0 + coulomb_coefficient) + viscous)
