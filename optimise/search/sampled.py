"""A front over price lists and free numbers, sampled: no bound can rule out what lies between.

It begins with exact fronts of the lists, with the free numbers held as they are now and at points
of a coarse grid, so the answer is never worse than those. Optuna then proposes designs, a
generation at a time, each worked out as columns, and a design once, however often it is proposed.
That ends when the volume that the front dominates has stopped growing, or after as many designs as
asked for. Last, every design of the front is moved along each free number by ever shorter steps
while that betters it. Nothing is proven.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass

import moocore
import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.sheet import Sheet, sheet_of
from optimise.search.exact import exact_front
from optimise.search.goals import STANDARD, Goals
from optimise.search.judge import Judge
from optimise.search.proposals import Proposals, Sampler
from optimise.study.made_to_order import MadeToOrder

GENERATION, GP_GENERATION = 100, 10
"""Designs that are proposed together; by a Gaussian process, fitted anew before each."""
MOST_DESIGNS, MOST_GP_DESIGNS = 3_000, 200
"""Designs that the sampler proposes where no other number is asked for."""
STARTS = 9
"""Most points of a grid of free numbers at which the lists' exact front is a start."""
SHORTENINGS = 8
"""Halvings of the step along a free number, from half of its range."""
MOST_MOVED = 1_000
"""Designs of the front that are moved at each step: all, or as many evenly along it."""
FLAT_GENERATIONS = 8
FLAT_SHARE = 1e-3
"""Share of the volume that this many generations in a row have to add for the search to go on."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Sampled:
    """What the search found.

    Attributes
    ----------
    rows, numbers
        Positions in the lists (n, categories) and free numbers in SI (n, free) of the front, best
        in the first goal first.
    sheet
        Results and limits of the front.
    points
        Its goals (n, goals), smaller better.
    goals, sampler, seed
        As asked for.
    designs
        Designs worked out, each once.
    seeded
        How many designs of fronts of the lists the search began with.
    volume
        Designs worked out and volume dominated after each generation, over that of the start where
        there is one.
    ended
        Why it ended, in words.
    seconds
        Wall time.
    """

    rows: NDArray[np.intp]
    numbers: Array
    sheet: Sheet
    points: Array
    goals: Goals
    sampler: Sampler
    seed: int
    designs: int
    seeded: int
    volume: tuple[tuple[int, float], ...]
    ended: str
    seconds: float


class _Volume:
    """Volume that a front dominates, in ranges of the first front that is not empty."""

    def __init__(self) -> None:
        self.box: tuple[Array, Array] | None = None

    def of(self, points: Array) -> float:
        """Volume up to a tenth of a range beyond the worst of the first front."""
        if len(points) == 0:
            return 0.0
        if self.box is None:
            best, worst = points.min(axis=0), points.max(axis=0)
            unit = np.where(worst > best, worst - best, np.abs(worst) + 1.0)
            self.box = (worst + 0.1 * unit, unit)
        reference, unit = self.box
        scaled = (points - reference) / unit
        inside = scaled[scaled.max(axis=1) < 0.0]
        if len(inside) == 0:
            return 0.0
        return float(moocore.hypervolume(inside, ref=np.zeros(inside.shape[1])))


def sampled_front(
    made: MadeToOrder,
    goals: Goals = STANDARD,
    *,
    sampler: Sampler = "nsga2",
    designs: int | None = None,
    seed: int = 1,
    store: str | None = None,
    progress: Progress | None = None,
) -> Sampled:
    """Search for the front of a space with free numbers.

    Parameters
    ----------
    designs
        Most designs that the sampler proposes; as many as it usually does when not given.
    store
        Where the search is kept, so that it can go on later and several can work at it at a time: a
        file (SQLite) or the URL of a database. Without one it is kept in memory, which is quicker.

    Raises
    ------
    CallError
        The library that samples is not installed, or the store cannot be used or holds another
        question.
    OutputError
        The store was away for too long.
    """
    started = time.perf_counter()
    judge, volume = Judge(made, goals), _Volume()
    together = GP_GENERATION if sampler == "gp" else GENERATION
    most = designs or (MOST_GP_DESIGNS if sampler == "gp" else MOST_DESIGNS)
    with closing(Proposals(made, judge, sampler, together, seed, store)) as talk:
        talk.finish_others()
        talk.recall()
        now, *ends = _held(made)
        starts = [_front_at(made, goals, now)]
        course = [(len(starts[0][0]), volume.of(judge(*starts[0])[0]))]
        for nth, values in enumerate(ends):
            if progress is not None:
                progress("fronts of the lists", nth / len(ends))
            starts.append(_front_at(made, goals, values))
            judge(*starts[-1])
        seeds = (
            np.concatenate([rows for rows, _ in starts]),
            np.concatenate([numbers for _, numbers in starts]),
        )
        talk.begin_with(seeds)
        course.append((len(judge.known), volume.of(judge.points)))
        ended = _sample(judge, talk, volume, course, most, progress)
        talk.recall()
    _polish(made, judge)
    course.append((len(judge.known), volume.of(judge.points)))
    order = np.lexsort((*judge.numbers.T[::-1], *judge.rows.T[::-1], *judge.points.T[::-1]))
    rows, numbers = judge.rows[order], judge.numbers[order]
    machine, setting = made.column(rows, numbers)
    return Sampled(
        rows,
        numbers,
        sheet_of(machine, setting),
        judge.points[order],
        goals,
        sampler,
        seed,
        len(judge.known),
        len(seeds[0]),
        tuple(course),
        ended,
        time.perf_counter() - started,
    )


def _sample(
    judge: Judge,
    talk: Proposals,
    volume: _Volume,
    course: list[tuple[int, float]],
    designs: int,
    progress: Progress | None,
) -> str:
    """Let the sampler propose until it is done; say why it is."""
    proposed = idle = 0
    first = len(course) - 1
    while proposed < designs:
        before = len(judge.known)
        proposed += talk.generation(designs - proposed)
        course.append((len(judge.known), volume.of(judge.points)))
        if progress is not None:
            progress(f"{len(judge.known):,} designs", proposed / designs)
        idle = idle + 1 if len(judge.known) == before else 0
        if idle >= FLAT_GENERATIONS:
            return "no new design was proposed any more"
        if _flat(course[first:]):
            return f"{FLAT_GENERATIONS} rounds in a row added next to nothing"
    return f"{designs:,} designs were proposed, as asked for"


def _flat(course: Sequence[tuple[int, float]]) -> bool:
    if len(course) <= FLAT_GENERATIONS:
        return False
    now, before = course[-1][1], course[-1 - FLAT_GENERATIONS][1]
    return now > 0.0 and now - before <= FLAT_SHARE * now


def _held(made: MadeToOrder) -> list[Array]:
    """Values at which the free numbers are held for a start: as now, then an even grid.

    The grid has the most points a side with which it keeps to :data:`STARTS`; where that is under
    two, each number goes to its ends by itself.
    """
    now, low, high = made.numbers_now(), made.low, made.high
    side = int(STARTS ** (1.0 / len(now)) + 1e-9)
    if side >= 2:
        axes = [np.linspace(*ends, side) for ends in zip(low, high, strict=True)]
        held = [now, *np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(now))]
    else:
        place = np.arange(len(now))
        held = [np.where(place == nth, end, now) for nth in place for end in (low, high)]
        held = [now, low, high, *held]
    return list({tuple(values): values for values in held}.values())


def _front_at(made: MadeToOrder, goals: Goals, values: Array) -> tuple[NDArray[np.intp], Array]:
    """Exact front of the lists with the free numbers held."""
    space, setting = made.listed_at(values)
    rows = exact_front(space, setting, None, goals).designs.indices
    return rows, np.tile(values, (len(rows), 1))


def _polish(made: MadeToOrder, judge: Judge) -> None:
    """Move the designs of the front along each free number by ever shorter steps."""
    span = made.high - made.low
    for halving in range(1, SHORTENINGS + 1):
        for nth in range(len(span)):
            for sign in (-1.0, 1.0):
                count = len(judge.rows)
                if count == 0:
                    return
                some = np.unique(np.linspace(0, count - 1, min(count, MOST_MOVED)).astype(int))
                rows, numbers = judge.rows[some], judge.numbers[some].copy()
                step = sign * span[nth] / 2.0**halving
                numbers[:, nth] = np.clip(numbers[:, nth] + step, made.low[nth], made.high[nth])
                judge(rows, numbers)
