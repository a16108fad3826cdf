"""Exact front of a space by branch and bound, general over part categories.

What is proven, and from what:

1. A category whose every quantity has a better direction can be stood in for by its ideal part:
   the best of each quantity over the list. A machine with ideal parts in some categories is no
   worse in any objective, and has no smaller margin at any limit of the table, than any machine
   with listed parts there (each declared direction is held to the truth by random machines in the
   tests). Limits that have no better direction are cut by a bound on their margin instead
   (``Limit.hope``), or not before a machine is whole. An objective without a better direction must
   rest on the other categories alone, or there is no search for it.
2. So a partly chosen machine, filled up with ideal parts, bounds the objectives of all its
   completions and their margins. Its money with the cheapest parts bounds theirs from below; money
   is added in one order, and rounding keeps that order.
3. A branch is dropped only when a limit's bound is crossed, or when a machine already evaluated in
   full beats its bounds strictly in every objective that is solved (by more than the flow solve can
   err) and is no worse in the others and no dearer; where no objective is solved, strictly in one.
   Such a branch holds no member of the front and no equal of one.
4. Categories that touch no objective but the money are chosen last, cheapest first: the first that
   keeps every limit is the only one that can be on the front, with its equals in money.
5. A limit of the study's own cuts branches only on a result whose direction is declared; else it
   is read on machines whose relevant parts are all chosen.

What a limit or an objective depends on is not declared but seen: the chain is evaluated with
categories along axes of their own and the shape of the answer tells. No category is named here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import CATEGORIES, Part, assemble, ideal, is_directional, take
from optimise.machine.setting import Setting
from optimise.machine.wood import levels_of
from optimise.search.archive import SLACK, Archive, not_dominated
from optimise.search.brute import CHUNK, SCREEN_SLACK, Designs, evaluate_fully
from optimise.search.goals import STANDARD, Goals
from optimise.study.space import Space

Rows = NDArray[np.intp]
Mask = NDArray[np.bool_]
Progress = Callable[[str, float], None]

MATRIX = 2_000_000
"""Most cells of a table of branches against parts at a time."""
PROBED = 5
"""Categories whose part in limits and objectives is read off one evaluation."""
UNKNOWN = -1


@dataclass(frozen=True)
class ExactFront:
    """Front and what it took: ``evaluated`` counts every machine, whole or part ideal, solved."""

    designs: Designs
    evaluated: int
    branches: int
    seconds: float


@dataclass(frozen=True)
class _Branches:
    """Partly chosen machines: part index per category or UNKNOWN, core row, bounds (n, goals - 1).

    Bounds are of the objectives but the money.
    """

    rows: Rows
    core: Rows
    bounds: Array

    def pick(self, mask: Mask | Rows) -> _Branches:
        return _Branches(self.rows[mask], self.core[mask], self.bounds[mask])

    def __len__(self) -> int:
        return len(self.rows)


@dataclass
class _Tally:
    evaluated: int = 0
    branches: int = 0
    started: float = field(default_factory=time.perf_counter)


class _Problem:
    """Space and setting with what the search learns about them."""

    def __init__(self, space: Space, setting: Setting, goals: Goals) -> None:
        self.space = space
        self.setting = setting
        self.goals = goals
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

    def evaluation(self, columns: Sequence[Rows | None]) -> Evaluation:
        """Evaluation with the listed part per lane where a column is given, else the stand-in."""
        chosen = {
            name: stand_in if column is None else take(part, column)
            for name, part, stand_in, column in zip(
                self.space.categories, self.parts, self.stand_ins, columns, strict=True
            )
        }
        return Evaluation(assemble(chosen), self.setting, self.levels)

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
            bounded = limit.monotone or limit.hope is not None
            known = touched & set(self.core) if bounded else touched
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


def early_margin(limit: Limit, evaluation: Evaluation) -> Array:
    """Margin of a limit, or its screen where it has one."""
    reading = limit.margin if limit.screen is None else limit.screen
    return np.asarray(reading(evaluation))


def _may_pass(limits: Sequence[Limit], evaluation: Evaluation) -> Mask:
    """Mask of the branches of which some completion may keep the limits."""
    kept: Mask = np.asarray(True)
    for limit in limits:
        if limit.hope is None:
            kept = kept & (early_margin(limit, evaluation) >= -_slack(limit))
        else:
            kept = kept & (np.asarray(limit.hope(evaluation)) >= -SCREEN_SLACK)
    return kept


def _pass(limits: Sequence[Limit], evaluation: Evaluation) -> Mask:
    """Mask of the machines, chosen whole, that keep the limits as far as screens can tell."""
    kept: Mask = np.asarray(True)
    for limit in limits:
        kept = kept & (early_margin(limit, evaluation) >= -_slack(limit))
    return kept


def _slack(limit: Limit) -> float:
    return 0.0 if limit.screen is None else SCREEN_SLACK


def _columns(problem: _Problem, rows: Rows) -> list[Rows | None]:
    return [
        None if len(rows) == 0 or rows[0, place] == UNKNOWN else rows[:, place]
        for place in range(problem.count)
    ]


def _cores(problem: _Problem) -> Rows:
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
            fine = _may_pass(limits, problem.evaluation(_columns(problem, grown)))
            kept.append(grown[np.broadcast_to(fine, (len(grown),))])
        rows = np.concatenate(kept)
    return rows


def _bound(
    problem: _Problem, rows: Rows, limits: Sequence[Limit], tally: _Tally
) -> tuple[Array, Mask]:
    """Bounds on the objectives but the money, and early feasibility, of branches."""
    bounds, fine = [], []
    for some in np.array_split(rows, max(1, -(-len(rows) // CHUNK))):
        evaluation = problem.evaluation(_columns(problem, some))
        fine.append(np.broadcast_to(_may_pass(limits, evaluation), (len(some),)))
        bounds.append(_stacked(problem, evaluation, (len(some),)))
    tally.evaluated += len(rows)
    found = np.concatenate(bounds)
    return found, np.concatenate(fine) & np.isfinite(found).all(axis=1)


def _stacked(problem: _Problem, evaluation: Evaluation, shape: tuple[int, ...]) -> Array:
    """Bounds of the objectives but the money along a last axis."""
    columns = problem.goals.bounds(evaluation)
    return np.stack([np.broadcast_to(column, shape) for column in columns], axis=-1)


@dataclass(frozen=True)
class _Tables:
    """Per core and category: which parts may serve, and the bounds with each."""

    possible: list[Mask]
    bounds: list[Array]
    cheapest: Array


def _tables(problem: _Problem, cores: _Branches, tally: _Tally) -> _Tables:
    possible: list[Mask] = []
    bounds: list[Array] = []
    goals = len(problem.goals.results)
    cheapest = np.zeros((len(cores), problem.count))
    for place in range(problem.count):
        parts = problem.sizes[place]
        if place in problem.core:
            possible.append(np.ones((len(cores), 1), dtype=np.bool_))
            bounds.append(np.zeros((len(cores), 1, goals)))
            continue
        limits = problem.decided(
            set(problem.core) | {place}, {place}, solved=place not in problem.moving
        )
        serve = np.zeros((len(cores), parts), dtype=np.bool_)
        least = np.zeros((len(cores), parts, goals))
        for some in np.array_split(np.arange(len(cores)), max(1, -(-len(cores) * parts // CHUNK))):
            columns = [
                None if column is None else column[:, None]
                for column in _columns(problem, cores.rows[some])
            ]
            columns[place] = np.arange(parts)[None, :]
            evaluation = problem.evaluation(columns)
            shape = (len(some), parts)
            serve[some] = np.broadcast_to(_may_pass(limits, evaluation), shape)
            if place in problem.moving:
                least[some] = _stacked(problem, evaluation, shape)
                serve[some] &= np.isfinite(least[some]).all(axis=2)
                tally.evaluated += len(some) * parts
        possible.append(serve)
        bounds.append(least)
        with np.errstate(invalid="ignore"):
            cheapest[:, place] = np.where(serve, problem.money[place], np.inf).min(axis=1)
    return _Tables(possible, bounds, cheapest)


def _worse(tables: _Tables, cores: _Branches, place: int) -> Array:
    """What each part alone costs each objective against the best there (cores, parts, goals)."""
    worse: Array = np.maximum(tables.bounds[place] - cores.bounds[:, None, :], 0.0)
    return worse


def _order(problem: _Problem, cores: _Branches, tables: _Tables) -> list[int]:
    """Branching categories, the one that moves the objectives most first."""
    scale = np.abs(cores.bounds).mean(axis=0)

    def spread(place: int) -> float:
        worse = _worse(tables, cores, place) / np.where(scale > 0.0, scale, 1.0)
        return float(np.where(tables.possible[place], worse.sum(axis=2), 0.0).mean())

    return sorted(problem.branching, key=spread, reverse=True)


def _grow(branches: _Branches, tables: _Tables, place: int) -> tuple[_Branches, Array]:
    """Branches with every part that may serve in one more category, and the part's bounds."""
    where, part = np.nonzero(tables.possible[place][branches.core])
    rows = branches.rows[where].copy()
    rows[:, place] = part
    grown = _Branches(rows, branches.core[where], branches.bounds[where])
    return grown, tables.bounds[place][grown.core, part]


