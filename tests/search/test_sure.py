"""Front of machines that keep their limits with a chance, equal to brute force over all draws."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from optimise.machine.parts import take
from optimise.machine.setting import Setting
from optimise.search.brute import brute_front
from optimise.search.chances import Chances
from optimise.search.exact import exact_front
from optimise.search.knowledge import knowledge_of
from optimise.search.priors import Belief
from optimise.study.load import load_study
from optimise.study.model import PriceList
from optimise.study.space import Space, space_of
from tests.search.test_exact import changed_limits, goals_of, in_order, user_limits

pytestmark = pytest.mark.usefixtures("coarse_wood")
STUDIES = Path(__file__).parents[2] / "studies"
NAMES = ("alder-yard", "kvarnby")
LEAST, MOST = 250, 500
SUB_CATALOGUES = 32
SHARES = 4
DRAWS = 24


@cache
def whole(name: str) -> tuple[Space, Setting, Belief, tuple[int, ...]]:
    study = load_study(STUDIES / name)
    belief = knowledge_of(study).belief
    assert belief is not None
    space = space_of(study)
    return space, study.setting, belief, space.indices_of(study.owned)


def sub_catalogue(seed: int) -> tuple[Space, Setting, Chances]:
    """Random part of a demonstration list around the machine owned, and a chance."""
    chance = np.random.default_rng(1000 + seed)
    space, setting, belief, owned = whole(NAMES[seed % 2])
    while True:
        sizes = [int(chance.integers(1, min(size, 3) + 1)) for size in space.sizes]
        if LEAST <= math.prod(sizes) <= MOST:
            break
    lists = []
    for price_list, kept, size in zip(space.lists, owned, sizes, strict=True):
        others = np.setdiff1d(np.arange(len(price_list.names)), [kept])
        lanes = np.sort(np.append(chance.permutation(others)[: size - 1], kept))
        outlay = np.round(chance.uniform(0.0, 9.0, size)) * 10.0
        part = dataclasses.replace(take(price_list.parts, lanes), outlay=outlay)
        names = tuple(price_list.names[lane] for lane in lanes)
        lists.append(PriceList(category=price_list.category, names=names, parts=part))
    own = dataclasses.replace(
        setting,
        user_limits=user_limits(chance) if seed % 3 == 0 else (),
        limit_changes=changed_limits(chance) if seed % 4 == 0 else {},
    )
    least = float(chance.choice([0.5, 0.8, 0.9, 0.95]))
    return Space(lists), own, Chances(own, belief, least, DRAWS, seed)


@pytest.mark.parametrize("first", range(SHARES))
def test_sure_front_equals_brute_force_bit_for_bit(first: int) -> None:
    full = other = 0
    for seed in range(first, SUB_CATALOGUES, SHARES):
        space, setting, chances = sub_catalogue(seed)
        goals = goals_of(seed)
        rows, points = in_order(brute_front(space, setting, goals, chances))
        found = exact_front(space, setting, goals=goals, chances=chances).designs
        found_rows, found_points = in_order(found)
        assert np.array_equal(rows, found_rows), seed
        assert np.array_equal(points, found_points), seed
        full += len(rows) > 0
        plain = brute_front(space, setting, goals).indices
        other += {tuple(row) for row in rows} != {tuple(row) for row in plain}
    assert full >= 4
    assert other >= 1


def test_a_sure_machine_may_lie_off_the_plain_front() -> None:
    """So the answer is no filter on the plain front."""
    for seed in range(SUB_CATALOGUES):
        space, setting, chances = sub_catalogue(seed)
        plain = {tuple(row) for row in brute_front(space, setting).indices}
        wanted = {tuple(row) for row in brute_front(space, setting, chances=chances).indices}
        if wanted - plain:
            found = exact_front(space, setting, chances=chances).designs.indices
            assert {tuple(row) for row in found} == wanted
            return
    raise AssertionError("no such sub-list")


@pytest.mark.parametrize("least", [0.0, 1.0, 0.9, 1.0 / 3.0])
def test_draws_needed_are_the_least_whose_share_is_as_large(least: float) -> None:
    _, setting, belief, _ = whole("kvarnby")
    needed = Chances(setting, belief, least, 30).needed
    assert needed / 30 >= least
    assert needed == 0 or (needed - 1) / 30 < least
