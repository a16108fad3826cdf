"""Check rows: areas, forces, speeds, regeneration, area ratio, volumes."""

from __future__ import annotations

from collections.abc import Callable

from optimise.physics import cylinder
from tests.references.check import COMPUTED, LAST_DIGIT, PRINTED, Check, Label
from tests.references.units import (
    BAR,
    FOOT,
    GALLON,
    GPM,
    HORSEPOWER,
    INCH,
    LBF,
    LITRE,
    LPM,
    MILLIMETRE,
    PSI,
    circle,
)

ESPOSITO = "Esposito, Fluid Power with Applications, 6th ed., "

Compute = Callable[[], float]
# id, what, expected, tolerance, unit, call
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


_CAP_2 = cylinder.cap_area(2 * INCH)
_ANN_2 = cylinder.annulus_area(2 * INCH, 1 * INCH)

_H02 = _rows(
    ESPOSITO + "Ex 6-1 p219 (20 gpm, 2 in bore, 1 in rod, 1000 lb)",
    "published",
    "half a digit, and 0.4 % because the book rounds the speed up before it goes on",
    (
        "H02-p-out", "pressure out", 318, 0.5, "psi",
        lambda: 1000 * LBF / _CAP_2 / PSI,
    ),
    (
        "H02-v-out", "speed out", 2.05, 0.01, "ft/s",
        lambda: 20 * GPM / _CAP_2 / FOOT,
    ),
    (
        "H02-P-out", "power out", 3.72, 0.015, "hp",
        lambda: 1000 * LBF * 20 * GPM / _CAP_2 / HORSEPOWER,
    ),
    (
        "H02-p-back", "pressure back", 425, 1.0, "psi",
        lambda: 1000 * LBF / _ANN_2 / PSI,
    ),
    (
        "H02-v-back", "speed back", 2.73, 0.01, "ft/s",
        lambda: 20 * GPM / _ANN_2 / FOOT,
    ),
    (
        "H02-P-back", "power back", 4.96, 0.02, "hp",
        lambda: 1000 * LBF * 20 * GPM / _ANN_2 / HORSEPOWER,
    ),
)  # fmt: skip

_H03 = _rows(
    "worked textbook problem on a question site (0.002 m3/s, 50 mm bore, 20 mm rod)",
    "published",
    PRINTED,
    (
        "H03-out", "speed out", 1.0, 0.05, "m/s",
        lambda: 0.002 / cylinder.cap_area(0.050),
    ),
    (
        "H03-back", "speed back", 1.2, 0.05, "m/s",
        lambda: 0.002 / cylinder.annulus_area(0.050, 0.020),
    ),
)  # fmt: skip

_H03_BY_HAND = _rows(
    "the same problem with 6000 N, worked by hand",
    "computed",
    COMPUTED,
    (
        "H03-p-out", "pressure out", 3.056, 5e-4, "MPa",
        lambda: 6000.0 / cylinder.cap_area(0.050) / 1e6,
    ),
    (
        "H03-p-back", "pressure back", 3.638, 5e-4, "MPa",
        lambda: 6000.0 / cylinder.annulus_area(0.050, 0.020) / 1e6,
    ),
    (
        "H03-P-out", "power out", 6.112, 5e-4, "kW",
        lambda: 6000.0 * 0.002 / cylinder.cap_area(0.050) / 1e3,
    ),
    (
        "H03-v-out", "speed out", 1.0186, 5e-5, "m/s",
        lambda: 0.002 / cylinder.cap_area(0.050),
    ),
    (
        "H03-v-back", "speed back", 1.2126, 5e-5, "m/s",
        lambda: 0.002 / cylinder.annulus_area(0.050, 0.020),
    ),
)  # fmt: skip

