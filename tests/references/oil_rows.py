"""Check rows: viscosity, viscosity index, density, bulk modulus."""

from __future__ import annotations

from optimise.physics import cylinder, oil
from tests.references.check import COMPUTED, PRINTED, Check
from tests.references.units import BAR, CST, DEGREE_F, PSI, ZERO_CELSIUS

D341 = "ASTM D341, worked example in a lecture file"
D2270 = "ASTM D2270, worked example of the standard as quoted on a test laboratory's page"
QUADRATICS = "the standard's quadratics stand for its table within 0.1 % of L and H"

_A, _B = oil.walther_constants(32 * CST, 5.4 * CST)


def _walther(grade: float, at_100: float, celsius: float) -> float:
    a, b = oil.walther_constants(grade * CST, at_100 * CST)
    return float(oil.walther_viscosity(celsius + ZERO_CELSIUS, a, b)) / CST


def _grade_rows() -> list[Check]:
    table = {
        (22, 4.3): "1072 414 187 95.8 54.3 11.1 6.6",
        (32, 5.4): "2292 805 336 161 86.3 15.2 8.5",
        (46, 6.8): "4518 1474 577 262 134 20.6 11.1",
        (68, 8.7): "9354 2823 1033 442 215 28.7 14.7",
        (100, 11.4): "16790 4875 1720 711 334 40.2 19.9",
    }
    rows = []
    for (grade, at_100), line in table.items():
        for celsius, text in zip((-20, -10, 0, 10, 20, 60, 80), line.split(), strict=True):
            digit = 10.0 if len(text) == 5 else (0.1 if "." in text else 1.0)
            rows.append(
                Check(
                    f"H93-{grade}@{celsius}",
                    f"VG {grade} with {at_100} mm2/s at 100 degC: viscosity at {celsius} degC",
                    "ASTM D341 worked by hand, 0 degC = 273.15 K",
                    float(text),
                    digit,
                    "mm2/s",
                    lambda g=grade, h=at_100, c=celsius: _walther(g, h, c),
                    "computed",
                    "one unit of the last digit written here",
                )
            )
    return rows


def _air_rows() -> list[Check]:
    table = {
        0.01: {1: 0.014, 10: 0.128, 50: 0.479, 100: 0.728, 200: 0.983},
        0.005: {1: 0.027, 10: 0.236, 50: 0.726, 100: 0.980, 200: 1.188},
    }
    return [
        Check(
            f"H106-{air}@{bar}",
            f"oil of 1.5 GPa with {air:.1%} air at {bar} bar absolute",
            "Rabie, Fluid Power Engineering (2009), eq. 2.57, worked by hand",
            expected,
            0.0005,
            "GPa",
            lambda a=air, b=bar: float(oil.effective_bulk_modulus(b * BAR, 1.5e9, a)) / 1e9,
            "computed",
            COMPUTED,
        )
        for air, line in table.items()
        for bar, expected in line.items()
    ]


def _index(at_40: float, at_100: float) -> float:
    return oil.viscosity_index(at_40 * CST, at_100 * CST)


