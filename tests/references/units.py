"""Units of the sources in SI, exact by definition."""

import math

INCH = 0.0254
FOOT = 12.0 * INCH
MILLIMETRE = 1e-3
POUND = 0.45359237
GRAVITY = 9.80665
LBF = POUND * GRAVITY
PSI = LBF / INCH**2
KSI = 1e3 * PSI
BAR = 1e5
INCH_OF_MERCURY = 3386.389  # conventional value, 7 digits
GALLON = 231.0 * INCH**3
BARREL = 42.0 * GALLON
LITRE = 1e-3
MINUTE = 60.0
HOUR = 3600.0
GPM = GALLON / MINUTE
LPM = LITRE / MINUTE
HORSEPOWER = 550.0 * FOOT * LBF
CST = 1e-6
RPM = 2.0 * math.pi / 60.0
ZERO_CELSIUS = 273.15
DEGREE_F = 5.0 / 9.0
BTU_PER_LB_F = 4186.8  # international table Btu, J/(kg K)
BTU_PER_HOUR = BTU_PER_LB_F * POUND * DEGREE_F / HOUR  # international table Btu, W
WATER_60F = 999.016  # kg/m3, for specific gravities 60 degF / 60 degF


def fahrenheit(value: float) -> float:
    """Kelvin."""
    return (value + 459.67) * DEGREE_F


def circle(area: float) -> float:
    """Diameter of a circle of that area."""
    return math.sqrt(4.0 * area / math.pi)
