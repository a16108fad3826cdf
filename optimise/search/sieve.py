"""Branches of which no completion keeps its hard limits with the chance asked for.

Draws change numbers of the setting and scale quantities of parts by factors above zero, so that the
ideal part of a list is ideal in each draw too, and what bounds a limit's margin at the study's own
numbers bounds it in a draw. So for each branch the draws are known in which no completion keeps the
limits read so far; where too few are left, the branch holds no machine that is asked for. A draw
once lost stays lost as parts are chosen, whichever limit lost it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimise.machine.limits import Limit
from optimise.search.chances import limit_kept
from optimise.search.problem import UNKNOWN, Bits, Mask, Problem, Rows, Tally, may_keep, may_pass
from optimise.search.unknowns import LANES

BATCH = 32
"""Draws that are read at once where strokes are solved: most branches are lost in the first."""
PLAIN_LANES = 8 * LANES
"""Branches times draws that are read at once where no stroke is solved."""
DOUBTFUL = 0.25
"""Share of the draws that it may lose, under which a branch is not read further for its strokes."""
_SET = np.array([int(byte).bit_count() for byte in range(256)], dtype=np.uint8)


class Sieve:
    """Draws that branches have left; without a chance asked for every branch passes."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._draws = 0 if problem.chances is None else problem.chances.draws
        self._needed = 0 if problem.chances is None else problem.chances.needed
        self._lost = np.zeros(self._draws)

    @property
    def most(self) -> int:
        """Branches that are best finished at once."""
        return LANES // BATCH

    @property
    def used(self) -> bool:
        """Whether a chance is asked for."""
        return self._draws > 0

    def all_draws(self, shape: tuple[int, ...]) -> Bits:
        """Every draw left, for branches in some shape."""
        return np.broadcast_to(
            np.packbits(np.ones(self._draws, dtype=np.bool_)), (*shape, -(-self._draws // 8))
        ).copy()

    def enough(self, draws: Bits) -> Mask:
        """Mask of the branches that have as many draws left as are needed."""
        if not self.used:
            return np.ones(draws.shape[:-1], dtype=np.bool_)
        counted: Mask = _SET[draws].sum(axis=-1, dtype=np.int64) >= self._needed
        return counted

    def left(self, rows: Rows, limits: Sequence[Limit], draws: Bits, tally: Tally) -> Bits:
        """Draws left after limits that need no solved stroke, each once for what it touches."""
        if not self.used or len(rows) == 0:
            return draws
        problem, every = self._problem, np.arange(self._draws)
        alike: dict[tuple[int, ...], list[Limit]] = {}
        for limit in limits:
            places = sorted(problem.touches[limit.name])
            known = tuple(place for place in places if rows[0, place] != UNKNOWN)
            alike.setdefault(known, []).append(limit)
        for touched, together in alike.items():
            sizes = [problem.sizes[place] for place in touched]
            key = np.zeros(len(rows), dtype=np.intp)
            if touched:
                key = np.ravel_multi_index(tuple(rows[:, touched].T), sizes)
            _, first, where = np.unique(key, return_index=True, return_inverse=True)
            held = np.zeros((len(first), self._draws), dtype=np.bool_)
            size = max(1, PLAIN_LANES // self._draws)
            for start in range(0, len(first), size):
                columns: list[Rows | None] = [None] * problem.count
                some = slice(start, start + size)
                for place in touched:
                    columns[place] = rows[first[some], place][:, None]
                held[some] = may_pass(together, problem.evaluation(columns, every))
                tally.add()
            draws = draws & np.packbits(held, axis=1)[where]
        return draws

    def left_of_strokes(
        self, rows: Rows, limits: Sequence[Limit], draws: Bits, tally: Tally
    ) -> Bits:
        """Draws left after limits that need solved strokes, as far as that is worth its time.

        A branch is read in some draws first; in the others only where it lost some and may lose
        too many. What is not read counts as left.
        """
        if not self.used or not limits:
            return draws
        found = np.unpackbits(draws, axis=1, count=self._draws).astype(np.bool_)
        doubtful = self._draws - DOUBTFUL * (self._draws - self._needed)
        for nth, batch in enumerate(self._batches()):
            count = found.sum(axis=1)
            going = np.flatnonzero((count >= self._needed) & ((count <= doubtful) | (nth == 0)))
            size = max(1, LANES // len(batch))
            for start in range(0, len(going), size):
                some = going[start : start + size]
                columns = [
                    None if column is None else column[:, None]
                    for column in self._problem.columns(rows[some])
                ]
                evaluation = self._problem.evaluation(columns, batch)
                for limit in limits:
                    held = np.broadcast_to(may_keep(limit, evaluation), (len(some), len(batch)))
                    self._lost[batch] += (found[np.ix_(some, batch)] & ~held).sum(axis=0)
                    found[np.ix_(some, batch)] &= held
                tally.add(len(some) * len(batch))
        return np.packbits(found, axis=1)

    def finished(self, rows: Rows, grid: Rows, open_: Mask, draws: Bits, tally: Tally) -> Mask:
        """Which of the ways to finish branches, of those in question, keep all limits often enough.

        Parameters
        ----------
        rows
            Branches with all but the finishing chosen, shape (n, categories).
        grid
            Ways to choose the finishing categories, shape (m, finishing categories).
        open_
            Ways in question, shape (n, m).
        draws
            Draws that the branches have left.
        """
        if not self.used:
            return open_
        problem = self._problem
        open_ = open_ & self.enough(draws)[:, None]
        may_lose = np.full(open_.shape, self._draws - self._needed)
        branch = np.unpackbits(draws, axis=1, count=self._draws).astype(np.bool_)
        may_lose = may_lose - (~branch).sum(axis=1)[:, None]
        limits = [limit for limit in problem.limits if self._is_open(limit)]
        for batch in self._batches():
            going = np.flatnonzero(open_.any(axis=1))
            size = max(1, LANES // len(batch))
            for start in range(0, len(going), size):
                some = going[start : start + size]
                columns: list[Rows | None] = [
                    None if column is None else column[:, None, None]
                    for column in problem.columns(rows[some])
                ]
                for nth, place in enumerate(problem.finishing):
                    columns[place] = grid[None, :, nth, None]
                evaluation = problem.evaluation(columns, batch)
                held: Mask = branch[np.ix_(some, batch)][:, None, :]
                before = held
                for limit in limits:
                    held = held & limit_kept(limit, evaluation)
                lost = before & ~held
                self._lost[batch] += lost.all(axis=1).sum(axis=0)
                may_lose[some] -= lost.sum(axis=2)
                open_[some] &= may_lose[some] >= 0
                tally.add(len(some) * len(batch))
        return open_

    def _is_open(self, limit: Limit) -> bool:
        """Whether the draws of a branch do not tell of a limit yet."""
        reads = self._problem.touches[limit.name]
        return limit.solved or not limit.monotone or bool(reads & set(self._problem.finishing))

    def _batches(self) -> list[Rows]:
        """Draws, those first that lost most so far; the order moves no answer."""
        order = np.argsort(-self._lost, kind="stable")
        return [order[start : start + BATCH] for start in range(0, self._draws, BATCH)]
