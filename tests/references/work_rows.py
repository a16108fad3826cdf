"""Check rows: pieces per hour, wedge, prices, two-hand control."""

from __future__ import annotations

import math

from optimise.physics import work
from tests.references.check import COMPUTED, PRINTED, Check

PRICES = "general business pages on margin and markup"


def _wedge_rows() -> list[Check]:
    table = {
        0.1: {20: 1.778, 30: 1.322, 45: 0.932},
        0.3: {20: 0.994, 30: 0.810, 45: 0.613},
        0.7: {20: 0.500, 30: 0.420, 45: 0.319},
    }

    def thrust(tip_angle: float, friction: float) -> float:
        half = math.radians(tip_angle) / 2.0
        side = math.cos(half) - friction * math.sin(half)
        return side / float(work.wedge_force(1.0, half, friction))

    return [
        Check(
            f"S66-{tip_angle}@{friction}",
            f"side thrust per force, tip {tip_angle} deg, friction {friction}",
            "statics of a wedge worked by hand",
            expected,
            0.0005,
            "-",
            lambda a=tip_angle, m=friction: thrust(a, m),
            "computed",
            COMPUTED,
        )
        for friction, line in table.items()
        for tip_angle, expected in line.items()
    ]


def _two_hand_rows() -> list[Check]:
    times = (0.1, 0.15, 0.2, 0.3, 0.5)
    editions: dict[work.Edition, tuple[str, tuple[int, ...]]] = {
        "2010": ("ISO 13855:2010, clause 8, S = 1600 T + 250 mm", (410, 490, 570, 730, 1050)),
        "2024": (
            "ISO 13855:2024 as paraphrased by a safety engineering firm, S = 1600 T + 550 mm",
            (710, 790, 870, 1030, 1350),
        ),
    }
    return [
        Check(
            f"S8{7 if edition == '2010' else 8}-{time}",
            f"two-hand control, edition of {edition}, {time} s to stop",
            source,
            expected,
            1e-6,
            "mm",
            lambda t=time, e=edition: 1e3 * float(work.two_hand_distance(t, e)),
            "standard",
            "arithmetic",
        )
        for edition, (source, distances) in editions.items()
        for time, expected in zip(times, distances, strict=True)
    ]


def _price_rows() -> list[Check]:
    cases = (
        ("S99-markup-100", 125.0, lambda: work.markup_price(100.0, 0.25), "cost 100, markup 25 %"),
        ("S99-markup-8", 10.0, lambda: work.markup_price(8.0, 0.25), "cost 8, markup 25 %"),
        ("S99-markup-75", 100.0, lambda: work.markup_price(75.0, 0.333), "cost 75, markup 33.3 %"),
        ("S99-margin-100", 125.0, lambda: work.margin_price(100.0, 0.20), "cost 100, margin 20 %"),
        ("S99-margin-8", 10.0, lambda: work.margin_price(8.0, 0.20), "cost 8, margin 20 %"),
        ("S99-margin-75", 100.0, lambda: work.margin_price(75.0, 0.25), "cost 75, margin 25 %"),
    )
    return [
        Check(
            identity,
            f"price: {what}",
            PRICES,
            expected,
            0.04 if identity == "S99-markup-75" else 1e-9,
            "-",
            compute,
            "published",
            "the markup is printed with three digits (33.3 %)"
            if identity == "S99-markup-75"
            else "arithmetic",
        )
        for identity, expected, compute, what in cases
    ]


ROWS: tuple[Check, ...] = (
    Check(
        "S84",
        "8 s machine and 5 s hands in a row, one piece a stroke, utilisation 0.75",
        "worked by hand",
        207.7,
        0.05,
        "1/h",
        lambda: work.pieces_per_hour(work.piece_period(5.0, 2.5, 0.5, 5.0, 0.0), 1.0, 0.75),
        "computed",
        COMPUTED,
    ),
    Check(
        "S84-half",
        "the same with a machine of 4 s: less than double",
        "worked by hand",
        300.0,
        0.05,
        "1/h",
        lambda: work.pieces_per_hour(work.piece_period(2.0, 1.5, 0.5, 5.0, 0.0), 1.0, 0.75),
        "computed",
        COMPUTED,
    ),
    Check(
        "S79",
        "a piece every 12.9 s",
        "hand against hydraulic time study in a book on splitting firewood (1/5 cord in 30 min),"
        " with 700 pieces a cord",
        280,
        1.0,
        "1/h",
        lambda: work.pieces_per_hour(12.9, 1.0, 1.0),
        "computed",
        PRINTED + " of 12.9 s",
    ),
    Check(
        "hidden-quick",
        "hands busy for 0.5 of 5 s: a back stroke of 2 s is hidden whole, one of 4 s for 2.5 s",
        "worked by hand",
        4.5,
        1e-9,
        "s",
        lambda: work.hidden_time(2.0, 5.0, 0.5) + work.hidden_time(4.0, 5.0, 0.5),
        "computed",
        COMPUTED,
    ),
    Check(
        "rounds",
        "a round into 4 pieces by 3 strokes of a plain wedge: 300 pieces added are 100 rounds, at"
        " 0.03 m3 each 3 m3 in the hour",
        "worked by hand",
        3.0,
        1e-9,
        "m3/h",
        lambda: 3600.0 * work.wood_rate(work.rounds_per_hour(300.0, 4.0), 0.03),
        "computed",
        COMPUTED,
    ),
    Check(
        "volume-cost",
        "3 m3 in an hour at 45 for the hour, 0.9 kg of fuel a m3 at 0.75 kg/L and 1.50 a litre:"
        " 15.00 and 1.80",
        "worked by hand",
        16.8,
        1e-9,
        "money/m3",
        lambda: work.volume_cost(45.0, 3.0 / 3600.0, 0.9, 750.0, 1500.0),
        "computed",
        COMPUTED,
    ),
    Check(
        "second-worth",
        "100 h at a piece every 15 s and utilisation 0.75: 18 000 pieces, a second of each is 5 h,"
        " at 36 an hour",
        "worked by hand",
        180.0,
        1e-9,
        "money/s",
        lambda: work.second_worth(36.0, 360000.0, 15.0, 0.75),
        "computed",
        COMPUTED,
    ),
    *_wedge_rows(),
    *_two_hand_rows(),
    *_price_rows(),
)
