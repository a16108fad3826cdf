"""Machines worked out whole: margins decide where the screen of a limit is close."""

import numpy as np
import pytest

from optimise.machine.limits import Limit
from optimise.machine.wood import levels_of
from optimise.search import brute
from optimise.search.brute import evaluate_fully
from tests.bench.common import problem, random_rows


@pytest.fixture(scope="module")
def asked():
    space, setting = problem("kvarnby")
    return space.machine(random_rows(space, 400, seed=5)), setting, levels_of(setting)


def test_a_screen_that_is_close_is_decided_by_the_margin(asked, monkeypatch):
    """With every screen taken as close the same machines are kept."""
    usual = evaluate_fully(*asked)[1]
    monkeypatch.setattr(brute, "SCREEN_SLACK", np.inf)
    assert np.array_equal(evaluate_fully(*asked)[1], usual)
    assert usual.any()
    assert not usual.all()


def test_the_margin_itself_decides_then(asked, monkeypatch):
    margin = Limit.margin

    def none_left(limit, evaluation):
        left = margin(limit, evaluation)
        return left if limit.screen is None else left * 0.0 - 1.0

    monkeypatch.setattr(brute, "SCREEN_SLACK", np.inf)
    monkeypatch.setattr(Limit, "margin", none_left)
    assert not evaluate_fully(*asked)[1].any()
