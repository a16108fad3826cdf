"""Strength: the rod as a column, the rod in plain stress, the barrel under pressure."""

from __future__ import annotations

import math

import numpy as np

from optimise.columns import Column
from optimise.elementary import cosine, sine

MOUNTING_FACTORS: dict[str, float] = {
    "pinned-pinned": 1.0,
    "fixed-guided": 1.0,
    "fixed-free": 0.25,
    "fixed-fixed": 1.0,
}
"""End-condition constant C, conservative values: Shigley, Mechanical Engineering Design, 9th ed.,
table 4-2; guided ends count as pinned because a slide has play."""

_HALVINGS = 5
_NEWTON_STEPS = 4


def radius_of_gyration(diameter: Column) -> Column:
    """Radius of gyration of a solid round bar, m: d/4.

    Parameters
    ----------
    diameter
        m.

    Examples
    --------
    >>> radius_of_gyration(0.05)
    0.0125
    """
    return 0.25 * diameter


def slenderness(length: Column, diameter: Column) -> Column:
    """Slenderness of a solid round bar, -: l/k.

    Parameters
    ----------
    length
        m.
    diameter
        m, above 0.

    Examples
    --------
    >>> f"{slenderness(1.5, 0.04):.0f}"
    '150'
    """
    return length / radius_of_gyration(diameter)


def transition_slenderness(
    elastic_modulus: Column, yield_strength: Column, end_condition: Column
) -> Column:
    """Slenderness above which Euler governs, -: sqrt(2 pi2 C E/Sy).

    Shigley, 9th ed., section 4-13. The critical stress is half the yield strength there.

    Parameters
    ----------
    elastic_modulus, yield_strength
        Pa.
    end_condition
        C, see `MOUNTING_FACTORS`.

    Examples
    --------
    >>> f"{transition_slenderness(207e9, 500e6, 1.0):.1f}"
    '90.4'
    """
    limit: Column = math.pi * np.sqrt(2.0 * end_condition * elastic_modulus / yield_strength)
    return limit


def critical_load(
    diameter: Column,
    length: Column,
    end_condition: Column,
    elastic_modulus: Column,
    yield_strength: Column,
) -> Column:
    """Buckling load of a solid round column, N: Euler when slender, Johnson when stout.

    Pcr/A = C pi2 E/(l/k)2 above the transition, Sy - (Sy l/(2 pi k))2/(C E) below: Shigley,
    9th ed., eqs. 4-44 and 4-46.

    Parameters
    ----------
    diameter
        m, above 0.
    length
        m, from 0.
    end_condition
        C, see `MOUNTING_FACTORS`.
    elastic_modulus, yield_strength
        Pa.

    Examples
    --------
    >>> f"{critical_load(0.04, 1.5, 1.0, 207e9, 500e6):.0f}"
    '114103'
    """
    area = 0.25 * math.pi * diameter * diameter
    ratio = slenderness(length, diameter)
    limit = transition_slenderness(elastic_modulus, yield_strength, end_condition)
    # With x = (l/k)/limit the two branches are Sy/(2 x2) and Sy (1 - x2/2).
    square = ratio * ratio / (limit * limit)
    stout = 1.0 - 0.5 * square
    slender = 0.5 / np.maximum(square, 1.0)
    load: Column = area * yield_strength * np.where(square > 1.0, slender, stout)
    return load


def stepped_column_factor(stiffness_ratio: Column, stiff_fraction: Column) -> Column:
    """Factor K of a pinned column of two stiffnesses, -: Pcr = K pi2 E I_rod/L2.

    First root of k1 cot(k1 L1) + k2 cot(k2 L2) = 0 with ki = sqrt(P/(E Ii)) (Timoshenko and Gere,
    Theory of Elastic Stability). Rigid joint, no play, no own weight.

    Parameters
    ----------
    stiffness_ratio
        E I of the barrel over E I of the rod, above 0.
    stiff_fraction
        Barrel's share of the length between the pins, 0 to 1.

    Examples
    --------
    >>> f"{stepped_column_factor(4.0, 2.0 / 3.0):.6f}"
    '2.250000'
    """
    # In x = sqrt(P/(E I_rod)) L, angles a = (1 - f) x and b = f s x. Times the sines (no poles):
    # cos a sin b + s sin a cos b = 0, below by sum and difference of the angles. Up to a, b <= pi
    # it changes sign once, from + to -. Halvings bring Newton's steps near, the bracket keeps them.
    s = 1.0 / np.sqrt(stiffness_ratio)
    rod, barrel = 1.0 - stiff_fraction, stiff_fraction * s
    together, apart = rod + barrel, rod - barrel
    plus, minus = 1.0 + s, 1.0 - s
    low = math.pi * np.minimum(1.0, 1.0 / s)
    high = math.pi / np.maximum(rod, barrel)
    for _ in range(_HALVINGS):
        x = 0.5 * (low + high)
        before = plus * sine(together * x) > minus * sine(apart * x)
        low, high = np.where(before, x, low), np.where(before, high, x)
    x = 0.5 * (low + high)
    for _ in range(_NEWTON_STEPS):
        value = plus * sine(together * x) - minus * sine(apart * x)
        slope = plus * together * cosine(together * x) - minus * apart * cosine(apart * x)
        x = np.minimum(np.maximum(x - value / slope, low), high)
    factor: Column = x * x / (math.pi * math.pi)
    return factor