_H04 = _rows(
    "worked exam problem on a question site (75 mm bore, 14 mm rod, 5 MPa, 200 000 mm3/s)",
    "published",
    PRINTED,
    (
        "H04-cap", "cap area", 4418, 0.5, "mm2",
        lambda: cylinder.cap_area(0.075) * 1e6,
    ),
    (
        "H04-ann", "annulus area", 4264, 0.5, "mm2",
        lambda: cylinder.annulus_area(0.075, 0.014) * 1e6,
    ),
    (
        "H04-v-out", "speed out", 45.3, 0.05, "mm/s",
        lambda: 2e-4 / cylinder.cap_area(0.075) * 1e3,
    ),
    (
        "H04-v-back", "speed back", 46.9, 0.05, "mm/s",
        lambda: 2e-4 / cylinder.annulus_area(0.075, 0.014) * 1e3,
    ),
    (
        "H04-F-out", "force out", 22_090, 5.0, "N",
        lambda: 5e6 * cylinder.cap_area(0.075),
    ),
    (
        "H04-F-back", "force back", 21_320, 5.0, "N",
        lambda: 5e6 * cylinder.annulus_area(0.075, 0.014),
    ),
)  # fmt: skip

_H05 = _rows(
    "formula page of a fluid power distributor (6 in bore, 3 in rod, 2500 psi, 50 000 lb)",
    "published",
    "the page takes pi as 3.14 (0.07 %)",
    (
        "H05-push", "push", 70_650, 50, "lb",
        lambda: 2500 * PSI * cylinder.cap_area(6 * INCH) / LBF,
    ),
    (
        "H05-pull", "pull", 52_975, 45, "lb",
        lambda: 2500 * PSI * cylinder.annulus_area(6 * INCH, 3 * INCH) / LBF,
    ),
    (
        "H05-p-push", "pressure to push the load", 1769.29, 1.3, "psi",
        lambda: 50e3 * LBF / cylinder.cap_area(6 * INCH) / PSI,
    ),
    (
        "H05-p-pull", "pressure to pull the load", 2359.60, 1.75, "psi",
        lambda: 50e3 * LBF / cylinder.annulus_area(6 * INCH, 3 * INCH) / PSI,
    ),
)  # fmt: skip

_CAP_4 = cylinder.cap_area(4 * INCH)
_ANN_4 = cylinder.annulus_area(4 * INCH, 2 * INCH)

_H06 = _rows(
    "problem with solution in a fluid power journal (4 in bore, 2 in rod, 100 psi)",
    "published",
    PRINTED,
    (
        "H06-out", "force of cap area plus one annulus", 2200, 5.0, "lb",
        lambda: 100 * PSI * (_CAP_4 + _ANN_4) / LBF,
    ),
    (
        "H06-back", "force of one annulus", 942, 0.5, "lb",
        lambda: 100 * PSI * _ANN_4 / LBF,
    ),
)  # fmt: skip

_BORE_25, _ROD_7 = circle(25) * INCH, circle(7) * INCH

_H07 = _rows(
    ESPOSITO + "Ex 9-1 p331 (25 in2 piston, 7 in2 rod, 20 gpm, 1000 psi, regenerative)",
    "published",
    PRINTED,
    (
        "H07-v-out", "speed out", 11.0, 0.05, "in/s",
        lambda: 20 * GPM / cylinder.rod_area(_ROD_7) / INCH,
    ),
    (
        "H07-F-out", "force out", 7000, 0.5, "lb",
        lambda: 1000 * PSI * cylinder.rod_area(_ROD_7) / LBF,
    ),
    (
        "H07-v-back", "speed back", 4.28, 0.005, "in/s",
        lambda: 20 * GPM / cylinder.annulus_area(_BORE_25, _ROD_7) / INCH,
    ),
    (
        "H07-F-back", "force back", 18_000, 0.5, "lb",
        lambda: 1000 * PSI * cylinder.annulus_area(_BORE_25, _ROD_7) / LBF,
    ),
    (
        "H07-P-out", "force times speed out", 11.7, 0.05, "hp",
        lambda: 1000 * PSI * cylinder.rod_area(_ROD_7)
        * (20 * GPM / cylinder.rod_area(_ROD_7)) / HORSEPOWER,
    ),
    (
        "H07-P-back", "force times speed back", 11.7, 0.05, "hp",
        lambda: 1000 * PSI * cylinder.annulus_area(_BORE_25, _ROD_7)
        * (20 * GPM / cylinder.annulus_area(_BORE_25, _ROD_7)) / HORSEPOWER,
    ),
)  # fmt: skip

_H07_FLOWS = _rows(
    ESPOSITO + "Ex 9-1, flows worked by hand",
    "computed",
    COMPUTED,
    (
        "H07-inflow", "cap-end inflow while regenerating", 71.43, 0.005, "gpm",
        lambda: 20.0 * cylinder.cap_area(_BORE_25) / cylinder.rod_area(_ROD_7),
    ),
    (
        "H07-return", "cap-end outflow on retract", 27.78, 0.005, "gpm",
        lambda: 20.0 * cylinder.area_ratio(_BORE_25, _ROD_7),
    ),
)  # fmt: skip

