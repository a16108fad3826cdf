"""What may go together before branches are grown: cores, and what each part alone does to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit
from optimise.search.brute import CHUNK
from optimise.search.problem import UNKNOWN, Bits, Branches, Mask, Problem, Rows, Tally, may_pass
from optimise.search.sieve import Sieve

_Kind = TypeVar("_Kind", np.bool_, np.float64, np.uint8)


@dataclass(frozen=True)
class Tables:
    """Per core and category: which parts may serve, the bounds and the draws left with each.

    ``cheapest`` is the least money of a part that may serve, shape (cores, categories).
    """

    possible: list[Mask]
    bounds: list[Array]
    draws: list[Bits]
    cheapest: Array

    def pick(self, cores: Rows) -> Tables:
        """Of some cores."""
        return Tables(
            [one[cores] for one in self.possible],
            [one[cores] for one in self.bounds],
            [one[cores] for one in self.draws],
            self.cheapest[cores],
        )


@dataclass(frozen=True)
class Surveyed:
    """Cores that may keep their limits with the tables of what may go with each."""

    cores: Branches
    tables: Tables

    def __len__(self) -> int:
        """How many cores."""
        return len(self.cores)

    def pick(self, lanes: Rows) -> Surveyed:
        """Some cores."""
        some = self.cores.pick(lanes)
        numbered = Branches(some.rows, np.arange(len(lanes)), some.bounds, some.draws)
        return Surveyed(numbered, self.tables.pick(lanes))


def joined(parts: Sequence[Surveyed]) -> Surveyed:
    """One survey of several; one at least."""

    def all_of(columns: Sequence[Sequence[NDArray[_Kind]]]) -> list[NDArray[_Kind]]:
        return [np.concatenate(some) for some in zip(*columns, strict=True)]

    rows = np.concatenate([part.cores.rows for part in parts])
    return Surveyed(
        Branches(
            rows,
            np.arange(len(rows)),
            np.concatenate([part.cores.bounds for part in parts]),
            np.concatenate([part.cores.draws for part in parts]),
        ),
        Tables(
            all_of([part.tables.possible for part in parts]),
            all_of([part.tables.bounds for part in parts]),
            all_of([part.tables.draws for part in parts]),
            np.concatenate([part.tables.cheapest for part in parts]),
        ),
    )


def core_rows(problem: Problem, tally: Tally) -> Rows:
    """All combinations of the categories without a better direction that no limit forbids."""
    rows = np.full((1, problem.count), UNKNOWN, dtype=np.intp)
    chosen: set[int] = set()
    for place in problem.core:
        chosen.add(place)
        kept = []
        parts = problem.sizes[place]
        for some in np.array_split(rows, max(1, -(-len(rows) * parts // CHUNK))):
            grown = np.repeat(some, parts, axis=0)
            grown[:, place] = np.tile(np.arange(parts), len(some))
            limits = problem.decided(chosen, {place}, solved=False)
            fine = may_pass(limits, problem.evaluation(problem.columns(grown)))
            kept.append(grown[np.broadcast_to(fine, (len(grown),))])
            tally.add()
        rows = np.concatenate(kept)
    return rows


def bound(
    problem: Problem, rows: Rows, limits: Sequence[Limit], tally: Tally
) -> tuple[Array, Mask]:
    """Bounds on the objectives but the money, and early feasibility, of branches."""
    bounds, fine = [], []
    for some in np.array_split(rows, max(1, -(-len(rows) // CHUNK))):
        evaluation = problem.evaluation(problem.columns(some))
        fine.append(np.broadcast_to(may_pass(limits, evaluation), (len(some),)))
        bounds.append(_stacked(problem, evaluation, (len(some),)))
        tally.add(len(some))
    found = np.concatenate(bounds)
    return found, np.concatenate(fine) & np.isfinite(found).all(axis=1)


def _stacked(problem: Problem, evaluation: Evaluation, shape: tuple[int, ...]) -> Array:
    """Bounds of the objectives but the money along a last axis."""
    columns = problem.goals.bounds(evaluation)
    return np.stack([np.broadcast_to(column, shape) for column in columns], axis=-1)


def survey(problem: Problem, rows: Rows, tally: Tally) -> Surveyed:
    """Of some cores those that may keep their limits, and what may go with each."""
    sieve = Sieve(problem)
    core = set(problem.core)
    bounds, fine = bound(problem, rows, problem.decided(core, set(), solved=True), tally)
    rows, bounds = rows[fine], bounds[fine]
    limits = problem.decided(core, set(), solved=False)
    draws = sieve.left(rows, limits, sieve.all_draws((len(rows),)), tally)
    fine = sieve.enough(draws)
    rows, bounds, draws = rows[fine], bounds[fine], draws[fine]
    solved = [limit for limit in problem.decided(core, set(), solved=True) if limit.solved]
    draws = sieve.left_of_strokes(rows, solved, draws, tally)
    fine = sieve.enough(draws)
    cores = Branches(rows[fine], np.arange(int(fine.sum())), bounds[fine], draws[fine])
    return Surveyed(cores, _tables(problem, sieve, cores, tally))


def _tables(problem: Problem, sieve: Sieve, cores: Branches, tally: Tally) -> Tables:
    possible: list[Mask] = []
    bounds: list[Array] = []
    draws: list[Bits] = []
    goals = len(problem.goals.results)
    cheapest = np.zeros((len(cores), problem.count))
    for place in range(problem.count):
        parts = problem.sizes[place]
        if place in problem.core:
            possible.append(np.ones((len(cores), 1), dtype=np.bool_))
            bounds.append(np.zeros((len(cores), 1, goals)))
            draws.append(sieve.all_draws((len(cores), 1)))
            continue
        limits = problem.decided(
            set(problem.core) | {place}, {place}, solved=place not in problem.moving
        )
        serve = np.zeros((len(cores), parts), dtype=np.bool_)
        least = np.zeros((len(cores), parts, goals))
        for some in np.array_split(np.arange(len(cores)), max(1, -(-len(cores) * parts // CHUNK))):
            columns = [
                None if column is None else column[:, None]
                for column in problem.columns(cores.rows[some])
            ]
            columns[place] = np.arange(parts)[None, :]
            evaluation = problem.evaluation(columns)
            shape = (len(some), parts)
            serve[some] = np.broadcast_to(may_pass(limits, evaluation), shape)
            if place in problem.moving:
                least[some] = _stacked(problem, evaluation, shape)
                serve[some] &= np.isfinite(least[some]).all(axis=2)
                tally.add(len(some) * parts)
        left = _draws_with(problem, sieve, cores, place, serve, tally)
        serve &= sieve.enough(left)
        possible.append(serve)
        bounds.append(least)
        draws.append(left)
        with np.errstate(invalid="ignore"):
            cheapest[:, place] = np.where(serve, problem.money[place], np.inf).min(
                axis=1, initial=np.inf
            )
    return Tables(possible, bounds, draws, cheapest)


def _draws_with(
    problem: Problem, sieve: Sieve, cores: Branches, place: int, serve: Mask, tally: Tally
) -> Bits:
    """Draws left of each core with each part of a category that may serve."""
    left = np.repeat(cores.draws[:, None], serve.shape[1], axis=1)
    where, part = np.nonzero(serve)
    rows = cores.rows[where].copy()
    rows[:, place] = part
    limits = problem.decided(set(problem.core) | {place}, {place}, solved=False)
    left[where, part] = sieve.left(rows, limits, left[where, part], tally)
    return left


def worse(found: Surveyed, place: int) -> Array:
    """What each part alone costs each objective against the best there (cores, parts, goals)."""
    over: Array = np.maximum(found.tables.bounds[place] - found.cores.bounds[:, None, :], 0.0)
    return over


def branching_order(problem: Problem, found: Surveyed) -> list[int]:
    """Branching categories, the one that moves the objectives most first."""
    scale = np.abs(found.cores.bounds).mean(axis=0)

    def spread(place: int) -> float:
        over = worse(found, place) / np.where(scale > 0.0, scale, 1.0)
        return float(np.where(found.tables.possible[place], over.sum(axis=2), 0.0).mean())

    return sorted(problem.branching, key=spread, reverse=True)


def grow(sieve: Sieve, branches: Branches, tables: Tables, place: int) -> tuple[Branches, Array]:
    """Branches with every part that may serve in one more category, and the part's bounds."""
    where, part = np.nonzero(tables.possible[place][branches.core])
    core = branches.core[where]
    draws = branches.draws[where] & tables.draws[place][core, part]
    fine = sieve.enough(draws)
    where, part, core, draws = where[fine], part[fine], core[fine], draws[fine]
    rows = branches.rows[where].copy()
    rows[:, place] = part
    grown = Branches(rows, core, branches.bounds[where], draws)
    return grown, tables.bounds[place][core, part]
