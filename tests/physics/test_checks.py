"""Every number from outside that a formula can give, one test each."""

import math
from collections import Counter

import pytest

from tests.references.checks import CHECKS, ROWS_OF_MODULE
from tests.references.left_out import LEFT_OUT, without_account

HARD = [check for check in CHECKS if check.label != "memory"]
RECALLED = [check for check in CHECKS if check.label == "memory"]


@pytest.mark.parametrize("check", HARD, ids=lambda check: check.id)
def test_formula_gives_the_number_of_the_source(check):
    assert check.holds(), (
        f"{check.what} [{check.source}]: expected {check.expected:g} +- {check.tolerance:g}"
        f" {check.unit}, computed {check.compute():.8g}; tolerance: {check.reason}"
    )


@pytest.mark.parametrize("check", RECALLED, ids=lambda check: check.id)
def test_recalled_number_is_at_least_comparable(check):
    assert math.isfinite(check.deviation())


def test_ids_are_unique():
    doubled = [identity for identity, count in Counter(c.id for c in CHECKS).items() if count > 1]
    assert doubled == []


def test_every_row_names_source_and_reason():
    assert [c.id for c in CHECKS if not (c.source.strip() and c.reason.strip() and c.unit)] == []


def test_every_number_of_the_sources_is_checked_or_left_out_with_a_reason():
    assert without_account(CHECKS) == []
    assert [left.ids for left in LEFT_OUT if not (left.what.strip() and left.reason.strip())] == []


def test_a_number_without_account_is_seen():
    assert without_account(tuple(check for check in CHECKS if check.id != "H118")) == ["H118"]


def test_every_module_has_rows():
    assert all(ROWS_OF_MODULE.values())


def test_more_than_120_rows_are_seen_in_print_or_in_a_standard():
    assert sum(check.label in {"published", "standard"} for check in CHECKS) >= 120


def test_tolerances_are_narrow_enough_to_mean_something():
    """The widest are half a unit of a one-digit number, and sources that say about."""
    wide = [
        check.id
        for check in HARD
        if check.expected != 0.0
        and check.tolerance > 0.075 * abs(check.expected)
        and "says about" not in check.reason
    ]
    assert wide == []
