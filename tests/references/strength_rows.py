"""Check rows: columns, stepped columns, barrels."""

from __future__ import annotations

from collections.abc import Callable

from optimise.physics import cylinder, strength
from tests.references.check import COMPUTED, PRINTED, Check, Label
from tests.references.units import INCH, KSI, LBF, MILLIMETRE, PSI

SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., "
FAIRES = "Faires, Design of Machine Elements, problem 334, published solution "
MOTT = "Mott, Machine Elements in Mechanical Design, "
NEVER_YIELDS = 1e15  # Pa; for sources that use Euler alone

Compute = Callable[[], float]
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


def _kip(diameter: float, length: float, yield_ksi: float, end_condition: float = 1.0) -> float:
    """Critical load, kip, of a rod in inches with E = 30e3 ksi."""
    load = strength.critical_load(
        diameter * INCH, length * INCH, end_condition, 30e3 * KSI, yield_ksi * KSI
    )
    return float(load) / (1e3 * LBF)


def _limit(modulus: float, yield_strength: float, end_condition: float = 1.0) -> float:
    return float(strength.transition_slenderness(modulus, yield_strength, end_condition))


_ENDS = _rows(
    SHIGLEY + "table 4-2, conservative values",
    "published",
    "table value",
    *(
        (
            f"S01-{name}", f"end-condition constant, {name}", value, 0.0, "-",
            lambda n=name: strength.MOUNTING_FACTORS[n],
        )
        for name, value in {
            "fixed-free": 0.25, "pinned-pinned": 1.0, "fixed-guided": 1.0, "fixed-fixed": 1.0,
        }.items()
    ),
)  # fmt: skip

