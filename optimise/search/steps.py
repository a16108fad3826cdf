"""Steps from the machine owned: every change of one part, and the bundle that makes it work.

A machine is *good* when it keeps every hard limit, has the force asked for and is quicker than the
machine owned, by the time that counts (``optimise.search.goals.PACES``). A change that is not good
alone may be with one or two others. The bundle shown for it is the cheapest good one of up to
:data:`MOST_CHANGES` parts in which the change does its share: without it the rest is slower, weaker
than asked or over a limit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet, sheet_of
from optimise.machine.wood import WorkLevels, levels_of
from optimise.search.brute import CHUNK, evaluate_fully, keeps
from optimise.search.goals import LEAST_GAIN, Goals
from optimise.study.space import Space

Rows = NDArray[np.intp]
Mask = NDArray[np.bool_]

MOST_CHANGES = 3
"""Parts of the largest bundle that is looked for."""
MOST_BUNDLES = 400_000
"""Bundles of one size that are looked at; longer lists stop at smaller bundles."""


@dataclass(frozen=True)
class Steps:
    """Changes of one part and their bundles, all against the machine owned.

    Attributes
    ----------
    pace
        Key of the time that counts.
    owned
        Part index per category of the machine owned.
    base
        Its sheet, columns of shape (1,).
    rows, sheet
        Machine after each change of one part: part indices (n, categories), and results and limits.
    category
        Place of the category that each change is in, (n,).
    bundle
        For each change the row of ``bundles`` with its bundle, the change itself where it is good
        alone; -1 where there is none of up to ``largest`` parts.
    least_force
        Force asked for [N].
    bundles, bundle_sheet
        Machines of these bundles, each once.
    largest
        Parts of the largest bundle that was looked for.
    looked_at
        How many machines were worked out or ruled out by a limit.
    """

    pace: str
    owned: NDArray[np.intp]
    base: Sheet
    rows: Rows
    sheet: Sheet
    category: NDArray[np.intp]
    bundle: NDArray[np.intp]
    bundles: Rows
    bundle_sheet: Sheet
    least_force: float
    largest: int
    looked_at: int

    @property
    def good_alone(self) -> Mask:
        """Changes that are good without any other."""
        quicker = self.sheet.results[self.pace] < self.base_time - LEAST_GAIN
        good: Mask = self.sheet.feasible & quicker & self.strong
        return good

    @property
    def strong(self) -> Mask:
        """Changes after which the machine has the force asked for."""
        strong: Mask = self.sheet.results["force_N"] >= self.least_force
        return strong

    @property
    def base_time(self) -> float:
        """Time that counts of the machine owned [s]."""
        return float(self.base.results[self.pace][0])


def changes_of(owned: Sequence[int] | NDArray[np.intp], sizes: Sequence[int], count: int) -> Rows:
    """Every machine that differs from the one owned in ``count`` categories, (n, categories)."""
    start = np.asarray(owned, dtype=np.intp)
    found = [np.zeros((0, len(sizes)), dtype=np.intp)]
    for places in combinations(range(len(sizes)), count):
        others = [np.delete(np.arange(sizes[place]), start[place]) for place in places]
        grid = np.stack([axis.ravel() for axis in np.meshgrid(*others, indexing="ij")], axis=1)
        rows = np.repeat(start[None, :], len(grid), axis=0)
        rows[:, places] = grid
        found.append(rows)
    return np.concatenate(found)


def _count(owned: NDArray[np.intp], sizes: Sequence[int], count: int) -> int:
    """Number of rows of :func:`changes_of`: an elementary symmetric sum of the other parts."""
    sums = [1] + [0] * count
    for size in sizes:
        for order in range(count, 0, -1):
            sums[order] += sums[order - 1] * (size - 1)
    return sums[count]


def _feasible(
    space: Space, setting: Setting, levels: WorkLevels, goals: Goals, rows: Rows
) -> Iterator[tuple[Rows, Array]]:
    """Rows that keep every hard limit, with their objectives; limits without a solve first."""
    plain = tuple(
        limit for limit in limits_of(setting) if limit.kind == "hard" and not limit.solved
    )
    for start in range(0, len(rows), CHUNK):
        some = rows[start : start + CHUNK]
        with np.errstate(all="ignore"):
            kept = keeps(Evaluation(space.machine(some), setting, levels), plain)
        some = some[np.broadcast_to(kept, (len(some),))]
        if len(some):
            points, feasible = evaluate_fully(space.machine(some), setting, levels, goals)
            yield some[feasible], points[feasible]


@dataclass
class _Best:
    """Cheapest bundle of each change found so far."""

    rows: Rows
    outlay: Array

    def offer(self, change: NDArray[np.intp], rows: Rows, outlay: Array) -> None:
        """Take cheaper bundles in; the first of equals stays."""
        order = np.lexsort((np.arange(len(change)), outlay, change))
        _, first = np.unique(change[order], return_index=True)
        best = order[first]
        best = best[outlay[best] < self.outlay[change[best]]]
        self.rows[change[best]] = rows[best]
        self.outlay[change[best]] = outlay[best]


@dataclass(frozen=True)
class _Good:
    """Good machines of one size of bundle: codes, rising, and their times."""

    codes: NDArray[np.int64]
    times: Array

    def times_of(self, codes: NDArray[np.int64]) -> Array:
        """Time of machines by code; infinite where one is not good."""
        if len(self.codes) == 0:
            return np.full(len(codes), np.inf)
        place = np.minimum(np.searchsorted(self.codes, codes), len(self.codes) - 1)
        return np.where(self.codes[place] == codes, self.times[place], np.inf)


def find_steps(
    space: Space,
    setting: Setting,
    owned: Sequence[int],
    least_force: float | None,
    goals: Goals,
) -> Steps:
    """Every change of one part of the machine owned, each with its bundle.

    Parameters
    ----------
    space
        Price lists; the parts owned stand in them.
    owned
        Part index per category of the machine owned.
    least_force
        Force asked for [N]; that of the machine owned where it is None.
    goals
        Time that counts, force and outlay.
    """
    pace = goals.results[0].key
    levels = levels_of(setting)
    start = np.asarray(owned, dtype=np.intp)
    base = sheet_of(space.machine(start[None, :]), setting)
    before = float(base.results[pace][0])
    least = float(base.results["force_N"][0]) if least_force is None else least_force
    rows = changes_of(start, space.sizes, 1)
    sheet = sheet_of(space.machine(rows), setting)
    offset = np.concatenate([[0], np.cumsum(np.asarray(space.sizes) - 1)])[:-1]
    strides = np.concatenate([np.cumprod(space.sizes[::-1], dtype=np.int64)[::-1][1:], [1]])

    best = _Best(np.zeros((len(rows), len(start)), dtype=np.intp), np.full(len(rows), np.inf))
    smaller = _Good(np.array([start @ strides]), np.array([before]))
    largest, looked_at = 0, 0
    for count in range(1, MOST_CHANGES + 1):
        if count > 1 and (
            np.isfinite(best.outlay).all() or _count(start, space.sizes, count) > MOST_BUNDLES
        ):
            break
        settled = np.isfinite(best.outlay)
        largest = count
        bundles = changes_of(start, space.sizes, count)
        looked_at += len(bundles)
        found = [
            (some[good], points[good])
            for some, points in _feasible(space, setting, levels, goals, bundles)
            for good in [(points[:, 0] < before - LEAST_GAIN) & (-points[:, 1] >= least)]
        ]
        some = np.concatenate([pair[0] for pair in found] or [bundles[:0]])
        points = np.concatenate([pair[1] for pair in found] or [np.zeros((0, 3))])
        codes = some @ strides
        where, place = np.nonzero(some != start)
        part = some[where, place]
        change = offset[place] + part - (part > start[place])
        without = smaller.times_of(codes[where] - (part - start[place]) * strides[place])
        wanted = ~settled[change] & (points[where, 0] < without - LEAST_GAIN)
        best.offer(change[wanted], some[where[wanted]], points[where[wanted], 2])
        order = np.argsort(codes, kind="stable")
        smaller = _Good(codes[order], points[order, 0])
    known = np.isfinite(best.outlay)
    bundles, back = np.unique(best.rows[known], axis=0, return_inverse=True)
    bundle = np.full(len(rows), -1, dtype=np.intp)
    bundle[known] = back.reshape(-1)
    return Steps(
        pace=pace,
        owned=start,
        base=base,
        rows=rows,
        sheet=sheet,
        category=np.argmax(rows != start, axis=1),
        bundle=bundle,
        bundles=bundles,
        bundle_sheet=sheet_of(space.machine(bundles), setting),
        least_force=least,
        largest=largest,
        looked_at=looked_at,
    )
