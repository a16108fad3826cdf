"""Choice of the categories that touch no objective but the money, cheapest first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimise.columns import Array
from optimise.search.archive import SLACK, Archive
from optimise.search.brute import CHUNK, Designs, evaluate_fully
from optimise.search.problem import Branches, Mask, Problem, Rows, Tally, seem_to_pass
from optimise.search.sieve import Sieve

MATRIX = 2_000_000
"""Most cells of a table of branches against choices at a time."""


class Finish:
    """Choice of the categories that touch no objective but the money, cheapest first."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.sieve = Sieve(problem)
        self._costly = self.sieve.used or bool(problem.blind)
        """Whether judging a machine costs so much that what is beaten is left out first."""
        blind = {limit.name for limit in problem.blind if limit.screen is None}
        self._quick = [limit for limit in problem.limits if limit.name not in blind]
        """Limits that are read on every choice; the others on the cheapest that keeps these."""
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
            None if column is None else column[:, None] for column in problem.columns(rows)
        ]
        for nth, place in enumerate(problem.finishing):
            columns[place] = self.grid[None, :, nth]
        evaluation = problem.evaluation(columns)
        fits = seem_to_pass(self._quick, evaluation)
        return np.broadcast_to(fits, (len(rows), len(self.grid))).copy()

    def machines(self, branches: Branches, archive: Archive, tally: Tally) -> Iterator[Designs]:
        """Cheapest feasible machines, with their equals, of branches with all else chosen.

        They are added to the archive; what that beats may be left out.
        """
        size = max(1, min(self.sieve.most if self._costly else CHUNK, MATRIX // len(self.grid)))
        for start in range(0, len(branches), size):
            some = branches.pick(np.arange(start, min(start + size, len(branches))))
            fits, costs = self._fits(some.rows), self._costs(some.rows)
            if self._costly:
                bounds = np.repeat(some.bounds, len(self.grid), axis=0)
                fits &= ~archive.beats(bounds, costs.reshape(-1)).reshape(fits.shape)
                fits = self.sieve.finished(some.rows, self.grid, fits, some.draws, tally)
            designs = self._cheapest(some.rows, fits, np.where(fits, costs, np.inf), tally)
            if len(designs.indices):
                archive.add(designs.points)
                yield designs

    def _cheapest(self, rows: Rows, fits: Mask, outlays: Array, tally: Tally) -> Designs:
        found_rows, found_points = [], []
        open_rows = np.flatnonzero(fits.any(axis=1))
        while len(open_rows):
            least = outlays[open_rows].min(axis=1)
            chosen = outlays[open_rows] == least[:, None]
            where, choice = np.nonzero(chosen)
            whole = rows[open_rows[where]].copy()
            whole[:, self.problem.finishing] = self.grid[choice]
            points, feasible = self._evaluate(whole, tally)
            found_rows.append(whole[feasible])
            found_points.append(points[feasible])
            outlays[open_rows[where], choice] = np.inf
            settled = np.zeros(len(open_rows), dtype=np.bool_)
            settled[where[feasible]] = True
            open_rows = open_rows[~settled]
            open_rows = open_rows[np.isfinite(outlays[open_rows]).any(axis=1)]
        if not found_rows:
            return no_designs(self.problem)
        return Designs(np.concatenate(found_rows), np.concatenate(found_points))

    def within(self, branches: Branches, windows: Array, tally: Tally) -> Designs:
        """All feasible machines inside a window of such branches, dear ones too."""
        found_rows, found_points = [], []
        size = max(1, min(CHUNK, MATRIX // len(self.grid)))
        for start in range(0, len(branches), size):
            some = branches.pick(np.arange(start, min(start + size, len(branches))))
            outlays = self._costs(some.rows)
            bounds = np.broadcast_to(
                some.bounds[:, None, :], (*outlays.shape, some.bounds.shape[1])
            )
            inside = ~outside(windows, bounds, outlays)
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
            return no_designs(self.problem)
        return Designs(np.concatenate(found_rows), np.concatenate(found_points))

    def _evaluate(self, rows: Rows, tally: Tally) -> tuple[Array, Mask]:
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
            tally.add(len(some))
        return np.concatenate(points), np.concatenate(feasible)


def outside(windows: Array, bounds: Array, money: Array) -> Mask:
    """Where bounds (..., goals - 1) with least money (...) lie in none of the windows."""
    outside: Mask = np.ones(np.shape(money), dtype=np.bool_)
    least = bounds - SLACK * np.abs(bounds)
    for window in windows:
        inside = (least <= window[:-1]).all(axis=-1)
        outside &= ~(inside & (money <= window[-1]))
    return outside


def no_designs(problem: Problem) -> Designs:
    """No machine at all."""
    return Designs(
        np.zeros((0, problem.count), dtype=np.intp), np.zeros((0, len(problem.goals.keys)))
    )