class _Finish:
    """Choice of the categories that touch neither time nor force, cheapest first."""

    def __init__(self, problem: _Problem) -> None:
        self.problem = problem
        sizes = [problem.sizes[place] for place in problem.finishing]
        grid = np.indices(sizes).reshape(len(sizes), -1).T if sizes else np.zeros((1, 0))
        self.grid = grid.astype(np.intp)

    def _costs(self, rows: Rows) -> Array:
        """Money of each branch with each choice (n, m), summed as the evaluation sums it."""
        problem = self.problem
        total: Array = np.zeros((len(rows), len(self.grid)))
        for place in range(problem.count):
            if place in problem.finishing:
                choice = self.grid[:, problem.finishing.index(place)]
                total = total + problem.money[place][choice][None, :]
            else:
                total = total + problem.money[place][rows[:, place]][:, None]
        return total

    def _fits(self, rows: Rows) -> Mask:
        problem = self.problem
        columns: list[Rows | None] = [
            None if column is None else column[:, None] for column in _columns(problem, rows)
        ]
        for nth, place in enumerate(problem.finishing):
            columns[place] = self.grid[None, :, nth]
        evaluation = problem.evaluation(columns)
        fits = _pass(problem.limits, evaluation)
        return np.broadcast_to(fits, (len(rows), len(self.grid))).copy()

    def machines(self, branches: _Branches, tally: _Tally) -> Designs:
        """Cheapest feasible machines, with their equals, of branches with all else chosen."""
        found_rows, found_points = [], []
        size = max(1, min(CHUNK, MATRIX // len(self.grid)))
        for start in range(0, len(branches), size):
            some = branches.pick(np.arange(start, min(start + size, len(branches))))
            fits = self._fits(some.rows)
            outlays = np.where(fits, self._costs(some.rows), np.inf)
            open_rows = np.flatnonzero(fits.any(axis=1))
            while len(open_rows):
                least = outlays[open_rows].min(axis=1)
                chosen = outlays[open_rows] == least[:, None]
                where, choice = np.nonzero(chosen)
                rows = some.rows[open_rows[where]].copy()
                rows[:, self.problem.finishing] = self.grid[choice]
                points, feasible = self._evaluate(rows, tally)
                found_rows.append(rows[feasible])
                found_points.append(points[feasible])
                outlays[open_rows[where], choice] = np.inf
                settled = np.zeros(len(open_rows), dtype=np.bool_)
                settled[where[feasible]] = True
                open_rows = open_rows[~settled]
                open_rows = open_rows[np.isfinite(outlays[open_rows]).any(axis=1)]
        if not found_rows:
            return _no_designs(self.problem)
        return Designs(np.concatenate(found_rows), np.concatenate(found_points))

    def within(self, branches: _Branches, windows: Array, tally: _Tally) -> Designs:
        """All feasible machines inside a window of such branches, dear ones too."""
        found_rows, found_points = [], []
        size = max(1, min(CHUNK, MATRIX // len(self.grid)))
        for start in range(0, len(branches), size):
            some = branches.pick(np.arange(start, min(start + size, len(branches))))
            outlays = self._costs(some.rows)
            bounds = np.broadcast_to(
                some.bounds[:, None, :], (*outlays.shape, some.bounds.shape[1])
            )
            inside = ~_outside(windows, bounds, outlays)
            where, choice = np.nonzero(inside & self._fits(some.rows))
            if len(where) == 0:
                continue
            rows = some.rows[where].copy()
            rows[:, self.problem.finishing] = self.grid[choice]
            points, feasible = self._evaluate(rows, tally)
            in_each = (points[:, None, :] <= windows[None, :, :]).all(axis=2)
            feasible &= np.any(in_each, axis=1)
            found_rows.append(rows[feasible])
            found_points.append(points[feasible])
        if not found_rows:
            return _no_designs(self.problem)
        return Designs(np.concatenate(found_rows), np.concatenate(found_points))

    def _evaluate(self, rows: Rows, tally: _Tally) -> tuple[Array, Mask]:
        points, feasible = [], []
        for some in np.array_split(rows, max(1, -(-len(rows) // CHUNK))):
            found = evaluate_fully(
                self.problem.space.machine(some),
                self.problem.setting,
                self.problem.levels,
                self.problem.goals,
            )
            points.append(found[0])
            feasible.append(found[1])
        tally.evaluated += len(rows)
        return np.concatenate(points), np.concatenate(feasible)


def _outside(windows: Array, bounds: Array, money: Array) -> Mask:
    """Where bounds (..., goals - 1) with least money (...) lie in none of the windows."""
    outside: Mask = np.ones(np.shape(money), dtype=np.bool_)
    least = bounds - SLACK * np.abs(bounds)
    for window in windows:
        inside = (least <= window[:-1]).all(axis=-1)
        outside &= ~(inside & (money <= window[-1]))
    return outside


def _seed(problem: _Problem, cores: _Branches, tables: _Tables, order: Sequence[int]) -> _Branches:
    """Likely members of the front: branch and bound on times that are predicted, not solved.

    The prediction adds what each part alone costs the objectives. It only chooses which machines
    are evaluated first; nothing is concluded from it.
    """
    worse = {place: _worse(tables, cores, place) for place in order}
    cheap: dict[int, Array] = {}
    for place in order:
        part = np.where(tables.possible[place], problem.money[place], np.inf).argmin(axis=1)
        cheap[place] = np.take_along_axis(worse[place], part[:, None, None], axis=1)[:, 0]
    likely = Archive(problem.goals.solved)
    branches = cores
    for step, place in enumerate(order):
        grown, _ = _grow(branches, tables, place)
        bounds = grown.bounds + worse[place][grown.core, grown.rows[:, place]]
        grown = _Branches(grown.rows, grown.core, bounds)
        costs = problem.floor(grown.rows, tables.cheapest[grown.core])
        rest = sum((cheap[later][grown.core] for later in order[step + 1 :]), np.zeros(1))
        reached = np.concatenate([bounds + rest, costs[:, None]], axis=1)
        reached = reached[np.isfinite(costs)]
        likely.add(reached[not_dominated(reached)])
        branches = grown.pick(np.isfinite(costs) & ~likely.beats(bounds, costs))
    return branches


def _descend(
    problem: _Problem,
    cores: _Branches,
    tables: _Tables,
    order: Sequence[int],
    dropped: Callable[[Array, Array], Mask],
    settle: Callable[[_Branches], None],
    tally: _Tally,
    tell: Progress,
) -> None:
    """Grow branches depth first; ``settle`` gets those with all but the finishing chosen.

    ``dropped`` tells from bounds on the objectives and the money which branches may go.
    """
    chosen = set(problem.core)
    waiting: list[tuple[int, _Branches]] = [(0, cores)]
    while waiting:
        depth, branches = waiting.pop()
        costs = problem.floor(branches.rows, tables.cheapest[branches.core])
        branches = branches.pick(np.isfinite(costs) & ~dropped(branches.bounds, costs))
        tally.branches += len(branches)
        if len(branches) == 0:
            continue
        if depth == len(order):
            settle(branches)
            continue
        place = order[depth]
        grown, alone = _grow(branches, tables, place)
        bounds = np.maximum(grown.bounds, alone)
        costs = problem.floor(grown.rows, tables.cheapest[grown.core])
        grown = _Branches(grown.rows, grown.core, bounds).pick(
            np.isfinite(costs) & ~dropped(bounds, costs)
        )
        if depth > 0 and len(grown):
            known = chosen | set(order[: depth + 1])
            limits = problem.decided(known, {place}, solved=False)
            bounds, fine = _bound(problem, grown.rows, limits, tally)
            grown = _Branches(grown.rows, grown.core, bounds).pick(fine)
        for start in range(0, len(grown), CHUNK):
            waiting.append(
                (depth + 1, grown.pick(np.arange(start, min(start + CHUNK, len(grown)))))
            )
        tell("branches", 1.0 - len(waiting) / (len(waiting) + 10.0))


def _begin(problem: _Problem, tally: _Tally) -> tuple[_Branches, _Tables, list[int]] | None:
    """Cores that may keep their limits, what may go with each, and the order to branch in."""
    core_rows = _cores(problem)
    if len(core_rows) == 0:
        return None
    bounds, fine = _bound(
        problem, core_rows, problem.decided(set(problem.core), set(), solved=True), tally
    )
    cores = _Branches(core_rows, np.arange(len(core_rows)), bounds).pick(fine)
    cores = _Branches(cores.rows, np.arange(len(cores)), cores.bounds)
    if len(cores) == 0:
        return None
    tables = _tables(problem, cores, tally)
    return cores, tables, _order(problem, cores, tables)


def _no_designs(problem: _Problem) -> Designs:
    return Designs(
        np.zeros((0, problem.count), dtype=np.intp), np.zeros((0, len(problem.goals.keys)))
    )


def _search(
    problem: _Problem, begun: tuple[_Branches, _Tables, list[int]], tally: _Tally, tell: Progress
) -> Designs:
    cores, tables, order = begun
    finish = _Finish(problem)
    found: list[Designs] = []
    archive = Archive(problem.goals.solved)

    def settle(branches: _Branches) -> None:
        designs = finish.machines(branches, tally)
        if len(designs.indices):
            found.append(designs)
            archive.add(designs.points)

    tell("likely members of the front", 0.05)
    settle(_seed(problem, cores, tables, order))

    _descend(problem, cores, tables, order, archive.beats, settle, tally, tell)
    if not found:
        return _no_designs(problem)
    rows = np.concatenate([designs.indices for designs in found])
    points = np.concatenate([designs.points for designs in found])
    rows, first = np.unique(rows, axis=0, return_index=True)
    points = points[first]
    front = not_dominated(points)
    return Designs(rows[front], points[front])


class _TooManyError(Exception):
    """More machines inside the windows than asked for."""


def _silent(_words: str, _share: float) -> None:
    """Progress that nobody hears of."""


class ExactSearch:
    """Searches of one space in one setting; what they learn about it is learnt once.

    Parameters
    ----------
    space
        Price lists of all categories.
    setting
        Everything that is not a part; its hard limits hold.
    progress
        Called with words and a share now and then.
    goals
        Objectives; cycle time, force and outlay when not given.

    Raises
    ------
    CallError
        An objective has no declared bound over these lists.
    """

    def __init__(
        self,
        space: Space,
        setting: Setting,
        progress: Progress | None = None,
        goals: Goals = STANDARD,
    ) -> None:
        self._tell = progress or _silent
        self._tally = _Tally()
        self._tell("cores that keep their limits", 0.0)
        with np.errstate(all="ignore"):
            self._problem = _Problem(space, setting, goals)
            self._begun = _begin(self._problem, self._tally)

    def front(self) -> ExactFront:
        """Front of the objectives: all members, ties kept."""
        tally = self._tally
        designs = _no_designs(self._problem)
        with np.errstate(all="ignore"):
            if self._begun is not None:
                designs = _search(self._problem, self._begun, tally, self._tell)
        seconds = time.perf_counter() - tally.started
        return ExactFront(designs, tally.evaluated, tally.branches, seconds)

    def within(self, windows: Array, most: int) -> Designs | None:
        """All feasible machines inside at least one window, rows in order.

        Parameters
        ----------
        windows
            Highest objectives, smaller better, of each, shape (n, goals).
        most
            Machines after which the search gives up and there is no answer.
        """
        found: list[Designs] = [_no_designs(self._problem)]

        def settle(branches: _Branches) -> None:
            found.append(finish.within(branches, windows, self._tally))
            if sum(len(designs.indices) for designs in found) > most:
                raise _TooManyError

        with np.errstate(all="ignore"):
            if self._begun is not None:
                finish = _Finish(self._problem)
                dropped = partial(_outside, windows)
                try:
                    _descend(self._problem, *self._begun, dropped, settle, self._tally, self._tell)
                except _TooManyError:
                    return None
        rows = np.concatenate([designs.indices for designs in found])
        points = np.concatenate([designs.points for designs in found])
        order = np.lexsort(rows.T[::-1])
        return Designs(rows[order], points[order])


def exact_front(
    space: Space,
    setting: Setting,
    progress: Progress | None = None,
    goals: Goals = STANDARD,
) -> ExactFront:
    """Front of the objectives over a space; arguments and errors as of :class:`ExactSearch`."""
    return ExactSearch(space, setting, progress, goals).front()