_BORE_4, _ROD_2 = circle(4e-4), circle(2e-4)

_H08 = _rows(
    "learning page on regenerative circuits (20 L/min, 80 bar, 4 and 2 cm2), worked by hand",
    "computed",
    COMPUTED,
    (
        "H08-normal", "speed, normal", 0.8333, 5e-5, "m/s",
        lambda: 20 * LPM / cylinder.cap_area(_BORE_4),
    ),
    (
        "H08-regen", "speed, regenerative", 1.6667, 5e-5, "m/s",
        lambda: 20 * LPM / cylinder.rod_area(_ROD_2),
    ),
    (
        "H08-back", "speed back", 1.6667, 5e-5, "m/s",
        lambda: 20 * LPM / cylinder.annulus_area(_BORE_4, _ROD_2),
    ),
    (
        "H08-F-back", "force back", 1600, 0.5, "N",
        lambda: 80 * BAR * cylinder.annulus_area(_BORE_4, _ROD_2),
    ),
    (
        "H08-F-normal", "force, normal", 3200, 0.5, "N",
        lambda: 80 * BAR * cylinder.cap_area(_BORE_4),
    ),
    (
        "H08-F-regen", "force, regenerative", 1600, 0.5, "N",
        lambda: 80 * BAR * cylinder.rod_area(_ROD_2),
    ),
)  # fmt: skip


def _stroke(bore: float, rod: float, stroke: float, flow: float, pressure: float) -> list[float]:
    areas = [
        cylinder.cap_area(bore * INCH),
        cylinder.annulus_area(bore * INCH, rod * INCH),
        cylinder.rod_area(rod * INCH),
    ]
    times = [area * stroke * INCH / (flow * GPM) for area in areas]
    return times + [pressure * PSI * area / LBF for area in areas]


def _stroke_rows(
    identity: str, inputs: tuple[float, ...], expected: tuple[float, ...]
) -> list[Check]:
    bore, rod, stroke, flow, pressure = inputs
    names = ("out", "back", "regenerative", "force out", "force back", "force regenerative")
    return _rows(
        f"open textbook on hydraulics, ch. 3.5, questions ({bore} in bore, {rod} in rod,"
        f" {stroke} in stroke, {flow} gpm, {pressure} psi), worked by hand",
        "computed",
        COMPUTED,
        *(
            (
                f"{identity}-{place}", name, value, 0.05 if place > 2 else 5e-4,
                "lb" if place > 2 else "s",
                lambda p=place: _stroke(bore, rod, stroke, flow, pressure)[p],
            )
            for place, (name, value) in enumerate(zip(names, expected, strict=True))
        ),
    )  # fmt: skip


_H09 = _stroke_rows(
    "H09", (2.5, 1.0, 24.0, 2.3, 400.0), (13.304, 11.176, 2.129, 1963.5, 1649.3, 314.2)
)
_H10 = _stroke_rows(
    "H10", (3.0, 1.25, 16.0, 1.8, 500.0), (16.320, 13.487, 2.833, 3534.3, 2920.7, 613.6)
)

_H11 = _rows(
    "engineering course page (200 bar, 40 L/min, 100 mm bore, 70 mm rod), worked by hand",
    "computed",
    COMPUTED,
    (
        "H11-F", "force out", 157.08, 0.005, "kN",
        lambda: 200 * BAR * cylinder.cap_area(0.1) / 1e3,
    ),
    (
        "H11-v", "speed out", 0.08488, 5e-6, "m/s",
        lambda: 40 * LPM / cylinder.cap_area(0.1),
    ),
    (
        "H11-P", "force times speed, which is flow times pressure", 13.333, 5e-4, "kW",
        lambda: 200 * BAR * cylinder.cap_area(0.1) * (40 * LPM / cylinder.cap_area(0.1)) / 1e3,
    ),
    (
        "H11-phi", "area ratio", 1.9608, 5e-5, "-",
        lambda: cylinder.area_ratio(0.1, 0.07),
    ),
    (
        "H11-return", "rod-end outflow", 20.40, 0.005, "L/min",
        lambda: 40.0 / cylinder.area_ratio(0.1, 0.07),
    ),
    (
        "H17-78", "cap-end outflow on retract", 78.43, 0.005, "L/min",
        lambda: 40.0 * cylinder.area_ratio(0.1, 0.07),
    ),
)  # fmt: skip

