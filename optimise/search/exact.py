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
6. Where hard limits have to be kept with a chance as well, points 1 to 3 hold in each draw
   (``search/sieve.py``), and only machines that have the chance may beat a branch.

Cores are gone through in shares, each from the same first machines, so that an answer and what it
took do not hang on how many processes work at it.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from optimise.columns import Array
from optimise.machine.setting import Setting
from optimise.search.archive import Archive, not_dominated
from optimise.search.brute import CHUNK, Designs
from optimise.search.chances import Chances
from optimise.search.crew import ALONE, Crew, Effort
from optimise.search.finishing import Finish, no_designs, outside
from optimise.search.goals import STANDARD, Goals
from optimise.search.problem import Branches, Mask, Problem, Progress, Rows, Tally, TimeUpError
from optimise.search.sieve import Sieve
from optimise.search.survey import (
    Surveyed,
    bound,
    branching_order,
    core_rows,
    grow,
    joined,
    survey,
    worse,
)
from optimise.study.space import Space

SHARE, SURE_SHARE = 1024, 256
"""Cores of a share, without and with a chance that costs many draws for each."""
MOST_SHARES = 32


@dataclass(frozen=True)
class ExactFront:
    """Front and what it took.

    Attributes
    ----------
    designs
        Members; where the search was stopped, the best of the machines found.
    evaluated
        Every machine, whole or part ideal, solved.
    branches
        Branches grown.
    seconds
        Wall time.
    gone_through
        Share of the cores, 1 where the search came to its end.
    blind
        Titles of limits that rule nothing out before a machine is nearly whole.
    """

    designs: Designs
    evaluated: int
    branches: int
    seconds: float
    gone_through: float = 1.0
    blind: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Descent:
    """A share of the cores to go through: from which points, and in which order of categories."""

    found: Surveyed
    order: tuple[int, ...]
    points: Array


def _seed(problem: Problem, found: Surveyed, order: Sequence[int]) -> Branches:
    """Likely members of the front: branch and bound on times that are predicted, not solved.

    The prediction adds what each part alone costs the objectives. It only chooses which machines
    are evaluated first; nothing is concluded from it.
    """
    sieve, tables = Sieve(problem), found.tables
    over = {place: worse(found, place) for place in order}
    cheap: dict[int, Array] = {}
    for place in order:
        part = np.where(tables.possible[place], problem.money[place], np.inf).argmin(axis=1)
        cheap[place] = np.take_along_axis(over[place], part[:, None, None], axis=1)[:, 0]
    likely = Archive(problem.goals.solved)
    branches = found.cores
    for step, place in enumerate(order):
        grown, _ = grow(sieve, branches, tables, place)
        bounds = grown.bounds + over[place][grown.core, grown.rows[:, place]]
        grown = Branches(grown.rows, grown.core, bounds, grown.draws)
        costs = problem.floor(grown.rows, tables.cheapest[grown.core])
        rest = sum((cheap[later][grown.core] for later in order[step + 1 :]), np.zeros(1))
        reached = np.concatenate([bounds + rest, costs[:, None]], axis=1)
        reached = reached[np.isfinite(costs)]
        likely.add(reached[not_dominated(reached)])
        branches = grown.pick(np.isfinite(costs) & ~likely.beats(bounds, costs))
    return branches


def _descend(
    problem: Problem,
    found: Surveyed,
    order: Sequence[int],
    dropped: Callable[[Array, Array], Mask],
    settle: Callable[[Branches], None],
    tally: Tally,
) -> None:
    """Grow branches depth first; ``settle`` gets those with all but the finishing chosen.

    ``dropped`` tells from bounds on the objectives and the money which branches may go.
    """
    sieve, tables = Sieve(problem), found.tables
    chosen = set(problem.core)
    waiting: list[tuple[int, Branches]] = [(0, found.cores)]
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
        grown, alone = grow(sieve, branches, tables, place)
        bounds = np.maximum(grown.bounds, alone)
        costs = problem.floor(grown.rows, tables.cheapest[grown.core])
        grown = Branches(grown.rows, grown.core, bounds, grown.draws).pick(
            np.isfinite(costs) & ~dropped(bounds, costs)
        )
        if depth > 0 and len(grown):
            known = chosen | set(order[: depth + 1])
            limits = problem.decided(known, {place}, solved=False)
            bounds, fine = bound(problem, grown.rows, limits, tally)
            grown = Branches(grown.rows, grown.core, bounds, grown.draws).pick(fine)
            draws = sieve.left(grown.rows, limits, grown.draws, tally)
            grown = Branches(grown.rows, grown.core, grown.bounds, draws).pick(sieve.enough(draws))
        for start in range(0, len(grown), CHUNK):
            waiting.append(
                (depth + 1, grown.pick(np.arange(start, min(start + CHUNK, len(grown)))))
            )
        tally.add()


def _go_through(problem: Problem, share: _Descent, tally: Tally) -> tuple[Designs, bool]:
    """Machines of a share that nothing found in it beats, and whether it came to its end."""
    finish = Finish(problem)
    archive = Archive(problem.goals.solved)
    archive.add(share.points)
    found: list[Designs] = [no_designs(problem)]

    def settle(branches: Branches) -> None:
        for designs in finish.machines(branches, archive, tally):
            found.append(designs)

    try:
        _descend(problem, share.found, share.order, archive.beats, settle, tally)
    except TimeUpError:
        return _best(found), False
    return _best(found), True


