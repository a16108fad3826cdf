"""Machines found so far, non-dominated, and asked which bounds they beat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array

SLACK = 1e-9
"""Relative error that a bound on a solved objective may have from the flow solve."""
CELLS = 4_000_000
"""Most comparisons of bounds with points at a time."""


def not_dominated(points: Array) -> NDArray[np.bool_]:
    """Mask of the points, smaller is better, that no other point beats; equal points stay.

    Parameters
    ----------
    points
        Shape (n, objectives), finite.
    """
    if len(points) == 0:
        return np.zeros(0, dtype=np.bool_)
    import moocore  # noqa: PLC0415

    mask: NDArray[np.bool_] = moocore.is_nondominated(points, maximise=False, keep_weakly=True)
    return mask


class Archive:
    """Non-dominated points, smaller is better in all, money last; asked which bounds are beaten.

    Parameters
    ----------
    solved
        For each objective but the money, whether its bounds may err by :data:`SLACK`.
    """

    def __init__(self, solved: Sequence[bool]) -> None:
        self._solved = np.array(solved, dtype=np.bool_)
        self.points: Array = np.zeros((0, len(solved) + 1))
        self._stairs = (
            _Stairs(int(self._solved.argmax())) if list(solved).count(True) == 1 else None
        )

    def add(self, points: Array) -> None:
        """Take points of shape (n, objectives) in and drop what is beaten."""
        both = np.unique(np.concatenate([self.points, points]), axis=0)
        self.points = both[not_dominated(both)]
        if self._stairs is not None:
            self._stairs.build(self.points)

    def beats(self, bounds: Array, money: Array) -> NDArray[np.bool_]:
        """Mask of the bounds that some point beats for certain.

        It is better by more than the slack in every objective that is solved and no worse in the
        rest; where none is solved it is better in one at least.
        """
        if len(self.points) == 0:
            return np.zeros(len(bounds), dtype=np.bool_)
        bounds = np.where(self._solved, bounds - SLACK * np.abs(bounds), bounds)
        if self._stairs is not None:
            return self._stairs.beat(bounds, money)
        beaten = np.zeros(len(bounds), dtype=np.bool_)
        size = max(1, CELLS // self.points.size)
        for start in range(0, len(bounds), size):
            some = slice(start, start + size)
            beaten[some] = self._beat(bounds[some], money[some])
        return beaten

    def _beat(self, bounds: Array, money: Array) -> NDArray[np.bool_]:
        points, known = self.points[None, :, :-1], bounds[:, None, :]
        costs, asked = self.points[None, :, -1], money[:, None]
        fine = np.where(self._solved, points < known, points <= known).all(axis=2) & (
            costs <= asked
        )
        if not self._solved.any():
            fine = fine & ((points < known).any(axis=2) | (costs < asked))
        return np.asarray(fine.any(axis=1))


class _Stairs:
    """Points with one solved objective: a staircase of it against money per vector of the rest."""

    def __init__(self, place: int) -> None:
        self._place = place

    def build(self, points: Array) -> None:
        """Staircases anew."""
        others = np.delete(points[:, :-1], self._place, axis=1)
        self._rest = np.unique(others, axis=0) if others.size else others[:1]
        self._solved: list[Array] = []
        self._money: list[Array] = []
        for rest in self._rest:
            strong = points[(others <= rest).all(axis=1)]
            order = np.lexsort((strong[:, -1], strong[:, self._place]))
            self._solved.append(strong[order, self._place])
            self._money.append(np.minimum.accumulate(strong[order, -1]))

    def beat(self, bounds: Array, money: Array) -> NDArray[np.bool_]:
        """Mask of the bounds, slack taken off, that a staircase lies under."""
        beaten = np.zeros(len(bounds), dtype=np.bool_)
        others = np.delete(bounds, self._place, axis=1)
        left = np.ones(len(bounds), dtype=np.bool_)
        stairs = zip(self._rest[::-1], self._solved[::-1], self._money[::-1], strict=True)
        for rest, solved, least in stairs:
            here = np.flatnonzero((rest <= others).all(axis=1) & left)
            place = np.searchsorted(solved, bounds[here, self._place], side="left") - 1
            some = place >= 0
            beaten[here[some]] = least[place[some]] <= money[here[some]]
            # With one objective in the rest, later staircases hold less than this one.
            left[here] = ~beaten[here] & (others.shape[1] > 1)
        return beaten
