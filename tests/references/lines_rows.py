"""Check rows: velocity, Reynolds number, friction, fittings."""

from __future__ import annotations

import math
from collections.abc import Callable

from optimise.physics import lines
from tests.references.check import COMPUTED, LAST_DIGIT, PRINTED, Check, Label
from tests.references.units import (
    BAR,
    BARREL,
    CST,
    FOOT,
    GALLON,
    GPM,
    GRAVITY,
    HOUR,
    INCH,
    INCH_OF_MERCURY,
    LPM,
    PSI,
    WATER_60F,
    circle,
)

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "
CRANE = "Crane, Technical Paper 410, solved problem "
DRAWN = 0.0018 * INCH  # roughness of commercial steel pipe

Compute = Callable[[], float]
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


def _flow(velocity: float, diameter: float) -> float:
    return velocity * math.pi / 4.0 * diameter**2


_Q_1IN = _flow(10 * FOOT, INCH)
_Q_50MM = _flow(5.0, 0.050)
_OIL = 0.9 * WATER_60F
_RHO_8800 = 8800 / GRAVITY


def _equivalent_length() -> float:
    reynolds = lines.reynolds_number(30 * GPM, INCH, 100 * CST)
    return 10 * INCH / float(lines.darcy_factor(reynolds, 0.0)) / FOOT


def _crane_78() -> float:
    bore = 0.2027
    flow = 600 * BARREL / HOUR
    pipe = lines.pipe_drop(flow, bore, 60.0, DRAWN, 0.130 / 869.2, 869.2)
    valve = lines.minor_square_coefficient(340 * 0.014, bore, 869.2) * flow**2
    return float(pipe + valve)


def _crane_713() -> float:
    return float(
        lines.pipe_drop(2 * GALLON, 2.067 * INCH, 100 * FOOT, DRAWN, 2.7 * CST, 0.815 * WATER_60F)
    )


def _suction(viscosity: float) -> float:
    flow, bore, rho = 10.04 * GPM, INCH, 870.0
    drop = (
        lines.pipe_drop(flow, bore, 1.2, 0.0, viscosity * CST, rho)
        + lines.fitting_drop(flow, 800.0, 0.40, bore, viscosity * CST, rho)
        + lines.minor_square_coefficient(0.5, bore, rho) * flow**2
    )
    return float(drop) / INCH_OF_MERCURY


def _orifice_head(loss: float, flow: float, bore: float) -> float:
    """Head, m."""
    return float(lines.minor_square_coefficient(loss, bore, 1.0)) * flow**2 / GRAVITY


