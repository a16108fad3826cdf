"""How figures are written on the page."""

from __future__ import annotations

import math

import pytest

from optimise.report.figures import NO_VALUE, counted, grouped, scale_of, written
from optimise.units import System


@pytest.mark.parametrize(
    ("value", "kind", "system", "text"),
    [
        (9.504, "time", "us", "9.50\u00a0s"),
        (222411.0, "force", "us", "50,000\u00a0lbf"),
        (222411.0, "force", "metric", "222.4\u00a0kN"),
        (343.15, "temperature", "metric", "70\u00a0°C"),
        (343.15, "temperature", "us", "158\u00a0°F"),
        (-0.0345, "share", "us", "−3.5\u00a0%"),
        (1250.5, "money", "us", "1,251\u00a0EUR"),
        (1250.5, "money", "metric", "1\u202f251\u00a0EUR"),
        (3.8762, "count", "us", "3.88"),
        (0.0046539, "mass", "metric", "0.00465\u00a0kg"),
        (212.41, "count", "us", "212"),
        (0.0, "money", "us", "0\u00a0EUR"),
        (-0.001, "time", "us", "0.00\u00a0s"),
    ],
)
def test_a_quantity_is_written_in_its_unit(
    value: float, kind: str, system: System, text: str
) -> None:
    assert written(value, scale_of(kind, system, "EUR"), system) == text


@pytest.mark.parametrize("value", [None, math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_said_to_be_none(value: float | None) -> None:
    assert written(value, scale_of("time", "us", "USD"), "us") == NO_VALUE


def test_halves_go_away_from_zero() -> None:
    assert [grouped(half, 0, "us") for half in (0.5, 1.5, 2.5, -0.5, -2.5)] == [
        "1", "2", "3", "−1", "−3",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0, "0"),
        (999_999, "999,999"),
        (1_990_656, "1.99 million"),
        (5_598_720_000, "5.60 billion"),
        (25 * 10**12, "25.0 trillion"),
        (3 * 10**24, "3.00 × 10²⁴"),
    ],
)
def test_a_large_count_can_be_read_aloud(number: int, text: str) -> None:
    assert counted(number, "us") == text