_COLUMNS = (
    *_rows(
        SHIGLEY + "eq. 4-45 and Ex 4-17",
        "published",
        PRINTED + " (of the diameter, four times in the load)",
        (
            "S02", "transition slenderness, E 207 GPa, Sy 500 MPa, C 1", 90.4, 0.05, "-",
            lambda: _limit(207e9, 500e6),
        ),
        (
            "S05", "37.48 mm carries 4 x 22 kN over 1.5 m", 88.0, 0.06, "kN",
            lambda: strength.critical_load(37.48e-3, 1.5, 1.0, 207e9, 500e6) / 1e3,
        ),
        (
            "S05-ratio", "slenderness with 40 mm", 150, 0.5, "-",
            lambda: strength.slenderness(1.5, 0.040),
        ),
    ),
    *_rows(
        SHIGLEY + "eq. 4-44..4-46, worked by hand",
        "computed",
        COMPUTED,
        (
            "S02-half", "critical stress over Sy at the transition", 0.5, 1e-9, "-",
            lambda: strength.critical_load(
                0.04, 0.01 * _limit(207e9, 500e6), 1.0, 207e9, 500e6
            ) / (500e6 * cylinder.rod_area(0.04)),
        ),
        (
            "S05-40", "40 mm over 1.5 m", 114.1, 0.05, "kN",
            lambda: strength.critical_load(0.040, 1.5, 1.0, 207e9, 500e6) / 1e3,
        ),
    ),
    *_rows(
        FAIRES + "(10 kip, N 3, E 30e3 ksi)",
        "published",
        PRINTED + " of the diameter",
        (
            "S06", "1.096 in, 25 in, 48 ksi carries 30 kip (Johnson)", 30.0, 0.06, "kip",
            lambda: _kip(1.096, 25, 48),
        ),
        (
            "S06-ratio", "slenderness of Euler's trial 1.0657 in, 25 in", 94, 0.5, "-",
            lambda: strength.slenderness(25.0, 1.0657),
        ),
        (
            "S07", "1.507 in, 50 in, 48 ksi carries 30 kip (Euler)", 30.0, 0.04, "kip",
            lambda: _kip(1.507, 50, 48),
        ),
        (
            "S07-ratio", "its slenderness", 133, 0.5, "-",
            lambda: strength.slenderness(50.0, 1.507),
        ),
        (
            "S08", "1.0657 in, 25 in, 150 ksi carries 30 kip (Euler)", 30.0, 0.006, "kip",
            lambda: _kip(1.0657, 25, 150),
        ),
        (
            "S08-limit", "transition slenderness, 150 ksi", 62.83, 0.005, "-",
            lambda: _limit(30e3, 150),
        ),
    ),
    *_rows(
        FAIRES + "- exact limit worked by hand (the text switches at a flat 120)",
        "computed",
        COMPUTED,
        (
            "S06-limit", "transition slenderness, 48 ksi", 111.07, 0.005, "-",
            lambda: _limit(30e3, 48),
        ),
    ),
    *_rows(
        MOTT + "Ex 6-1 (1.25 in, 54 in, 51 ksi, 30e6 psi)",
        "published",
        PRINTED,
        (
            "S09-ratio", "slenderness", 173, 0.5, "-",
            lambda: strength.slenderness(54.0, 1.25),
        ),
        (
            "S09-limit", "column constant", 108, 0.5, "-",
            lambda: _limit(30e3, 51),
        ),
    ),
    *_rows(
        MOTT + "Ex 6-1, load worked by hand",
        "computed",
        COMPUTED,
        (
            "S09", "critical load", 12_169, 0.5, "lb",
            lambda: 1e3 * _kip(1.25, 54, 51),
        ),
    ),
    *_rows(
        MOTT + "ch. 6 (0.75 in, 32 in, 42 ksi)",
        "published",
        "the solution rounds the radius of gyration to 0.188 in (0.5 %)",
        (
            "S10", "critical load", 4473, 22, "lb",
            lambda: 1e3 * _kip(0.75, 32, 42),
        ),
    ),
    *_rows(
        "exam problem with solution (20 mm, 700 mm, E 200 GPa, fixed-pinned, Euler)",
        "published",
        "printed digits; the solution cuts off",
        (
            "S11", "critical load", 63.27, 0.01, "kN",
            lambda: strength.critical_load(0.020, 0.700, 2.0, 200e9, NEVER_YIELDS) / 1e3,
        ),
        (
            "S11-factor", "safety against 10 kN", 6.32, 0.01, "-",
            lambda: strength.critical_load(0.020, 0.700, 2.0, 200e9, NEVER_YIELDS) / 10e3,
        ),
    ),
    *_rows(
        "engineering formula page, column example (50 mm, 2 m, E 205 GPa, Sy 345 MPa, n 5)",
        "published",
        PRINTED,
        (
            "S13", "allowed load", 31.04, 0.005, "kN",
            lambda: strength.critical_load(0.050, 2.0, 1.0, 205e9, 345e6) / 5 / 1e3,
        ),
    ),
    *_rows(
        "textbook-type problem (3500 psi on a 3 in bore, 3-fold safety, 70 ksi, C 1.2), by hand",
        "computed",
        "rounding of the diameter to 0.001 in, up to four times in the load",
        (
            "S14-force", "force", 24_740, 0.5, "lb",
            lambda: 3500 * PSI * cylinder.cap_area(3 * INCH) / LBF,
        ),
        (
            "S14-96", "2.502 in over 96 in (Euler)", 74_220, 60, "lb",
            lambda: 1e3 * _kip(2.502, 96, 70, 1.2),
        ),
        (
            "S14-48", "1.770 in over 48 in (Euler)", 74_220, 90, "lb",
            lambda: 1e3 * _kip(1.770, 48, 70, 1.2),
        ),
        (
            "S14-24", "1.343 in over 24 in (Johnson)", 74_220, 90, "lb",
            lambda: 1e3 * _kip(1.343, 24, 70, 1.2),
        ),
        (
            "S14-limit", "transition slenderness", 100.8, 0.05, "-",
            lambda: _limit(30e3, 70, 1.2),
        ),
    ),
)  # fmt: skip