_WORKED = (
    *_rows(
        ESPOSITO + "Ex 4-1, 4-2 p132",
        "published",
        PRINTED,
        (
            "H53", "Reynolds number, 10 ft/s, 1 in, 100 cSt", 774, 0.5, "-",
            lambda: lines.reynolds_number(_Q_1IN, INCH, 100 * CST),
        ),
        (
            "H54", "Reynolds number, 5 m/s, 50 mm, 1000 cSt", 250, 0.5, "-",
            lambda: lines.reynolds_number(_Q_50MM, 0.050, 0.001),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-3 p134, Ex 4-4",
        "published",
        PRINTED,
        (
            "H55", "drop in 100 ft of the first line, SG 0.9", 60, 0.5, "psi",
            lambda: lines.pipe_drop(_Q_1IN, INCH, 100 * FOOT, 0.0, 100 * CST, _OIL) / PSI,
        ),
        (
            "H55-head", "the same as head", 154, 0.5, "ft",
            lambda: lines.pipe_drop(_Q_1IN, INCH, 100 * FOOT, 0.0, 100 * CST, _OIL)
            / (_OIL * GRAVITY * FOOT),
        ),
        (
            "H56", "head lost in 50 m of the second line", 326, 0.5, "m",
            lambda: lines.pipe_drop(_Q_50MM, 0.050, 50.0, 0.0, 0.001, _RHO_8800) / 8800,
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-5 p137 (read from a chart)",
        "published",
        "reading of a chart; the exact Colebrook factor is 3.6 % above the second",
        (
            "H57-laminar", "friction factor, 10 ft/s, 1 in, 50 cSt", 0.042, 0.001, "-",
            lambda: lines.darcy_factor(
                lines.reynolds_number(_Q_1IN, INCH, 50 * CST), DRAWN / INCH
            ),
        ),
        (
            "H57-turbulent", "friction factor at 40 ft/s", 0.036, 0.0015, "-",
            lambda: lines.darcy_factor(
                lines.reynolds_number(4 * _Q_1IN, INCH, 50 * CST), DRAWN / INCH
            ),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-6 p142",
        "published",
        "the book rounds the velocity to 12.2 ft/s (1 % of the head)",
        (
            "H58", "globe valve, K 10, 30 gpm, 1 in", 23.1, 0.3, "ft",
            lambda: _orifice_head(10.0, 30 * GPM, INCH) / FOOT,
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-7 p142",
        "published",
        PRINTED,
        (
            "H59", "gate valve, K 0.19, 0.02 m3/s, 50 mm", 1.01, 0.005, "m",
            lambda: _orifice_head(0.19, 0.02, 0.050),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-8 p143",
        "published",
        LAST_DIGIT,
        (
            "H60", "equivalent length of K 10, 30 gpm, 1 in, 100 cSt", 12.3, 0.1, "ft",
            _equivalent_length,
        ),
    ),
    *_rows(
        CRANE + "7.13 (2 gal/s, 2 in pipe, 100 ft, SG 0.815, 2.7 cSt)",
        "published",
        "the two add up: factor read from a chart 1.3 % above the exact one, Haaland within 2 %",
        ("H62", "drop", 66_500, 2195, "Pa", _crane_713),
        ("H62-psi", "drop", 9.65, 0.318, "psi", lambda: _crane_713() / PSI),
    ),
    *_rows(
        CRANE + "7.13, with the exact Colebrook factor worked by hand",
        "computed",
        "Haaland within 2 %",
        ("H62-exact", "drop", 65_620, 1312, "Pa", _crane_713),
    ),
    *_rows(
        CRANE + "7.8 (600 bbl/h, 202.7 mm, 60 m, globe valve, 869.2 kg/m3, 130 mPa s)",
        "published",
        "half a digit, and rounding of the pipe's inner diameter to 0.1 mm (0.2 %)",
        ("H63", "drop", 6382, 13, "Pa", _crane_78),
    ),
    *_rows(
        CRANE + "7.1",
        "published",
        "Haaland within 2 %",
        (
            "H64", "friction factor of a smooth pipe, Re 100 600", 0.0179, 0.00036, "-",
            lambda: lines.darcy_factor(100_600.0, 0.0),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 3-14 p113, Ex 10-1 p367, Ex 10-2 p368",
        "published",
        PRINTED + " (of the bore, twice in the velocity)",
        (
            "H66", "60 L/min in 30 mm", 1.41, 0.005, "m/s",
            lambda: lines.mean_velocity(60 * LPM, 0.030),
        ),
        (
            "H72-us", "30 gpm in 0.783 in", 20.0, 0.03, "ft/s",
            lambda: lines.mean_velocity(30 * GPM, 0.783 * INCH) / FOOT,
        ),
        (
            "H72-si", "0.002 m3/s in 20.4 mm", 6.1, 0.05, "m/s",
            lambda: lines.mean_velocity(0.002, 0.0204),
        ),
    ),
    *_rows(
        "suction line by hand (10.04 gpm, 1 in, 1.2 m, one elbow, sharp entrance, 870 kg/m3)",
        "computed",
        COMPUTED,
        *(
            (
                f"H90-{viscosity}", f"vacuum at {viscosity} cSt", expected, digit, "inHg",
                lambda v=viscosity: _suction(v),
            )
            for viscosity, expected, digit in (
                (30, 0.99, 0.005), (100, 2.68, 0.005), (600, 14.8, 0.05),
            )
        ),
    ),
)  # fmt: skip

_BY_HAND = (
    *_rows(
        "definitions of the units, worked by hand (books: 0.321, 449, 7740)",
        "computed",
        COMPUTED,
        (
            "H01-velocity", "velocity of 1 gpm in 1 in2", 0.32083, 5e-6, "ft/s",
            lambda: lines.mean_velocity(GPM, circle(1.0) * INCH) / FOOT,
        ),
        (
            "H01-Re", "Reynolds number of 1 ft/s, 1 in, 1 cSt", 7741.9, 0.1, "-",
            lambda: lines.reynolds_number(_flow(FOOT, INCH), INCH, CST),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-3, 4-6, 4-8, worked by hand",
        "computed",
        COMPUTED,
        (
            "H55-factor", "friction factor of the first line", 0.08267, 5e-6, "-",
            lambda: lines.darcy_factor(lines.reynolds_number(_Q_1IN, INCH, 100 * CST), 0.0),
        ),
        (
            "H55-exact", "head lost in 100 ft of it", 154.2, 0.05, "ft",
            lambda: lines.pipe_drop(_Q_1IN, INCH, 100 * FOOT, 0.0, 100 * CST, _OIL)
            / (_OIL * GRAVITY * FOOT),
        ),
        (
            "H58-head", "globe valve, K 10, 30 gpm, 1 in", 23.34, 0.005, "ft",
            lambda: _orifice_head(10.0, 30 * GPM, INCH) / FOOT,
        ),
        (
            "H58-psi", "the same, SG 0.9", 9.10, 0.01, "psi",
            lambda: lines.minor_square_coefficient(10.0, INCH, _OIL) * (30 * GPM) ** 2 / PSI,
        ),
        (
            "H60-Re", "Reynolds number of 30 gpm, 1 in, 100 cSt", 948.8, 0.05, "-",
            lambda: lines.reynolds_number(30 * GPM, INCH, 100 * CST),
        ),
        (
            "H60-factor", "its friction factor", 0.06746, 5e-6, "-",
            lambda: lines.darcy_factor(lines.reynolds_number(30 * GPM, INCH, 100 * CST), 0.0),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-4, 4-7, worked by hand with 9.80 m/s2",
        "computed",
        "half a digit, and 0.07 % for 9.80 against 9.80665 m/s2",
        (
            "H56-bar", "drop in 50 m of the second line", 28.73, 0.025, "bar",
            lambda: lines.pipe_drop(_Q_50MM, 0.050, 50.0, 0.0, 0.001, _RHO_8800) / BAR,
        ),
        (
            "H59-kPa", "gate valve, K 0.19, 0.02 m3/s, 50 mm, 8800 N/m3", 8.85, 0.011, "kPa",
            lambda: lines.minor_square_coefficient(0.19, 0.050, _RHO_8800) * 0.02**2 / 1e3,
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-5, Reynolds numbers and Haaland's factor worked by hand",
        "computed",
        COMPUTED,
        (
            "H57-Re", "Reynolds number, 10 ft/s, 1 in, 50 cSt", 1548, 0.5, "-",
            lambda: lines.reynolds_number(_Q_1IN, INCH, 50 * CST),
        ),
        (
            "H57-64", "its friction factor", 0.04133, 5e-6, "-",
            lambda: lines.darcy_factor(lines.reynolds_number(_Q_1IN, INCH, 50 * CST), 0.0),
        ),
        (
            "H57-Re-40", "Reynolds number at 40 ft/s", 6194, 0.5, "-",
            lambda: lines.reynolds_number(4 * _Q_1IN, INCH, 50 * CST),
        ),
        (
            "H57-Haaland", "its friction factor", 0.03726, 5e-6, "-",
            lambda: lines.darcy_factor(6194.0, DRAWN / INCH),
        ),
    ),
    *_rows(
        ESPOSITO + "Ex 4-5, other correlations worked by hand",
        "computed",
        "Haaland within 2 %",
        (
            "H57-Colebrook", "exact Colebrook factor at 40 ft/s", 0.03733, 0.00075, "-",
            lambda: lines.darcy_factor(6194.0, DRAWN / INCH),
        ),
        (
            "H57-Churchill", "Churchill's factor at 40 ft/s", 0.03795, 0.00076, "-",
            lambda: lines.darcy_factor(6194.0, DRAWN / INCH),
        ),
    ),
    *_rows(
        CRANE + "7.13, 7.8, 7.7, Reynolds number and laminar factor worked by hand",
        "computed",
        COMPUTED,
        (
            "H62-Re", "2 gal/s, 2.067 in, 2.7 cSt", 68_001, 1.0, "-",
            lambda: lines.reynolds_number(2 * GALLON, 2.067 * INCH, 2.7 * CST),
        ),
        (
            "H63-Re", "600 bbl/h, 202.7 mm, 869.2 kg/m3, 130 mPa s", 1112.9, 0.3, "-",
            lambda: lines.reynolds_number(600 * BARREL / HOUR, 0.2027, 0.130 / 869.2),
        ),
        (
            "H63-factor", "its friction factor", 0.05751, 2e-5, "-",
            lambda: lines.darcy_factor(
                lines.reynolds_number(600 * BARREL / HOUR, 0.2027, 0.130 / 869.2), 0.0
            ),
        ),
        (
            "H65-Re", "about 544 L/min, 77.92 mm, 875 kg/m3, 78 mPa s", 1663, 2.0, "-",
            lambda: lines.reynolds_number(544 * LPM, 0.07792, 0.078 / 875.0),
        ),
        (
            "H64-exact", "exact Colebrook factor of a smooth pipe, Re 100 600 (Haaland within 2 %)",
            0.01797, 0.00036, "-",
            lambda: lines.darcy_factor(100_600.0, 0.0),
        ),
    ),
)  # fmt: skip

_BANDS = {1.5: 17, 0.5: 29, 4.0: 10, 2.0: 15, 10.0: 7, 3.0: 12}
_SCHEDULE_40 = {
    0.622: (1.9, 3.8, 9.5, 14.2, 18.9),
    0.824: (3.3, 6.6, 16.6, 24.9, 33.2),
    1.049: (5.4, 10.7, 26.9, 40.4, 53.9),
    1.380: (9.3, 18.6, 46.6, 69.9, 93.2),
}

_VELOCITIES = (
    *_rows(
        "hose trade page on nominal width (20 L/min)",
        "published",
        PRINTED + " of the bore",
        *(
            (
                f"H73-{velocity}", f"bore for {velocity} m/s", bore, 0.5, "mm",
                lambda v=velocity: 10.0 * math.sqrt(lines.mean_velocity(20 * LPM, 0.010) / v),
            )
            for velocity, bore in _BANDS.items()
        ),
    ),
    *_rows(
        "the same bores worked by hand",
        "computed",
        COMPUTED,
        *(
            (
                f"H73-{velocity}-exact", f"bore for {velocity} m/s", bore, 0.05, "mm",
                lambda v=velocity: 10.0 * math.sqrt(lines.mean_velocity(20 * LPM, 0.010) / v),
            )
            for velocity, bore in {
                1.5: 16.8, 0.5: 29.1, 4.0: 10.3, 2.0: 14.6, 10.0: 6.5, 3.0: 11.9,
            }.items()
        ),
    ),
    *_rows(
        "fluid power trade tip on line sizing, table of schedule 40 pipe",
        "published",
        "half a digit of the printed flow; up to one digit where the table cuts off",
        *(
            (
                f"H74-{bore}@{velocity}", f"flow at {velocity} ft/s in {bore} in", flow, 0.1, "gpm",
                lambda b=bore, v=velocity: v * FOOT / lines.mean_velocity(GPM, b * INCH),
            )
            for bore, line in _SCHEDULE_40.items()
            for velocity, flow in zip((2, 4, 10, 15, 20), line, strict=True)
        ),
    ),
)  # fmt: skip

# Reynolds number, relative roughness: exact Colebrook, Haaland
_POINTS = {
    (4e3, 0.0): (0.039907, 0.040423),
    (1e4, 0.0): (0.030883, 0.030886),
    (1e5, 0.0): (0.017990, 0.017825),
    (1e5, 1e-4): (0.018514, 0.018265),
    (1e4, 0.0018): (0.033518, 0.033273),
    (1e5, 0.0018): (0.024577, 0.024434),
}

# Reynolds number, relative roughness: the same by Churchill (1977), and by Blasius where smooth
_OTHERS = {
    "Churchill": {
        (2e3, 0.0): 0.032043,
        (4e3, 0.0): 0.040590,
        (1e4, 0.0): 0.031002,
        (1e5, 0.0): 0.017875,
        (1e5, 1e-4): 0.018463,
        (1e4, 0.0018): 0.033942,
        (1e5, 0.0018): 0.024794,
    },
    "Blasius": {(4e3, 0.0): 0.039785, (1e4, 0.0): 0.031640, (1e5, 0.0): 0.017792},
}

_FRICTION = (
    *_rows(
        "equations of Churchill (1977) and Blasius evaluated by a reference library",
        "computed",
        "another correlation: Haaland and Churchill lie up to 2 % apart, Blasius 2.5 %",
        *(
            (
                f"H75-{name}-{reynolds:.0f}@{rough}",
                f"{name}, Re {reynolds:.0f}, e/D {rough}", value, 0.025 * value, "-",
                lambda r=reynolds, e=rough: lines.darcy_factor(r, e),
            )
            for name, points in _OTHERS.items()
            for (reynolds, rough), value in points.items()
        ),
    ),
    *_rows(
        "laminar friction 64/Re (Hagen-Poiseuille)",
        "computed",
        COMPUTED,
        (
            "H75-1000", "friction factor at Re 1000", 0.064, 1e-9, "-",
            lambda: lines.darcy_factor(1e3, 0.0),
        ),
        (
            "H75-2000", "friction factor at Re 2000", 0.032, 1e-9, "-",
            lambda: lines.darcy_factor(2e3, 0.0),
        ),
    ),
    *_rows(
        "docstring of the friction library used as reference, Re 1e5, e/D 1e-4",
        "published",
        "Haaland within 2 %",
        (
            "H75-library", "exact Colebrook factor", 0.0185138661, 0.00037, "-",
            lambda: lines.turbulent_factor(1e5, 1e-4),
        ),
    ),
    *_rows(
        "Colebrook's equation solved exactly by a reference library",
        "computed",
        "Haaland within 2 %",
        *(
            (
                f"H75c-{reynolds:.0f}@{rough}", f"exact factor, Re {reynolds:.0f}, e/D {rough}",
                values[0], 0.02 * values[0], "-",
                lambda r=reynolds, e=rough: lines.turbulent_factor(r, e),
            )
            for (reynolds, rough), values in _POINTS.items()
        ),
    ),
    *_rows(
        "Haaland's equation evaluated by a reference library",
        "computed",
        COMPUTED,
        *(
            (
                f"H75h-{reynolds:.0f}@{rough}", f"Haaland, Re {reynolds:.0f}, e/D {rough}",
                values[1], 6e-7, "-",
                lambda r=reynolds, e=rough: lines.darcy_factor(r, e),
            )
            for (reynolds, rough), values in _POINTS.items()
        ),
    ),
    *_rows(
        "Crane, Technical Paper 410, fully turbulent friction of schedule 40 steel pipe, as"
        " shipped in a reference library",
        "published",
        "Haaland within 2 %",
        *(
            (
                f"H76-{bore}", f"fully turbulent factor, {bore} in", factor, 0.02 * factor, "-",
                lambda b=bore: lines.turbulent_factor(1e9, 0.0018 / b),
            )
            for bore, factor in {
                0.622: 0.0256, 0.824: 0.0237, 1.049: 0.0223, 1.380: 0.0208, 1.610: 0.0200,
                2.067: 0.0188,
            }.items()
        ),
    ),
)  # fmt: skip

_HOOPER = {
    ("elbow 90 deg screwed", 800, 0.40): (8.80, 2.40, 1.60, 1.20, 0.880, 0.808),
    ("elbow 45 deg", 500, 0.20): (5.40, 1.40, 0.90, 0.65, 0.45, 0.405),
    ("tee as elbow screwed", 500, 0.70): (6.40, 2.40, 1.90, 1.65, 1.45, 1.405),
}

_FITTINGS = _rows(
    "Hooper, Chem. Eng. 24 Aug 1981, constants as shipped in a reference library; by hand",
    "computed",
    COMPUTED,
    *(
        (
            f"H82-{laminar}-{turbulent}@{reynolds}", f"{name}, 1 in, Re {reynolds}",
            value, 0.0005, "-",
            lambda k=laminar, i=turbulent, r=reynolds: lines.fitting_coefficient(
                float(r), float(k), i, INCH
            ),
        )
        for (name, laminar, turbulent), line in _HOOPER.items()
        for reynolds, value in zip((100, 500, 1000, 2000, 10_000, 100_000), line, strict=True)
    ),
)  # fmt: skip

ROWS: tuple[Check, ...] = (*_WORKED, *_BY_HAND, *_VELOCITIES, *_FRICTION, *_FITTINGS)