_H12 = _rows(
    ESPOSITO + "Ex 3-8 p99 (8000 lb, 10 ft in 10 s, 1000 psi)",
    "published",
    PRINTED,
    (
        "H12-A", "pressure of 8000 lb on 8 in2", 1000, 0.5, "psi",
        lambda: 8000 * LBF / cylinder.cap_area(circle(8.0) * INCH) / PSI,
    ),
    (
        "H12-Q", "flow into 8 in2 at 1 ft/s", 24.9, 0.05, "gpm",
        lambda: cylinder.cap_area(circle(8.0) * INCH) * FOOT / GPM,
    ),
    (
        "H12-P", "hydraulic power", 14.5, 0.05, "hp",
        lambda: 1000 * PSI * cylinder.cap_area(circle(8.0) * INCH) * FOOT / HORSEPOWER,
    ),
)  # fmt: skip

_H13 = _rows(
    "fluid power magazine, chapter on cylinders (2.5 in bore, 1.375 in rod)",
    "published",
    LAST_DIGIT,
    (
        "H13-cap", "cap area", 4.91, 0.005, "in2",
        lambda: cylinder.cap_area(2.5),
    ),
    (
        "H13-ann", "annulus area", 3.43, 0.01, "in2",
        lambda: cylinder.annulus_area(2.5, 1.375),
    ),
)  # fmt: skip

_H13_BY_HAND = _rows(
    "the same bore and rod, worked by hand",
    "computed",
    COMPUTED,
    (
        "H13-cap-exact", "cap area", 4.9087, 5e-5, "in2",
        lambda: cylinder.cap_area(2.5),
    ),
    (
        "H13-ann-exact", "annulus area", 3.4238, 5e-5, "in2",
        lambda: cylinder.annulus_area(2.5, 1.375),
    ),
    (
        "H13-phi", "area ratio", 1.4337, 5e-5, "-",
        lambda: cylinder.area_ratio(2.5, 1.375),
    ),
)  # fmt: skip

_H23 = _rows(
    ESPOSITO + "Ex 3-5 p88 (100 lb on a 1 in pump, 3.25 in ram lifts 10 in, pump stroke 2 in)",
    "published",
    "the book rounds the pressure to 127 psi (0.3 %); half a digit of the strokes",
    (
        "H23-force", "force of the ram", 1053, 4.0, "lb",
        lambda: 100 * cylinder.cap_area(3.25) / cylinder.cap_area(1.0),
    ),
    (
        "H23-strokes", "strokes of the pump", 52.8, 0.05, "-",
        lambda: cylinder.cap_area(3.25) * 10.0 / (cylinder.cap_area(1.0) * 2.0),
    ),
)  # fmt: skip

_H23_BY_HAND = _rows(
    ESPOSITO + "Ex 3-5, worked by hand",
    "computed",
    COMPUTED,
    (
        "H23-p", "pressure", 127.3, 0.05, "psi",
        lambda: 100 / cylinder.cap_area(1.0),
    ),
    (
        "H23-force-exact", "force of the ram", 1056.3, 0.05, "lb",
        lambda: 100 * cylinder.cap_area(3.25) / cylinder.cap_area(1.0),
    ),
)  # fmt: skip