_BY_HAND = (
    *_rows(
        SHIGLEY + "Ex 4-17, factor worked by hand",
        "computed",
        COMPUTED,
        (
            "S05-factor", "factor of 40 mm against 22 kN", 5.19, 0.005, "-",
            lambda: strength.critical_load(0.040, 1.5, 1.0, 207e9, 500e6) / 22e3,
        ),
    ),
    *_rows(
        FAIRES + "- trial by Johnson, worked by hand",
        "computed",
        COMPUTED + " of the diameter",
        (
            "S08-trial", "slenderness of Johnson's trial 1.2334 in, 25 in, too slender for it", 81,
            0.5, "-", lambda: strength.slenderness(25.0, 1.2334),
        ),
    ),
    *_rows(
        MOTT + "Ex 6-1 and ch. 6, worked by hand",
        "computed",
        COMPUTED,
        (
            "S09-allowed", "a third of the critical load of Ex 6-1", 4056, 0.5, "lb",
            lambda: 1e3 * _kip(1.25, 54, 51) / 3.0,
        ),
        (
            "S10-ratio", "slenderness, 0.75 in, 32 in", 170.67, 0.005, "-",
            lambda: strength.slenderness(32.0, 0.75),
        ),
        (
            "S10-limit", "column constant, 42 ksi", 118.74, 0.005, "-",
            lambda: _limit(30e3, 42),
        ),
        (
            "S10-exact", "critical load without early rounding", 4490.9, 0.1, "lb",
            lambda: 1e3 * _kip(0.75, 32, 42),
        ),
    ),
    *_rows(
        "textbook-type problem of S14, slenderness worked by hand",
        "computed",
        "rounding of the diameter to 0.001 in and of the ratio",
        *(
            (
                f"S14-ratio-{length}", f"slenderness of {diameter} in over {length} in", ratio,
                0.085, "-", lambda d=diameter, n=length: strength.slenderness(float(n), d),
            )
            for diameter, length, ratio in (
                (2.502, 96, 153.4), (1.770, 48, 108.5), (1.343, 24, 71.5),
            )
        ),
    ),
    *_rows(
        "journal article on a very large cylinder (2018): 10.9 m, rod of 380 mm; worked by hand,"
        " the article's 111.24 counts a shorter length that it does not state",
        "computed",
        COMPUTED,
        (
            "S22", "slenderness of the rod over the whole length", 114.7, 0.05, "-",
            lambda: strength.slenderness(10.9, 0.380),
        ),
    ),
)  # fmt: skip

_FRACTIONS = {"1/6": 1 / 6, "1/3": 1 / 3, "1/2": 1 / 2, "2/3": 2 / 3, "5/6": 5 / 6}
_FACTORS = {
    1.5: (1.0095, 1.0656, 1.1883, 1.3572, 1.4778),
    2: (1.0141, 1.0985, 1.2985, 1.6344, 1.9396),
    4: (1.0208, 1.1471, 1.4795, 2.2500, 3.6067),
    10: (1.0248, 1.1757, 1.5928, 2.7359, 6.7860),
}
_RECALLED = {
    1.5: (1.010, 1.065, 1.180, 1.357, 1.479),
    2: (1.014, 1.098, 1.297, 1.633, 1.940),
}


def _stepped(
    outer: float, inner: float, barrel: float, rod: float, rod_length: float, *, modulus: float
) -> float:
    """Critical load, N, of a barrel with a rod between pins (Euler)."""
    length = barrel + rod_length
    factor = strength.stepped_column_factor((outer**4 - inner**4) / rod**4, barrel / length)
    return float(factor * strength.critical_load(rod, length, 1.0, modulus, NEVER_YIELDS))


def _factor_rows(
    table: dict[float, tuple[float, ...]], prefix: str, source: str, label: Label, *,
    reason: str, tolerance: float,
) -> list[Check]:  # fmt: skip
    return _rows(
        source,
        label,
        reason,
        *(
            (
                f"{prefix}-{ratio}@{name}",
                f"factor of a stepped column, stiffness {ratio}, stiff share {name}",
                value,
                tolerance,
                "-",
                lambda r=ratio, f=fraction: strength.stepped_column_factor(float(r), f),
            )
            for ratio, line in table.items()
            for (name, fraction), value in zip(_FRACTIONS.items(), line, strict=True)
        ),
    )