def axial_stress(force: Column, diameter: Column) -> Column:
    """Plain stress in a solid round bar, Pa.

    Parameters
    ----------
    force
        N.
    diameter
        m, above 0.

    Examples
    --------
    >>> f"{axial_stress(100e3, 0.05) / 1e6:.2f}"
    '50.93'
    """
    return force / (0.25 * math.pi * diameter * diameter)


def lame_hoop_stress(pressure: Column, inner_diameter: Column, wall_thickness: Column) -> Column:
    """Hoop stress at the bore of a thick cylinder, Pa: p (ro2 + ri2)/(ro2 - ri2) (Lame).

    Parameters
    ----------
    pressure
        Inside, Pa.
    inner_diameter
        m.
    wall_thickness
        m, above 0.

    Examples
    --------
    >>> f"{lame_hoop_stress(3000.0, 4.0, 0.25):.0f}"
    '25588'
    """
    outer = inner_diameter + 2.0 * wall_thickness
    inner_square, outer_square = inner_diameter * inner_diameter, outer * outer
    return pressure * (outer_square + inner_square) / (outer_square - inner_square)


def lame_radial(pressure: Column) -> Column:
    """Radial stress at the bore of a thick cylinder, Pa: the pressure, pushing.

    Parameters
    ----------
    pressure
        Inside, Pa.

    Examples
    --------
    >>> lame_radial(20e6)
    -20000000.0
    """
    return -pressure


def lame_axial(pressure: Column, inner_diameter: Column, wall_thickness: Column) -> Column:
    """Axial stress in a thick cylinder with closed ends, Pa: p ri2/(ro2 - ri2).

    Parameters
    ----------
    pressure
        Inside, Pa.
    inner_diameter
        m.
    wall_thickness
        m, above 0.

    Examples
    --------
    >>> f"{lame_axial(3000.0, 4.0, 0.25):.0f}"
    '11294'
    """
    inner_square = inner_diameter * inner_diameter
    return pressure * inner_square / (4.0 * wall_thickness * (inner_diameter + wall_thickness))


def von_mises_barrel(pressure: Column, inner_diameter: Column, wall_thickness: Column) -> Column:
    """Equivalent stress at the bore of a barrel with closed ends, Pa: sqrt(3) p ro2/(ro2 - ri2).

    What von Mises' rule makes of `lame_hoop_stress`, `lame_axial` and `lame_radial`: hoop and
    radial stress lie equally far on both sides of the axial one.

    Parameters
    ----------
    pressure
        Inside, Pa.
    inner_diameter
        m.
    wall_thickness
        m, above 0.

    Examples
    --------
    >>> f"{von_mises_barrel(3000.0, 4.0, 0.25):.0f}"
    '24758'
    """
    outer = inner_diameter + 2.0 * wall_thickness
    ring = 4.0 * wall_thickness * (inner_diameter + wall_thickness)
    return math.sqrt(3.0) * pressure * outer * outer / ring


def mean_diameter_burst(
    ultimate_strength: Column, inner_diameter: Column, wall_thickness: Column
) -> Column:
    """Burst pressure by the mean-diameter rule, Pa: 2 Su t/(Di + t).

    Parameters
    ----------
    ultimate_strength
        Pa.
    inner_diameter
        m.
    wall_thickness
        m.

    Examples
    --------
    >>> f"{mean_diameter_burst(85_000.0, 4.0, 0.25):.0f}"
    '10000'
    """
    return 2.0 * ultimate_strength * wall_thickness / (inner_diameter + wall_thickness)
