"""What a search of a space knows before it begins: what each limit and objective depends on.

That is not declared but seen: the chain is evaluated with categories along axes of their own and
the shape of the answer tells. No category is named here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import CATEGORIES, Part, assemble, ideal, is_directional, take
from optimise.machine.setting import Setting
from optimise.machine.wood import levels_of
from optimise.search.brute import SCREEN_SLACK
from optimise.search.chances import Chances
from optimise.search.goals import Goals
from optimise.study.space import Space

Rows = NDArray[np.intp]
Mask = NDArray[np.bool_]
Bits = NDArray[np.uint8]
Progress = Callable[[str, float], None]

PROBED = 7
"""Categories whose part in limits and objectives is read off one evaluation."""
UNKNOWN = -1


@dataclass(frozen=True)
class Branches:
    """Partly chosen machines.

    Attributes
    ----------
    rows
        Part index per category, or UNKNOWN.
    core
        Row of each in the tables of its cores.
    bounds
        Bounds on the objectives but the money, shape (n, goals - 1).
    draws
        Draws in which a completion may keep the limits read so far, packed, shape (n, bytes); no
        bytes where no chance is asked for.
    """

    rows: Rows
    core: Rows
    bounds: Array
    draws: Bits

    def pick(self, mask: Mask | Rows) -> Branches:
        """Some of them."""
        return Branches(self.rows[mask], self.core[mask], self.bounds[mask], self.draws[mask])

    def __len__(self) -> int:
        """How many there are."""
        return len(self.rows)


class TimeUpError(Exception):
    """The time that a search was given is over."""


@dataclass
class Tally:
    """What a search took, and how long it may go on.

    Attributes
    ----------
    evaluated, branches
        Machines, whole or part ideal, solved; branches grown.
    until
        Reading of ``time.monotonic`` at which it has to stop.
    tell
        Told now and then how many machines were solved.
    """

    evaluated: int = 0
    branches: int = 0
    until: float | None = None
    tell: Callable[[int], None] | None = None

    def add(self, evaluated: int = 0) -> None:
        """Count machines, tell of them, and raise ``TimeUpError`` when the time is over."""
        self.evaluated += evaluated
        if self.tell is not None:
            self.tell(self.evaluated)
        if self.until is not None and time.monotonic() >= self.until:
            raise TimeUpError


class Problem:
    """Space and setting with what the search learns about them."""

    def __init__(
        self, space: Space, setting: Setting, goals: Goals, chances: Chances | None = None
    ) -> None:
        self.space = space
        self.setting = setting
        self.goals = goals
        self.chances = chances
        self.levels = levels_of(setting)
        self.parts: tuple[Part, ...] = tuple(price_list.parts for price_list in space.lists)
        self.sizes = space.sizes
        self.count = len(self.parts)
        self.directional = [is_directional(CATEGORIES[name]) for name in space.categories]
        self.stand_ins = tuple(
            ideal(part) if directional else take(part, np.intp(0))
            for part, directional in zip(self.parts, self.directional, strict=True)
        )
        self.money = [goals.part_money(part) for part in self.parts]
        self.limits = tuple(limit for limit in limits_of(setting) if limit.kind == "hard")
        self._probe()

    def evaluation(self, columns: Sequence[Rows | None], draws: Rows | None = None) -> Evaluation:
        """Evaluation with the listed part per lane where a column is given, else the stand-in.

        With ``draws`` these lie along the last axis, along which columns have one lane.
        """
        chosen = {
            name: stand_in if column is None else take(part, column)
            for name, part, stand_in, column in zip(
                self.space.categories, self.parts, self.stand_ins, columns, strict=True
            )
        }
        if draws is None:
            return Evaluation(assemble(chosen), self.setting, self.levels)
        assert self.chances is not None
        return self.chances.evaluation(assemble(chosen), draws)

    def _probe(self) -> None:
        """Read off array shapes what each limit and the objectives depend on.

        Some categories at a time are given an axis of their own, of length two.
        """
        self.touches: dict[str, set[int]] = {limit.name: set() for limit in self.limits}
        reach: list[set[int]] = [set() for _ in self.goals.results]
        for start in range(0, self.count, PROBED):
            places = range(start, min(start + PROBED, self.count))
            columns: list[Rows | None] = [None] * self.count
            for axis, place in enumerate(places):
                shape = [1] * len(places)
                shape[axis] = 2
                columns[place] = np.zeros(shape, dtype=np.intp)
            evaluation = self.evaluation(columns)

            def read(column: Column, places: range = places) -> set[int]:
                shape = np.shape(column)
                return {place for place, size in zip(places, shape, strict=False) if size == 2}

            for limit in self.limits:
                self.touches[limit.name] |= read(early_margin(limit, evaluation))
                if limit.hope is not None:
                    self.touches[limit.name] |= read(limit.hope(evaluation))
            for nth, bound in enumerate(self.goals.bounds(evaluation)):
                reach[nth] |= read(bound)
        self.core = [place for place in range(self.count) if not self.directional[place]]
        self.moving = set().union(*reach)
        """Categories that move an objective other than the money."""
        for result, touched in zip(self.goals.results, reach, strict=True):
            if result.better == 0 and not touched <= set(self.core):
                raise CallError(
                    f"objectives: {result.key} has no declared bound over the parts that move it"
                )
        rest = [place for place in range(self.count) if self.directional[place]]
        self.finishing = [place for place in rest if place not in self.moving]
        self.branching = [place for place in rest if place in self.moving]

    @property
    def blind(self) -> list[Limit]:
        """Limits that rule nothing out before all parts that they read are chosen."""
        core = set(self.core)
        return [
            limit
            for limit in self.limits
            if not bounded(limit) and not self.touches[limit.name] <= core
        ]

    def decided(self, chosen: set[int], newly: set[int], *, solved: bool) -> list[Limit]:
        """Limits that may cut branches in which the parts of ``chosen`` are known.

        Only those that read a category of ``newly``; those that need a solved stroke only when
        asked for; the study's own only when every category they read is known.
        """
        found = []
        for limit in self.limits:
            touched = self.touches[limit.name]
            if limit.solved and not solved:
                continue
            if newly and not touched & newly:
                continue
            known = touched & set(self.core) if bounded(limit) else touched
            if known <= chosen:
                found.append(limit)
        return found

    def floor(self, rows: Rows, cheapest: Array) -> Array:
        """Least money of the completions of branches, summed as the evaluation sums it.

        ``cheapest`` holds the least money per branch (or one row for all) and category.
        """
        total: Array = np.zeros(len(rows))
        for place in range(self.count):
            known = rows[:, place]
            listed = self.money[place][np.maximum(known, 0)]
            total = total + np.where(known == UNKNOWN, cheapest[:, place], listed)
        return total

    def columns(self, rows: Rows) -> list[Rows | None]:
        """One column per category; None where branches leave it open, all of them alike."""
        return [
            None if len(rows) == 0 or rows[0, place] == UNKNOWN else rows[:, place]
            for place in range(self.count)
        ]


def bounded(limit: Limit) -> bool:
    """Whether a limit has a bound by which it rules out machines of which not all is chosen."""
    return limit.monotone or limit.hope is not None


def early_margin(limit: Limit, evaluation: Evaluation) -> Array:
    """Margin of a limit, or its screen where it has one."""
    reading = limit.margin if limit.screen is None else limit.screen
    return np.asarray(reading(evaluation))


def may_keep(limit: Limit, evaluation: Evaluation) -> Mask:
    """Mask of the branches of which some completion may keep the limit."""
    if limit.hope is not None:
        return np.asarray(limit.hope(evaluation)) >= -SCREEN_SLACK
    return _seems_kept(limit, evaluation)


def may_pass(limits: Sequence[Limit], evaluation: Evaluation) -> Mask:
    """Mask of the branches of which some completion may keep the limits."""
    kept: Mask = np.asarray(True)
    for limit in limits:
        kept = kept & may_keep(limit, evaluation)
    return kept


def seem_to_pass(limits: Sequence[Limit], evaluation: Evaluation) -> Mask:
    """Mask of the machines, chosen whole, that keep the limits as far as screens can tell."""
    kept: Mask = np.asarray(True)
    for limit in limits:
        kept = kept & _seems_kept(limit, evaluation)
    return kept


def _seems_kept(limit: Limit, evaluation: Evaluation) -> Mask:
    slack = 0.0 if limit.screen is None else SCREEN_SLACK
    return early_margin(limit, evaluation) >= -slack