_STEPPED = (
    *_factor_rows(
        _FACTORS, "S19", "first root of the equation of Timoshenko and Gere, worked by hand",
        "computed", reason=COMPUTED, tolerance=6e-5,
    ),
    *_factor_rows(
        _RECALLED, "S19r", "Roark's Formulas for Stress and Strain, table 15.1, recalled",
        "memory", reason="recalled; up to 0.7 % off the equation", tolerance=0.009,
    ),
    *_rows(
        "the same equation, worked by hand",
        "computed",
        COMPUTED,
        (
            "S20", "barrel 115/100 x 700, rod 50 x 700 mm, E 206 GPa", 510.87, 0.005, "kN",
            lambda: _stepped(0.115, 0.100, 0.7, 0.05, 0.7, modulus=206e9) / 1e3,
        ),
        (
            "S20-rod", "rod alone over 1400 mm", 318.24, 0.005, "kN",
            lambda: strength.critical_load(0.05, 1.4, 1.0, 206e9, NEVER_YIELDS) / 1e3,
        ),
        (
            "S21", "barrel 4.5/4 x 28, rod 2 x 26 in, E 30e6 psi", 132_788, 0.5, "lb",
            lambda: _stepped(
                4.5 * INCH, 4 * INCH, 28 * INCH, 2 * INCH, 26 * INCH, modulus=30e3 * KSI
            ) / LBF,
        ),
        (
            "S20-ratio", "the first over the second", 1.605, 5e-4, "-",
            lambda: strength.stepped_column_factor((0.115**4 - 0.100**4) / 0.05**4, 0.5),
        ),
        (
            "S21-force", "3000 psi on the 4 in bore", 37_699, 0.5, "lb",
            lambda: 3000 * PSI * cylinder.cap_area(4 * INCH) / LBF,
        ),
        (
            "S21-factor", "factor of the barrel with its rod", 3.52, 0.005, "-",
            lambda: _stepped(
                4.5 * INCH, 4 * INCH, 28 * INCH, 2 * INCH, 26 * INCH, modulus=30e3 * KSI
            ) / (3000 * PSI * cylinder.cap_area(4 * INCH)),
        ),
        (
            "S21-rod-factor", "factor of the rod alone over 54 in", 2.12, 0.005, "-",
            lambda: strength.critical_load(
                2 * INCH, 54 * INCH, 1.0, 30e3 * KSI, NEVER_YIELDS
            ) / (3000 * PSI * cylinder.cap_area(4 * INCH)),
        ),
        (
            "S21-rod", "rod alone over 54 in", 79_749, 0.5, "lb",
            lambda: strength.critical_load(
                2 * INCH, 54 * INCH, 1.0, 30e3 * KSI, NEVER_YIELDS
            ) / LBF,
        ),
    ),
)  # fmt: skip


def _barrel_rows() -> list[Check]:
    # inner diameter and wall in inches at 3000 psi: hoop, von Mises, burst with 85 ksi, factors of
    # the hoop stress on 75 and 85 ksi
    table = {
        "S34": (4.0, 0.25, 25_588, 24_758, 10_000, 2.93, 3.32),
        "S35": (3.5, 0.25, 22_600, 22_170, 11_333, 3.32, 3.76),
        "S36": (5.0, 0.25, 31_571, 29_940, 8095, 2.38, 2.69),
        "S37": (4.0, 0.375, 17_629, 17_865, 14_571, 4.25, 4.82),
    }
    cases: list[Case] = []
    for identity, (inner, wall, hoop, mises, burst, *factors) in table.items():
        size = f"barrel {inner} x {wall} in at 3000 psi: "
        cases += [
            (
                f"{identity}-hoop", size + "hoop stress at the bore", hoop, 0.6, "psi",
                lambda i=inner, w=wall: strength.lame_hoop_stress(3000.0, i, w),
            ),
            (
                f"{identity}-mises", size + "equivalent stress", mises, 0.6, "psi",
                lambda i=inner, w=wall: strength.von_mises_barrel(3000.0, i, w),
            ),
            (
                f"{identity}-burst", size + "burst, mean diameter, 85 ksi", burst, 0.6, "psi",
                lambda i=inner, w=wall: strength.mean_diameter_burst(85e3, i, w),
            ),
            *(
                (
                    f"{identity}-{ksi}", size + f"factor of the hoop stress on {ksi} ksi", factor,
                    0.0055, "-",
                    lambda i=inner, w=wall, k=ksi: 1e3 * k / strength.lame_hoop_stress(3e3, i, w),
                )
                for ksi, factor in zip((75, 85), factors, strict=True)
            ),
        ]  # fmt: skip
    cases.append(
        (
            "S34-mean", "barrel 4.0 x 0.25 in at 3000 psi: hoop stress by the mean diameter",
            25_500, 0.5, "psi", lambda: 3000.0 / strength.mean_diameter_burst(1.0, 4.0, 0.25),
        )
    )  # fmt: skip
    cases.append(
        (
            "S34-axial", "barrel 4.0 x 0.25 in at 3000 psi: axial stress", 11_294, 0.5, "psi",
            lambda: strength.lame_axial(3000.0, 4.0, 0.25),
        )
    )  # fmt: skip
    return _rows("Lame's equations, worked by hand", "computed", COMPUTED, *cases)


