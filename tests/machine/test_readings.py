"""Readings of many machines are those of each machine, to the last bit."""

from __future__ import annotations

from functools import cache
from threading import Thread

import numpy as np
import pytest

from optimise.columns import lanes_of
from optimise.compiled.kernels import Compiled
from optimise.machine import readings
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.readings import Readings, readings_for
from optimise.machine.results import RESULTS
from optimise.machine.wood import levels_of
from optimise.search.priors import FromTheTrade
from optimise.search.unknowns import Unknowns
from tests.bench.common import problem, random_rows

NAMES = ("alder-yard", "kvarnby")
problem_of = cache(problem)


def everything(setting):
    """All results, and all limits with what stands for them in a search."""
    limits = limits_of(setting)
    screens = [limit.screen for limit in limits if limit.screen is not None]
    return [*(one.reading for one in RESULTS), *(limit.margin for limit in limits), *screens]


def told(machine, setting, levels):
    """The same without a compiler."""
    evaluation = Evaluation(machine, setting, levels)
    return [reading(evaluation) for reading in everything(setting)]


@pytest.fixture(autouse=True)
def always(monkeypatch):
    """Compiled at once, machines like each other put together."""
    monkeypatch.setattr(readings, "WORTH", 0)
    monkeypatch.setattr("optimise.compiled.kernels.SORTED_FROM", 1)


@pytest.mark.parametrize("much", [0, 10**9])
@pytest.mark.parametrize("name", NAMES)
def test_every_result_and_limit_of_random_machines(name, much, monkeypatch):
    monkeypatch.setattr(readings, "MUCH", much)
    space, setting = problem_of(name)
    levels = levels_of(setting)
    machine = space.machine(random_rows(space, 301, seed=3))
    with np.errstate(all="ignore"):
        found = Readings(everything(setting)).of(machine, setting, levels)
        monkeypatch.setattr(Compiled, "__call__", lambda self, tree: self._act(tree))
        expected = told(machine, setting, levels)
    for one, other in zip(found, expected, strict=True):
        assert np.array_equal(one, np.broadcast_to(other, (301,)), equal_nan=True)


@pytest.mark.parametrize("name", NAMES)
def test_machines_whose_constants_and_tolerances_are_drawn(name, monkeypatch):
    space, setting = problem_of(name)
    unknowns = Unknowns(FromTheTrade(setting.constants))
    machine = lanes_of(space.machine(random_rows(space, 4)), np.arange(4)[:, None])
    drawn = unknowns.drawn(machine, setting, unknowns.points(17, 0))
    with np.errstate(all="ignore"):
        found = Readings(everything(setting)).of(*drawn)
        monkeypatch.setattr(Compiled, "__call__", lambda self, tree: self._act(tree))
        expected = told(*drawn)
    for one, other in zip(found, expected, strict=True):
        assert np.array_equal(one, np.broadcast_to(other, (4, 17)), equal_nan=True)


@pytest.mark.parametrize("name", NAMES)
def test_the_steady_oil_is_the_coolest_that_balances(name):
    """Against a scan of the balance by the kelvin, machines that run hot among them."""
    space, setting = problem_of(name)
    rows = random_rows(space, 1500, seed=8)
    machine = space.machine(rows)
    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting, levels_of(setting))
        found = np.broadcast_to(evaluation.steady_temperature, len(rows))
        over = np.ones(len(rows), dtype=bool)
        coolest = np.full(len(rows), HOTTEST_OIL)
        for temperature in np.arange(setting.surroundings.air_temperature + 1.0, HOTTEST_OIL):
            spare = np.asarray(evaluation.cooling_margin(temperature))
            crossed = over & ~(spare < 0.0)
            coolest[crossed], over = temperature, over & ~crossed
    known = np.isfinite(found)
    assert known.sum() > 1000
    assert (found[known] > 373.15).sum() > 50
    assert np.all((found[known] <= coolest[known] + 0.01) & (found[known] >= coolest[known] - 1.01))


def test_threads_that_compile_and_that_look_never_wait_for_each_other():
    space, setting = problem_of(NAMES[1])
    levels, limits = levels_of(setting), [limit.margin for limit in limits_of(setting)]
    machine = space.machine(random_rows(space, 16, seed=5))
    ended = []

    def look():
        with np.errstate(all="ignore"):
            for _ in range(12):
                evaluation = Evaluation(machine, setting, levels)
                for reading in limits:
                    reading(evaluation)
        ended.append("look")

    def compile_readings():
        with np.errstate(all="ignore"):
            for _ in range(3):
                Readings(limits).of(machine, setting, levels)
        ended.append("compile")

    threads = [Thread(target=act, daemon=True) for act in (look, compile_readings)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60.0)
    assert sorted(ended) == ["compile", "look"]


def test_a_question_is_remembered_by_its_setting_and_its_name():
    setting, other = problem_of(NAMES[0])[1], problem_of(NAMES[1])[1]
    first = readings_for(setting, "force", lambda: [lambda e: e.force])
    assert readings_for(setting, "force", lambda: []) is first
    assert readings_for(setting, "time", lambda: [lambda e: e.cycle_time]) is not first
    assert readings_for(other, "force", lambda: [lambda e: e.force]) is not first
    for nth in range(readings.KEPT):
        readings_for(other, nth, lambda: [])
    assert readings_for(setting, "force", lambda: []) is not first