ROWS: tuple[Check, ...] = (
    Check(
        "H92-A",
        "constant A of 32 mm2/s at 40 degC, 5.4 at 100 degC",
        D341,
        9.5259,
        0.0055,
        "-",
        lambda: float(_A),
        "published",
        "the source takes 0 degC as 273 K; the exact 273.15 K moves A by 0.0049",
    ),
    Check(
        "H92-B",
        "constant B of the same oil",
        D341,
        3.7449,
        0.0020,
        "-",
        lambda: float(_B),
        "published",
        "the source takes 0 degC as 273 K; the exact 273.15 K moves B by 0.0017",
    ),
    Check(
        "H92-80",
        "viscosity of the same oil at 80 degC",
        D341,
        8.5,
        0.05,
        "mm2/s",
        lambda: _walther(32, 5.4, 80),
        "published",
        PRINTED,
    ),
    Check(
        "H94",
        "viscosity index, procedure A: 73.30 and 8.86 mm2/s",
        D2270,
        92,
        0.5,
        "-",
        lambda: _index(73.30, 8.86),
        "standard",
        PRINTED,
    ),
    Check(
        "H94-L",
        "index of an oil with the table's L (119.94) at 8.86 mm2/s",
        D2270,
        0,
        0.2,
        "-",
        lambda: _index(119.94, 8.86),
        "standard",
        QUADRATICS,
    ),
    Check(
        "H94-H",
        "index of an oil with the table's H (69.48) at 8.86 mm2/s",
        D2270,
        100,
        0.2,
        "-",
        lambda: _index(69.48, 8.86),
        "standard",
        QUADRATICS,
    ),
    Check(
        "H95",
        "viscosity index, procedure B: 22.83 and 5.05 mm2/s",
        D2270,
        156,
        0.5,
        "-",
        lambda: _index(22.83, 5.05),
        "standard",
        PRINTED,
    ),
    Check(
        "H95-H",
        "index of an oil with the table's H (28.97) at 5.05 mm2/s",
        D2270,
        100,
        0.2,
        "-",
        lambda: _index(28.97, 5.05),
        "standard",
        QUADRATICS,
    ),
    Check(
        "H96",
        "viscosity index, procedure B: 53.47 and 7.80 mm2/s",
        "ASTM D2270, second example; the value at 100 degC is recalled",
        111,
        0.5,
        "-",
        lambda: _index(53.47, 7.80),
        "memory",
        PRINTED,
    ),
    Check(
        "H97-L",
        "index of an oil with L of the equation above 70 mm2/s: 9604 and 100 mm2/s",
        "ASTM D2270, equation for L",
        0,
        1e-6,
        "-",
        lambda: _index(0.8353 * 100**2 + 14.67 * 100 - 216, 100),
        "standard",
        "arithmetic",
    ),
    Check(
        "H97-H",
        "index of an oil with H of the equation above 70 mm2/s: 2772 and 100 mm2/s",
        "ASTM D2270, equation for H",
        100,
        1e-6,
        "-",
        lambda: _index(0.1684 * 100**2 + 11.85 * 100 - 97, 100),
        "standard",
        "arithmetic",
    ),
    Check(
        "H101-rho",
        "870 kg/m3 at 15 degC, expansion 0.00063 per K: density at 60 degC",
        "expansion: lecture file on hydraulic oils; density worked by hand",
        846,
        0.5,
        "kg/m3",
        lambda: float(oil.density(60 + ZERO_CELSIUS, 870.0, 0.00063)),
        "computed",
        COMPUTED,
    ),
    Check(
        "H101-growth",
        "growth of 50 L warmed from 15 by 40 K, expansion 0.00063 per K",
        "expansion: lecture file on hydraulic oils; volume worked by hand",
        1.26,
        0.005,
        "L",
        lambda: 50 * (870.0 / float(oil.density(55 + ZERO_CELSIUS, 870.0, 0.00063)) - 1.0),
        "computed",
        COMPUTED,
    ),
    Check(
        "H104-300",
        "compression at 3000 psi, bulk modulus 300 000 psi",
        "technical page on the bulk modulus of military hydraulic fluids",
        1.0,
        0.05,
        "%",
        lambda: 100 * float(cylinder.compression_volume(3000 * PSI, 1.0, 300e3 * PSI)),
        "published",
        PRINTED,
    ),
    Check(
        "H104-250",
        "compression at 3000 psi, bulk modulus 250 000 psi",
        "formula page of a technical reference",
        1.2,
        0.05,
        "%",
        lambda: 100 * float(cylinder.compression_volume(3000 * PSI, 1.0, 250e3 * PSI)),
        "published",
        PRINTED,
    ),
    Check(
        "H105",
        "pressure in a locked volume warmed by 50 degF: its compression undoes its growth",
        "technical page on the bulk modulus of military hydraulic fluids: 6900 psi",
        6900,
        1.0,
        "psi",
        lambda: (
            300e3
            * (1.0 / (float(oil.density(288.15 + 50 * DEGREE_F, 1.0, 0.00046 / DEGREE_F))) - 1.0)
        ),
        "published",
        PRINTED,
    ),
    Check(
        "H106-trade",
        "half a per cent of free air at 50 bar about halves 1.5 GPa",
        "trade page of an oil maker; the air fraction taken at the pressure",
        0.5,
        0.05,
        "-",
        lambda: float(oil.effective_bulk_modulus(50 * BAR, 1.5e9, 0.005)) / 1.5e9,
        "published",
        "the source says about half",
    ),
    Check(
        "H106-atmosphere",
        "the same air counted at 1 bar and pressed at constant temperature: hardly any effect",
        "Rabie, Fluid Power Engineering (2009), eq. 2.57, worked by hand",
        1.456,
        0.0005,
        "GPa",
        lambda: float(oil.effective_bulk_modulus(50 * BAR, 1.5e9, 0.005 / 50, 1.0)) / 1e9,
        "computed",
        COMPUTED,
    ),
    Check(
        "H92-A-exact",
        "constant A of 32 mm2/s at 40 degC, 5.4 at 100 degC, 0 degC = 273.15 K",
        "ASTM D341 worked by hand",
        9.53082,
        1e-5,
        "-",
        lambda: float(_A),
        "computed",
        COMPUTED,
    ),
    Check(
        "H92-B-exact",
        "constant B of the same oil",
        "ASTM D341 worked by hand",
        3.74658,
        1e-5,
        "-",
        lambda: float(_B),
        "computed",
        COMPUTED,
    ),
    Check(
        "H92-80-exact",
        "viscosity of the same oil at 80 degC",
        "ASTM D341 worked by hand",
        8.533,
        0.0005,
        "mm2/s",
        lambda: _walther(32, 5.4, 80),
        "computed",
        COMPUTED,
    ),
    *_grade_rows(),
    *_air_rows(),
)