_BARRELS = (
    *_rows(
        "exam problem with solution (0.25 in inside radius, 0.03 in wall, 500 psi)",
        "published",
        PRINTED,
        (
            "S29", "thin hoop stress with the mean radius", 4417, 0.5, "psi",
            lambda: 500.0 * 4417.0 / strength.mean_diameter_burst(4417.0, 0.5, 0.03),
        ),
    ),
    *_rows(
        "textbook problem solved in a forum (60/100 mm, 20 MPa inside, 5 MPa outside), as"
        " 15 MPa inside plus 5 MPa all around",
        "published",
        PRINTED,
        (
            "S30", "axial stress", 3.44, 0.005, "MPa",
            lambda: strength.lame_axial(15.0, 60.0, 20.0) - 5.0,
        ),
    ),
    *_rows(
        "textbook problem solved in a forum (60/100 mm, 20 and 5 MPa), worked by hand",
        "computed",
        COMPUTED,
        (
            "S30-hoop", "hoop stress at the bore", 26.875, 0.0005, "MPa",
            lambda: strength.lame_hoop_stress(15.0, 60.0, 20.0) - 5.0,
        ),
        (
            "S30-radial", "radial stress at the bore", -20.0, 0.0005, "MPa",
            lambda: strength.lame_radial(15.0) - 5.0,
        ),
        (
            "S31-half", "hoop stress at the bore over the pressure, 300/200 mm", 2.6, 0.0005, "-",
            lambda: strength.lame_hoop_stress(1.0, 200.0, 50.0),
        ),
    ),
    *_rows(
        "worked solution pages (300/200 mm, 600 MPa); printed for pressure outside, right for"
        " pressure inside",
        "published",
        PRINTED,
        (
            "S31", "pressure at which the bore's hoop stress is 600 MPa", 230.76, 0.01, "MPa",
            lambda: 600.0 / strength.lame_hoop_stress(1.0, 200.0, 50.0),
        ),
    ),
    *_rows(
        "4 in bore, 0.25 in wall: thick against thin, worked by hand",
        "computed",
        COMPUTED,
        (
            "S33-inside", "Lame over thin with the inside radius", 6.6, 0.05, "%",
            lambda: 100 * (strength.lame_hoop_stress(1.0, 4.0, 0.25) / (4.0 / 0.5) - 1),
        ),
        (
            "S33-mean", "Lame over thin with the mean radius", 0.35, 0.005, "%",
            lambda: 100 * (strength.lame_hoop_stress(1.0, 4.0, 0.25) / (4.25 / 0.5) - 1),
        ),
    ),
    *_rows(
        "Bhandari, Design of Machine Elements, Ex 22.3 (10 MPa, 200 MPa with 5-fold safety);"
        " wall before rounding up to 6 mm worked by hand",
        "computed",
        COMPUTED + " of the wall",
        (
            "S26", "hoop stress with 40 mm bore and 5.82 mm wall", 40.0, 0.03, "MPa",
            lambda: strength.lame_hoop_stress(10.0, 40.0, 5.82),
        ),
        (
            "S26-bore", "force of a 37.42 mm bore", 11.0, 0.005, "kN",
            lambda: 10e6 * cylinder.cap_area(37.42 * MILLIMETRE) / 1e3,
        ),
    ),
    *_barrel_rows(),
)  # fmt: skip

ROWS: tuple[Check, ...] = (*_ENDS, *_COLUMNS, *_BY_HAND, *_STEPPED, *_BARRELS)