_BY_HAND = _rows(
    "from the definitions, worked by hand (4 in bore, 2 in rod unless said)",
    "computed",
    COMPUTED,
    (
        "H17-phi", "area ratio", 1.3333, 5e-5, "-",
        lambda: cylinder.area_ratio(4.0, 2.0),
    ),
    (
        "H17-return", "cap-end outflow of 10.036 gpm on retract", 13.38, 0.005, "gpm",
        lambda: 10.036 * cylinder.area_ratio(4.0, 2.0),
    ),
    *(
        (
            f"H18-{back}", f"{back} psi in the return seen at the rod port", seen, 0.05, "psi",
            lambda b=back: b * cylinder.area_ratio(4.0, 2.0),
        )
        for back, seen in ((25, 33.3), (50, 66.7), (100, 133.3))
    ),
    (
        "H19", "50 psi at the rod port seen at the cap on extend", 37.5, 0.05, "psi",
        lambda: 50 / cylinder.area_ratio(4.0, 2.0),
    ),
    (
        "H20-phi", "area ratio of the 2.5 in rod", 1.641, 5e-4, "-",
        lambda: cylinder.area_ratio(4.0, 2.5),
    ),
    (
        "H20-2", "3000 psi on a blocked rod end", 4000, 0.5, "psi",
        lambda: cylinder.intensified_pressure(3000.0, 4.0, 2.0),
    ),
    (
        "H20-2.5", "the same with a 2.5 in rod", 4923, 0.5, "psi",
        lambda: cylinder.intensified_pressure(3000.0, 4.0, 2.5),
    ),
    (
        "H20-2:1", "the same with half the area taken by the rod", 6000, 0.5, "psi",
        lambda: cylinder.intensified_pressure(3000.0, 2.0**0.5, 1.0),
    ),
    (
        "H24-gal", "swing of the tank, 24 in stroke", 0.3264, 5e-5, "gal",
        lambda: cylinder.rod_displacement(2 * INCH, 24 * INCH) / GALLON,
    ),
    (
        "H24-L", "the same", 1.236, 5e-4, "L",
        lambda: cylinder.rod_displacement(2 * INCH, 24 * INCH) / LITRE,
    ),
    (
        "H44-out", "24 in out at 10.036 gpm", 7.805, 5e-4, "s",
        lambda: _CAP_4 * 24 * INCH / (10.036 * GPM),
    ),
    (
        "H44-back", "24 in back at 10.036 gpm", 5.854, 5e-4, "s",
        lambda: _ANN_4 * 24 * INCH / (10.036 * GPM),
    ),
)  # fmt: skip

_H25 = _rows(
    "formula p V / 250 000 psi: formula page of a technical reference; worked by hand",
    "computed",
    COMPUTED,
    (
        "H25", "decompression of 4 in x 24 in at 3000 psi", 3.62, 0.005, "in3",
        lambda: cylinder.compression_volume(3000.0, cylinder.cap_area(4.0) * 24.0, 250e3),
    ),
)  # fmt: skip

_METRIC = {
    40: {18: 1.25, 22: 1.43, 25: 1.64, 28: 1.96},
    50: {22: 1.24, 28: 1.46, 32: 1.69, 36: 2.08},
    63: {28: 1.25, 36: 1.48, 40: 1.68, 45: 2.04},
    80: {36: 1.25, 45: 1.46, 50: 1.64, 56: 1.96},
    100: {45: 1.25, 56: 1.46, 63: 1.66, 70: 1.96},
    125: {56: 1.25, 70: 1.46, 80: 1.69, 90: 2.08},
    160: {70: 1.24, 90: 1.46, 100: 1.64, 110: 1.90},
}
_SQUARE_CM = {
    40: 12.566, 50: 19.635, 63: 31.172, 80: 50.265, 100: 78.540, 125: 122.718, 160: 201.062,
}  # fmt: skip

_SIZES = _rows(
    "ISO 3320 bores and rods, worked by hand",
    "computed",
    COMPUTED,
    *(
        (
            f"H125-{bore}x{rod}", f"area ratio {bore} x {rod} mm", ratio, 0.005, "-",
            lambda b=bore, r=rod: cylinder.area_ratio(b * MILLIMETRE, r * MILLIMETRE),
        )
        for bore, line in _METRIC.items()
        for rod, ratio in line.items()
    ),
    *(
        (
            f"H126-{bore}", f"area of a bore of {bore} mm", area, 0.0005, "cm2",
            lambda b=bore: cylinder.cap_area(b * MILLIMETRE) * 1e4,
        )
        for bore, area in _SQUARE_CM.items()
    ),
)  # fmt: skip

ROWS: tuple[Check, ...] = (
    *_H02, *_H03, *_H03_BY_HAND, *_H04, *_H05, *_H06, *_H07, *_H07_FLOWS, *_H08, *_H09, *_H10,
    *_H11, *_H12, *_H13, *_H13_BY_HAND, *_H23, *_H23_BY_HAND, *_BY_HAND, *_H25, *_SIZES,
)  # fmt: skip