def _best(found: Sequence[Designs]) -> Designs:
    """Machines that no other of them beats, each once, in order of their rows."""
    rows = np.concatenate([designs.indices for designs in found])
    points = np.concatenate([designs.points for designs in found])
    rows, first = np.unique(rows, axis=0, return_index=True)
    points = points[first]
    front = not_dominated(points)
    return Designs(rows[front], points[front])


class _TooManyError(Exception):
    """More machines inside the windows than asked for."""


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
    chances
        Where given, machines must keep the hard limits in so many of its draws as well.
    effort
        How many processes work, and how long.

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
        chances: Chances | None = None,
        effort: Effort = ALONE,
    ) -> None:
        self._started = time.monotonic()
        until = None if effort.seconds is None else self._started + effort.seconds
        self._tally = Tally(until=until)
        with np.errstate(all="ignore"):
            self._problem = Problem(space, setting, goals, chances)
        self._crew = Crew(self._problem, effort, self._tally, progress)
        self._surveyed: Surveyed | None = None

    def _survey(self) -> Surveyed:
        """Cores that may keep their limits, and what may go with each."""
        if self._surveyed is None:
            self._crew.stage("cores that keep their limits", 0.0, 0.05)
            rows = core_rows(self._problem, self._tally)
            shares = [rows[lanes] for lanes in self._shares(len(rows))]
            self._crew.stage("what may go with each core", 0.05, 0.4)
            self._surveyed = joined(self._crew.each(survey, shares))
        return self._surveyed

    def _shares(self, count: int) -> list[Rows]:
        """Shares of so many cores: how many there are hangs on nothing else."""
        size = SHARE if self._problem.chances is None else SURE_SHARE
        shares = min(MOST_SHARES, max(1, count // size))
        return [np.arange(nth, count, shares) for nth in range(shares)]

    def front(self) -> ExactFront:
        """Front of the objectives: all members, ties kept."""
        found: list[Designs] = [no_designs(self._problem)]
        gone_through = 0.0
        with np.errstate(all="ignore"), self._crew, contextlib.suppress(TimeUpError):
            self._crew.meet()
            gone_through = self._front(found)
        seconds = time.monotonic() - self._started
        tally = self._tally
        return ExactFront(
            _best(found),
            tally.evaluated,
            tally.branches,
            seconds,
            gone_through,
            tuple(limit.title for limit in self._problem.blind),
        )

    def _front(self, found: list[Designs]) -> float:
        """Put machines into ``found``; the share of the cores that was gone through."""
        surveyed, problem, crew = self._survey(), self._problem, self._crew
        if len(surveyed) == 0:
            return 1.0
        order = tuple(branching_order(problem, surveyed))
        archive = Archive(problem.goals.solved)
        crew.stage("likely members of the front", 0.4, 0.5)
        likely = _seed(problem, surveyed, order)
        for designs in Finish(problem).machines(likely, archive, self._tally):
            found.append(designs)
        crew.stage("all other machines", 0.5, 1.0)
        shares = [
            _Descent(surveyed.pick(lanes), order, archive.points)
            for lanes in self._shares(len(surveyed))
        ]
        answers = crew.each(_go_through, shares)
        found.extend(designs for designs, _ in answers)
        whole = [len(one.found) for one, (_, ended) in zip(shares, answers, strict=True) if ended]
        return sum(whole) / len(surveyed)

    def within(self, windows: Array, most: int) -> Designs | None:
        """All feasible machines inside at least one window, rows in order.

        Parameters
        ----------
        windows
            Highest objectives, smaller better, of each, shape (n, goals).
        most
            Machines after which the search gives up and there is no answer.
        """
        found: list[Designs] = [no_designs(self._problem)]
        finish = Finish(self._problem)

        def settle(branches: Branches) -> None:
            found.append(finish.within(branches, windows, self._tally))
            if sum(len(designs.indices) for designs in found) > most:
                raise _TooManyError

        with np.errstate(all="ignore"):
            surveyed = self._survey()
            if len(surveyed):
                order = branching_order(self._problem, surveyed)
                self._crew.stage("machines of the windows", 0.5, 1.0)
                dropped = partial(outside, windows)
                try:
                    _descend(self._problem, surveyed, order, dropped, settle, self._tally)
                except _TooManyError:
                    return None
        rows = np.concatenate([designs.indices for designs in found])
        points = np.concatenate([designs.points for designs in found])
        sorted_rows = np.lexsort(rows.T[::-1])
        return Designs(rows[sorted_rows], points[sorted_rows])


def exact_front(
    space: Space,
    setting: Setting,
    progress: Progress | None = None,
    goals: Goals = STANDARD,
    chances: Chances | None = None,
    effort: Effort = ALONE,
) -> ExactFront:
    """Front of the objectives over a space; arguments and errors as of :class:`ExactSearch`."""
    return ExactSearch(space, setting, progress, goals, chances, effort).front()
